"""Wavefront to optical transfer function, complex and polychromatic.

The pupil is sampled for each wavelength, point images are summed on one field of angles, and
transformed back where they are read. Ordinary errors: pupil steps proportional to the
wavelength. Large ones: the pupil's shadow, since the mean defocus need not be sampled. A streak
far wider than all that: the overlap integral at low frequencies.
(Goodman, Introduction to Fourier Optics, ch. 4 and 6, from memory.)
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import Enum
from functools import lru_cache

import numpy as np

from optics.eye.chromatic import Filters, Spectrum, chromatic_defocus_d, filtered_light
from optics.eye.grid import Field, TransferFunction
from optics.eye.lattice import from_values, point_image, pupil_lattice, shadow
from optics.eye.media import Media
from optics.eye.overlap import overlap_values
from optics.eye.rays import Rays, rays_of
from optics.eye.slit import along_samples, lattice_middle_mm
from optics.eye.wavefront import Wavefront, defocus_path
from optics.units import DEG_PER_RAD, FloatArray

LIMIT_CPD = 60.0  # beyond it sight has no neural transfer
MIDDLE_NM = 555.0
FAINT = 0.1  # wavelengths of a smaller share do not decide how finely is sampled
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

    QUICK = _Accuracy(wavelengths=3, margin=30.0, shadow=60.0, cycles=13.0, folded=20.0)
    FINE = _Accuracy(wavelengths=7, margin=80.0, shadow=128.0, cycles=27.0, folded=90.0)


def transfer_function(
    wavefront: Wavefront,
    accuracy: Accuracy = Accuracy.FINE,
    spectrum: Spectrum | None = None,
    *,
    filters: Filters = (),
) -> TransferFunction | None:
    """Return the transfer function of a pupil and its media, or None where no light passes.

    In a stated light, or in white light through filters.
    """
    light = spectrum or filtered_light(filters, accuracy.value.wavelengths)
    colour = colour_of(light)
    rays = rays_of(wavefront, colour.mean_d)
    if rays is None:
        return None
    field, limit_cpd = field_for(rays, colour, accuracy)
    if field.size > LARGEST_FIELD:
        few = spectrum or filtered_light(filters, FEW_WAVELENGTHS)
        return overlap_form(wavefront, few, field, limit_cpd)
    spread = shadow_samples(rays, colour, field, accuracy)
    across = 2.0 * rays.radius_mm / (MIDDLE_NM * 1e-6 * field.step_cpd * DEG_PER_RAD)
    gain = STRIP_GAIN if along_samples(wavefront) else SHADOW_GAIN
    if spread and across > gain * spread:
        return shadow_form(wavefront, light, field, limit_cpd, rays.mean_d, spread)
    return sampled_form(wavefront, light, field, limit_cpd)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Colour:
    """Of the wavelengths that matter in a light: mean defocus, deviation from it, the shortest."""

    mean_d: float
    apart_d: float
    shortest_nm: float


@lru_cache(maxsize=64)
def colour_of(light: Spectrum) -> _Colour:
    """Return what a light's wavelengths do to the image of a point."""
    each_d = [chromatic_defocus_d(wavelength_nm) for wavelength_nm in light.wavelengths_nm]
    mean_d = float(np.dot(each_d, light.weights))
    strong = [index for index, weight in enumerate(light.weights) if weight >= FAINT]
    return _Colour(
        mean_d=mean_d,
        apart_d=max(abs(each_d[index] - mean_d) for index in strong),
        shortest_nm=min(light.wavelengths_nm[index] for index in strong),
    )


LEAST_SHADOW_D = 1.0
SHADOW_GAIN = 1.25  # a shadow takes two transforms, so that it pays from here on
# later behind a slit along the samples: sampled is a strip, a shadow covers the field
STRIP_GAIN = 4.0


def field_for(rays: Rays, colour: _Colour, accuracy: Accuracy) -> tuple[Field, float]:
    """Return the field that holds a point's image, and the frequency to which it is true.

    The field is wider than the blur by a margin, within which lies most of what a hard edge
    throws far. The image is sampled often enough that only what passes at many cycles of the
    narrowest blur is taken for lower frequencies.
    """
    fine = accuracy.value
    margin_deg = fine.margin * MIDDLE_NM * 1e-6 / rays.opening_mm * DEG_PER_RAD
    width_deg = _on_ladder(rays.width_deg + margin_deg)
    cutoff_cpd = 2.0 * rays.radius_mm / (colour.shortest_nm * 1e-6) / DEG_PER_RAD
    one_cycle_cpd = _on_ladder(1.0 / max(rays.sharp_deg, 1e-6))
    limit_cpd = min(LIMIT_CPD, fine.cycles * one_cycle_cpd)
    highest_cpd = min(cutoff_cpd, fine.folded * one_cycle_cpd)
    core = round(1.0 - (1.0 - CORE) * margin_deg / width_deg, 2)
    field = Field(
        size=2 * math.ceil((limit_cpd + highest_cpd) * width_deg / 2.0) + 1,
        step_cpd=1.0 / width_deg,
        core=core,
        halo=max(round(1.0 - (1.0 - HALO) * margin_deg / width_deg, 2), core + 0.01),
    )
    return field, limit_cpd


