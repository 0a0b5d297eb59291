"""The clear media of an eye, and what is not clear in them: straylight and opacities.

Straylight is light that the media scatter out of the image: a wide skirt about every point,
given by the disability glare function of the CIE (CIE 135/1-1999, Vos & van den Berg; constants
as in public scripts). The neural transfer was fitted to young adults, whose own straylight is
thus in it; only what an eye scatters beyond theirs is added.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from optics.errors import EyeError
from optics.units import DEG_PER_RAD, FloatArray

YOUNG_Y = 25.0
PIGMENT = 0.5  # of the iris, CIE 135/1: 0 to 1.2; brown
SKIRT_DEG = 0.1  # where the skirt turns from flat to steep
WIDEST_DEG = 90.0
MOST_SCATTERED = 0.95
FARTHEST_MM = 6.0  # an opacity's middle from the pupil's; a case may state 4 mm across and up


@dataclass(frozen=True, slots=True, kw_only=True)
class Opacity:
    """A spot that holds light back: its middle in the pupil (facing frame), radius, transmittance.

    The edge is soft: the loss falls off as exp(-(r / radius)^4).
    """

    x_mm: float
    y_mm: float
    radius_mm: float
    transmittance: float

    def __post_init__(self) -> None:
        if not math.hypot(self.x_mm, self.y_mm) <= FARTHEST_MM:
            raise EyeError(
                f"an opacity's x_mm and y_mm must lie within {FARTHEST_MM:g} mm of the pupil's"
                f" centre, got {self.x_mm!r} and {self.y_mm!r}"
            )
        if not 0.1 <= self.radius_mm <= 5.0:
            raise EyeError(f"an opacity's radius_mm must be 0.1 to 5, got {self.radius_mm!r}")
        if not 0.0 <= self.transmittance <= 1.0:
            raise EyeError(f"an opacity's transmittance must be 0 to 1, got {self.transmittance!r}")

    def amplitude(self, x_mm: FloatArray, y_mm: FloatArray) -> FloatArray:
        """Return the amplitude that passes at points of the pupil, facing frame."""
        away = ((x_mm - self.x_mm) ** 2 + (y_mm - self.y_mm) ** 2) / self.radius_mm**2
        held_back = (1.0 - self.transmittance) * np.exp(np.maximum(-(away**2), -80.0))
        passed: FloatArray = np.sqrt(1.0 - held_back)
        return passed


@dataclass(frozen=True, slots=True, kw_only=True)
class Media:
    """The media of an eye: age, straylight as a multiple of the age's norm, opacities."""

    age_y: float = YOUNG_Y
    straylight_times: float = 1.0
    opacities: tuple[Opacity, ...] = ()

    @property
    def clear(self) -> bool:
        """Whether nothing is scattered beyond what a young eye scatters."""
        return self.age_y <= YOUNG_Y and self.straylight_times == 1.0

    @property
    def scattered(self) -> float:
        """The share of the light that the media scatter."""
        return min(_share(self.age_y) * self.straylight_times, MOST_SCATTERED)

    def amplitude(self, x_mm: FloatArray, y_mm: FloatArray) -> FloatArray:
        """Return the amplitude that the opacities let pass at points of the pupil, facing frame."""
        passed = np.ones(np.broadcast(x_mm, y_mm).shape, dtype=np.result_type(x_mm, y_mm))
        for opacity in self.opacities:
            passed = passed * opacity.amplitude(x_mm, y_mm)
        return passed

    def transfer(self, frequency_cpd: FloatArray) -> FloatArray:
        """Return the contrast that straylight beyond a young eye's leaves, any shape."""
        left: FloatArray = np.interp(frequency_cpd, *_left_table(self))
        return left

    def alone(self, frequency_cpd: FloatArray) -> FloatArray:
        """Return the contrast left by all straylight of these media, a young eye's included."""
        whole = self.scattered
        skirt = whole / _share(self.age_y) * _skirt_transfer(frequency_cpd, self.age_y)
        left: FloatArray = 1.0 - whole + np.minimum(skirt, whole)
        return left


