"""Wavefront to optical transfer function, complex and polychromatic.

The pupil is sampled for each wavelength, point images are summed on one field of angles, and
transformed back where they are read. Ordinary errors: pupil steps proportional to the
wavelength. Large ones: the pupil's shadow, since the mean defocus need not be sampled.
(Goodman, Introduction to Fourier Optics, ch. 4 and 6, from memory.)
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum

import numpy as np

from optics.eye.chromatic import Spectrum, chromatic_defocus_d, white_light
from optics.eye.grid import Field, TransferFunction
from optics.eye.lattice import point_image, pupil_lattice, shadow
from optics.eye.rays import Rays, rays_of
from optics.eye.wavefront import Wavefront, defocus_path
from optics.units import DEG_PER_RAD, FloatArray

LIMIT_CPD = 60.0  # beyond it sight has no neural transfer
MIDDLE_NM, SHORT_NM = 555.0, 510.0
COLOUR_D = 0.6  # by which the wavelengths that matter differ
LADDER = 2.0**0.125  # from one field to the next, so that readings can be kept
CORE, HALO = 0.25, 0.85  # of the margin: where the point's own image surely ends, where it has


@dataclass(frozen=True, slots=True, kw_only=True)
class _Accuracy:
    wavelengths: int
    margin: float  # of the field about the blur, in units of wavelength / pupil
    shadow: float  # samples over a pupil without its defocus
    cycles: float  # of blur: what passes beyond them is small
    folded: float  # cycles beyond which it is small even when folded from all sides


class Accuracy(Enum):
    """How finely the transfer function is computed: for a search or for what is shown."""

    QUICK = _Accuracy(wavelengths=3, margin=40.0, shadow=80.0, cycles=15.0, folded=25.0)
    FINE = _Accuracy(wavelengths=7, margin=80.0, shadow=128.0, cycles=27.0, folded=90.0)


def transfer_function(
    wavefront: Wavefront, accuracy: Accuracy = Accuracy.FINE, spectrum: Spectrum | None = None
) -> TransferFunction | None:
    """Return the transfer function of a pupil, or None where no light passes."""
    rays = rays_of(wavefront)
    if rays is None:
        return None
    light = spectrum or white_light(accuracy.value.wavelengths)
    field, limit_cpd = field_for(rays, accuracy)
    spread = shadow_samples(rays, field, accuracy)
    across = 2.0 * rays.radius_mm / (MIDDLE_NM * 1e-6 * field.step_cpd * DEG_PER_RAD)
    if spread and across > SHADOW_GAIN * spread:
        return shadow_form(wavefront, light, field, limit_cpd, rays.mean_d, spread)
    return sampled_form(wavefront, light, field, limit_cpd)


SHADOW_GAIN = 1.25  # a shadow takes two transforms, so that it pays from here on


def field_for(rays: Rays, accuracy: Accuracy) -> tuple[Field, float]:
    """Return the field that holds a point's image, and the frequency to which it is true.

    The field is wider than the blur by a margin, within which lies most of what a hard edge
    throws far. The image is sampled often enough that only what passes at many cycles of the
    narrowest blur is taken for lower frequencies.
    """
    fine = accuracy.value
    margin_deg = fine.margin * MIDDLE_NM * 1e-6 / rays.opening_mm * DEG_PER_RAD
    width_deg = _on_ladder(rays.width_deg + margin_deg)
    cutoff_cpd = 2.0 * rays.radius_mm / (SHORT_NM * 1e-6) / DEG_PER_RAD
    one_cycle_cpd = _on_ladder(1.0 / max(rays.sharp_deg, 1e-6))
    limit_cpd = min(LIMIT_CPD, fine.cycles * one_cycle_cpd)
    highest_cpd = min(cutoff_cpd, fine.folded * one_cycle_cpd)
    field = Field(
        size=2 * math.ceil((limit_cpd + highest_cpd) * width_deg / 2.0) + 1,
        step_cpd=1.0 / width_deg,
        core=round(1.0 - (1.0 - CORE) * margin_deg / width_deg, 2),
        halo=round(1.0 - (1.0 - HALO) * margin_deg / width_deg, 2),
    )
    return field, limit_cpd


def _on_ladder(value: float) -> float:
    return float(LADDER ** math.ceil(math.log(value) / math.log(LADDER) - 1e-9))


def shadow_samples(rays: Rays, field: Field, accuracy: Accuracy) -> int:
    """Return the samples over a field by the pupil's shadow, odd; 0 where there is none."""
    if abs(rays.mean_d) < 2.0 * COLOUR_D:
        return 0
    width_mm = 2.0 * rays.radius_mm
    rest_mrad = rays.rest_mrad + COLOUR_D * width_mm
    samples = width_mm * (
        rest_mrad * 1e-3 / (SHORT_NM * 1e-6) + accuracy.value.shadow / rays.opening_mm
    )
    return 2 * math.ceil(_shadow_mm(field, rays.mean_d) / width_mm * samples / 2.0) + 1