def _on_ladder(value: float) -> float:
    return float(LADDER ** math.ceil(math.log(value) / math.log(LADDER) - 1e-9))


def shadow_samples(rays: Rays, colour: _Colour, field: Field, accuracy: Accuracy) -> int:
    """Return the samples over a field by the pupil's shadow, odd; 0 where there is none."""
    if abs(rays.mean_d) < max(2.0 * colour.apart_d, LEAST_SHADOW_D):
        return 0
    width_mm = 2.0 * rays.radius_mm
    rest_mrad = rays.rest_mrad + colour.apart_d * width_mm
    samples = width_mm * (
        rest_mrad * 1e-3 / (colour.shortest_nm * 1e-6) + accuracy.value.shadow / rays.opening_mm
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
        pupils, lit_mm2 = pupil_lattice(wavefront, path, wavelength_nm, step_mm)
        parts = _added([point_image(pupil, field.size) for pupil in pupils])
        return _veiled(parts, field, step_mm**2 / max(lit_mm2, 1e-12)), lit_mm2

    return _summed(image, wavefront.media, light, field, limit_cpd)


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
    step_mm = width_mm / spread
    middle_x, middle_y = lattice_middle_mm(wavefront, step_mm)  # the shadow lies about it

    def image(wavelength_nm: float) -> tuple[FloatArray, float]:
        rest_d = chromatic_defocus_d(wavelength_nm) - mean_d
        path = wavefront.path + defocus_path((rest_d, 0.0, 0.0))
        path[1, 0], path[0, 1] = path[1, 0] + mean_d * middle_x, path[0, 1] + mean_d * middle_y
        pupils, lit_mm2 = pupil_lattice(wavefront, path, wavelength_nm, step_mm)
        chirp = math.pi * wavelength_nm * 1e-3 / (mean_d * width_mm**2)
        parts = _added([shadow(pupil, chirp, spread, field.size) for pupil in pupils])
        scale = (step_mm / spread) ** 2 / max(lit_mm2, 1e-12)
        return _veiled(parts, field, scale), lit_mm2

    return _summed(image, wavefront.media, light, field, limit_cpd)


def _added(images: list[FloatArray]) -> FloatArray:
    for more in images[1:]:
        images[0] += more
    return images[0]


def _veiled(parts: FloatArray, field: Field, scale: float) -> FloatArray:
    """Return an image of samples ``scale`` of the light each, its sum made 1 by an even veil.

    Half-covered samples at a round edge count as squares in the unshifted overlap alone: the veil
    puts back what that loses.
    """
    parts *= np.float32(scale / field.size**2)
    parts[0] += np.float32((1.0 - field.sum_of(parts[0])) / field.size**2)
    return parts


LARGEST_FIELD = 1300  # samples; 12 D of astigmatism in a pupil of 6 mm, a rod far beyond
FEW_WAVELENGTHS = 3  # where blur is large, three stand for white light to 0.003
CYCLES_KEPT = 7.0  # of blur: beyond them the transfer of a plain disc stays below 0.016
MOST_STEPS = 46  # more would only let a streak through that a letter is too short to fill


def overlap_form(
    wavefront: Wavefront, light: Spectrum, field: Field, limit_cpd: float
) -> TransferFunction | None:
    """Return the transfer function by the overlap integral, at few steps of a wide field."""
    reach = min(math.ceil(limit_cpd / field.step_cpd), MOST_STEPS)
    near = replace(field, size=2 * reach + 1)
    steps = np.arange(-reach, reach + 1) * field.step_cpd
    x, y = (part.ravel() for part in np.meshgrid(steps[reach:], steps))

    def image(wavelength_nm: float) -> tuple[FloatArray, float]:
        path = wavefront.path + defocus_path((chromatic_defocus_d(wavelength_nm), 0.0, 0.0))
        values, lit_mm2 = overlap_values(wavefront, path, wavelength_nm, x, y, CYCLES_KEPT)
        return from_values(values.reshape(len(steps), reach + 1)), lit_mm2

    limit_cpd = min(limit_cpd, reach * field.step_cpd)
    return _summed(image, wavefront.media, light, near, limit_cpd)


def _summed(
    image: Callable[[float], tuple[FloatArray, float]],
    media: Media,
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
    return TransferFunction(
        field=field, parts=total, limit_cpd=limit_cpd, open_mm2=open_mm2, media=media
    )