@lru_cache(maxsize=64)
def _left_table(media: Media) -> tuple[FloatArray, FloatArray]:
    frequency_cpd = np.concatenate([[0.0], np.geomspace(1e-3, 100.0, 1200)])
    left = media.alone(frequency_cpd) / YOUNG.alone(frequency_cpd)
    return frequency_cpd, np.minimum(left, 1.0)


def straylight_log_s(age_y: float) -> float:
    """Return the mean straylight parameter of an age, log10 of deg^2 / sr.

    Normal eyes: 0.87 + log10(1 + (age / 65)^4) (Van den Berg et al., from memory).
    """
    return 0.87 + math.log10(1.0 + (age_y / 65.0) ** 4)


def glare_per_sr(angle_deg: FloatArray, age_y: float, pigment: float = PIGMENT) -> FloatArray:
    """Return the CIE point spread function of the whole eye in 1 / sr at angles from its centre.

    CIE 135/1-1999, the full form, normalised; ages in years, pigment 0 (black) to 1.2 (light blue).
    """
    aged = (age_y / 70.0) ** 4
    core = 9.2e6 / (1.0 + (angle_deg / 0.0046) ** 2) ** 1.5
    core = core + 1.5e5 / (1.0 + (angle_deg / 0.045) ** 2) ** 1.5
    whole = (1.0 - 0.08 * aged) * core + _skirt_per_sr(angle_deg, aged, pigment)
    spread: FloatArray = whole / _normal(aged, pigment)
    return spread


def _normal(aged: float, pigment: float) -> float:
    return 1.0 + pigment * (0.0417 + 0.055 * aged)


def _skirt_per_sr(angle_deg: FloatArray, aged: float, pigment: float) -> FloatArray:
    steep = 1.0 + (angle_deg / SKIRT_DEG) ** 2
    scatter = 400.0 / steep + 3e-8 * angle_deg**2
    wall = 1300.0 / steep**1.5 + 0.8 / steep**0.5
    skirt: FloatArray = (1.0 + 1.6 * aged) * (scatter + pigment * wall) + 2.5e-3 * pigment
    return skirt


@lru_cache(maxsize=256)
def _share(age_y: float) -> float:
    """Return the share of light in the skirt: its integral over the half sphere."""
    aged = (age_y / 70.0) ** 4
    edges = np.concatenate([[0.0], np.geomspace(1e-4, WIDEST_DEG, 4001)])
    middle = (edges[1:] + edges[:-1]) / 2.0
    ring_sr = 2.0 * math.pi * np.diff(-np.cos(edges / DEG_PER_RAD))
    skirt = _skirt_per_sr(middle, aged, PIGMENT) / _normal(aged, PIGMENT)
    return float(np.sum(skirt * ring_sr))


def _skirt_transfer(frequency_cpd: FloatArray, age_y: float) -> FloatArray:
    """Return the two-dimensional Fourier transform of the skirt, analytic, small angles.

    1 / (1 + (t/t0)^2) becomes 2 pi t0^2 K0(z), its power 3/2 2 pi t0^2 exp(-z), its power 1/2
    2 pi t0^2 exp(-z) / z, with z = 2 pi t0 f; what does not fall off lies at frequency zero.
    """
    aged = (age_y / 70.0) ** 4
    z = np.maximum(2.0 * math.pi * SKIRT_DEG * np.abs(frequency_cpd), 1e-4)
    parts = 400.0 * _bessel_k0(z) + PIGMENT * np.exp(-z) * (1300.0 + 0.8 / z)
    ring_sr = 2.0 * math.pi * (SKIRT_DEG / DEG_PER_RAD) ** 2
    transformed: FloatArray = (1.0 + 1.6 * aged) * ring_sr * parts / _normal(aged, PIGMENT)
    return transformed


def _bessel_k0(z: FloatArray) -> FloatArray:
    """Return K0(z) = integral of exp(-z cosh t) dt from 0, by the trapezium rule."""
    t = np.linspace(0.0, 12.0, 121)
    weight = np.full(t.shape, t[1])
    weight[0] /= 2.0
    falls = np.maximum(-np.multiply.outer(np.asarray(z, float), np.cosh(t)), -700.0)
    k0: FloatArray = np.exp(falls) @ weight
    return k0


YOUNG = Media()