def _shadow_mm(field: Field, mean_d: float) -> float:
    """Return the width of a field where the pupil's shadow lies in it."""
    return 1e3 / (field.step_cpd * DEG_PER_RAD * abs(mean_d))


def sampled_form(
    wavefront: Wavefront, light: Spectrum, field: Field, limit_cpd: float
) -> TransferFunction | None:
    """Return the transfer function by sampling the pupil as finely as the field is wide."""

    def image(wavelength_nm: float) -> tuple[FloatArray, float]:
        path = wavefront.path + defocus_path((chromatic_defocus_d(wavelength_nm), 0.0, 0.0))
        step_mm = wavelength_nm * 1e-6 * field.step_cpd * DEG_PER_RAD
        pupil, lit_mm2 = pupil_lattice(wavefront, path, wavelength_nm, step_mm)
        parts = point_image(pupil, field.size)
        # half-covered samples at the edge count as squares in the unshifted overlap alone;
        # an even veil puts back what that loses
        parts *= np.float32(step_mm**2 / max(lit_mm2, 1e-12) / field.size**2)
        parts[0] += np.float32((1.0 - field.sum_of(parts[0])) / field.size**2)
        return parts, lit_mm2

    return _summed(image, light, field, limit_cpd)


def shadow_form(
    wavefront: Wavefront,
    light: Spectrum,
    field: Field,
    limit_cpd: float,
    mean_d: float,
    spread: int,
) -> TransferFunction | None:
    """Return the transfer function by the pupil's shadow, ``spread`` samples over the field."""
    width_mm = _shadow_mm(field, mean_d)

    def image(wavelength_nm: float) -> tuple[FloatArray, float]:
        rest_d = chromatic_defocus_d(wavelength_nm) - mean_d
        path = wavefront.path + defocus_path((rest_d, 0.0, 0.0))
        pupil, lit_mm2 = pupil_lattice(wavefront, path, wavelength_nm, width_mm / spread)
        chirp = math.pi * wavelength_nm * 1e-3 / (mean_d * width_mm**2)
        parts = shadow(pupil, chirp, spread, field.size)
        parts /= np.float32(max(field.sum_of(parts[0]), 1e-12))
        return parts, lit_mm2

    return _summed(image, light, field, limit_cpd)


def _summed(
    image: Callable[[float], tuple[FloatArray, float]],
    light: Spectrum,
    field: Field,
    limit_cpd: float,
) -> TransferFunction | None:
    """Return the transfer function of the weighted sum of the wavelengths' images."""
    total = np.zeros((4, field.size // 2 + 1, field.size // 2 + 1), np.float32)
    open_mm2 = 0.0
    for wavelength_nm, weight in zip(light.wavelengths_nm, light.weights, strict=True):
        parts, lit_mm2 = image(wavelength_nm)
        if lit_mm2 <= 0.0:
            return None
        parts *= np.float32(weight)
        total += parts
        open_mm2 += weight * lit_mm2
    total.setflags(write=False)
    return TransferFunction(field=field, parts=total, limit_cpd=limit_cpd, open_mm2=open_mm2)
