"""Wavefront to optical transfer function, complex and polychromatic.

Two forms of the same physics. Ordinary errors: pupil sampled per wavelength (step
proportional to it, so that all wavelengths share one frequency grid), point images summed,
one transform back. Large errors: the overlap integral of the pupil with itself, shifted,
exp(-2 pi i [W(x + s/2) - W(x - s/2)] / wavelength), s = wavelength times frequency, of which
few low frequencies survive. (Goodman, Introduction to Fourier Optics, ch. 6, from memory.)
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import Enum
from functools import lru_cache

import numpy as np

from optics.eye.chromatic import Filters, Spectrum, chromatic_defocus_d, filtered_light
from optics.eye.grid import PAD, TransferFunction, fast_size
from optics.eye.media import Media
from optics.eye.overlap import overlap_values
from optics.eye.wavefront import Wavefront, defocus_path
from optics.eye.zernike import evaluate_on_grid
from optics.units import DEG_PER_RAD, ComplexArray, FloatArray

LIMIT_CPD = 60.0  # beyond it sight has no neural transfer
EASY_GRID, LARGEST_GRID = 640, 1024
EDGE_STEPS = 0.5  # width of the pupil's edge in samples; wider or harder ones were less true


@dataclass(frozen=True, slots=True, kw_only=True)
class _Accuracy:
    step_cpd: float
    wavelengths: int
    least_across: int  # samples over a pupil, so that its edge is smooth enough
    field_share: float  # of the field that a point's image may fill
    ladder: float  # from one grid to the next finer one


class Accuracy(Enum):
    """How finely the transfer function is computed: for a search or for what is shown."""

    QUICK = _Accuracy(
        step_cpd=1.8, wavelengths=3, least_across=40, field_share=1.0, ladder=math.sqrt(2.0)
    )
    FINE = _Accuracy(step_cpd=0.9, wavelengths=7, least_across=64, field_share=0.75, ladder=2.0)


def transfer_function(
    wavefront: Wavefront,
    accuracy: Accuracy = Accuracy.FINE,
    spectrum: Spectrum | None = None,
    *,
    filters: Filters = (),
) -> TransferFunction | None:
    """Return the transfer function of a pupil and its media, or None where no light passes.

    In a stated light, or in white light through filters with as many wavelengths as it needs.
    """
    through = _of_the_pupil(
        wavefront, accuracy, lambda count: spectrum or filtered_light(filters, count)
    )
    if through is None or wavefront.media.clear:
        return through
    left = _left_by_straylight(through.step_cpd, through.reach, wavefront.media)
    return replace(through, values=through.values * left)


@lru_cache(maxsize=16)
def _left_by_straylight(step_cpd: float, reach: int, media: Media) -> FloatArray:
    """Return the factor of straylight on a grid; what it spreads beyond the field stays within."""
    ups = np.arange(-reach - PAD, reach + PAD + 1) * step_cpd
    acrosses = np.arange(-PAD, reach + PAD + 1) * step_cpd
    return media.transfer(np.hypot(acrosses[np.newaxis, :], ups[:, np.newaxis])).astype(np.float32)


def _of_the_pupil(
    wavefront: Wavefront, accuracy: Accuracy, light_of: Callable[[int], Spectrum]
) -> TransferFunction | None:
    """Return the transfer function of a pupil alone, in light of so many wavelengths.

    The sampled form serves while the blur fits its field on a grid of a bearable size, the
    overlap integral beyond; a narrow focal line of a strong cylinder gets a larger grid, since
    its fine detail passes in one direction.
    """
    light = light_of(accuracy.value.wavelengths)
    widest, narrowest = _blur_deg(wavefront)
    bearable = EASY_GRID if narrowest * LIMIT_CPD > 2.0 * CYCLES_KEPT else LARGEST_GRID
    step_cpd, least = accuracy.value.step_cpd, accuracy.value.least_across
    share = accuracy.value.field_share
    while widest * step_cpd > share or _across(wavefront, step_cpd) < least:
        step_cpd /= accuracy.value.ladder
        if _samples(wavefront, step_cpd, light) > bearable:
            return overlap_form(wavefront, light_of(FEW_WAVELENGTHS))
    return sampled_form(wavefront, step_cpd, light)


FEW_WAVELENGTHS = 3  # where blur is large, three stand for white light to 0.003
CYCLES_KEPT = 7.0  # of blur: beyond them the transfer of a plain disc stays below 0.016
STEPS_PER_CYCLE = 3.5


def _blur_deg(wavefront: Wavefront) -> tuple[float, float]:
    """Return the widest and narrowest extent of a point's image by its rays, in degrees."""
    slopes = wavefront.slopes()
    angles = np.arange(12) * (math.pi / 12.0)
    along = slopes @ np.stack([np.cos(angles), np.sin(angles)])
    reach = np.maximum(np.ptp(along, axis=0), 1e-6) * 1e-3 * DEG_PER_RAD
    far = 2.0 * float(np.abs(slopes).max(initial=0.0)) * 1e-3 * DEG_PER_RAD
    return max(float(reach.max()), far), float(reach.min())


def _across(wavefront: Wavefront, step_cpd: float) -> float:
    return 2.0 * wavefront.radius_mm() / (570e-6 * step_cpd * DEG_PER_RAD)


def _samples(wavefront: Wavefront, step_cpd: float, light: Spectrum) -> int:
    shortest_mm = min(light.wavelengths_nm) * 1e-6
    cutoff_cpd = 2.0 * wavefront.radius_mm() / shortest_mm / DEG_PER_RAD
    return fast_size(math.ceil((LIMIT_CPD + min(cutoff_cpd, 1e4)) / step_cpd) + 2)


def sampled_form(wavefront: Wavefront, step_cpd: float, light: Spectrum) -> TransferFunction | None:
    """Return the transfer function by sampling the pupil, ``step_cpd`` / 2 between values.

    The grid is large enough that frequencies to 60 c/deg are free of wrapping, and the point
    image is padded to twice its field before it is transformed back.
    """
    size = _samples(wavefront, step_cpd, light)
    point = np.zeros((size, size), np.float32)
    open_mm2 = 0.0
    for wavelength_nm, weight in zip(light.wavelengths_nm, light.weights, strict=True):
        step_mm = wavelength_nm * 1e-6 * step_cpd * DEG_PER_RAD
        pupil, lit_mm2 = _pupil(wavefront, wavelength_nm, step_mm)
        if lit_mm2 <= 0.0:
            return None
        open_mm2 += weight * lit_mm2
        # only the rows that hold light are transformed first; where the block lies in the
        # grid changes the phase of the field, not its energy. The field stands transposed,
        # since transforms along rows are quicker, until all wavelengths are summed
        rows = np.fft.fft(pupil, size, axis=1)
        field = np.fft.fft(np.ascontiguousarray(rows.T), size, axis=1)
        energy = field.real**2 + field.imag**2
        energy *= np.float32(weight / (lit_mm2 / step_mm**2 * size**2))
        # half-covered samples at the edge count as squares in the unshifted overlap alone;
        # an even veil puts back what that loses, so that the transfer at zero is 1
        energy += np.float32((weight - float(energy.sum(dtype=np.float64))) / size**2)
        point += energy
    return _from_point_image(point.T, step_cpd / 2.0, open_mm2)


def _pupil(
    wavefront: Wavefront, wavelength_nm: float, step_mm: float
) -> tuple[ComplexArray, float]:
    """Return the pupil function on the square that holds it, and its lit area in mm^2."""
    half = math.ceil(wavefront.radius_mm() / step_mm) + 1
    steps = np.arange(-half, half + 1) * step_mm
    across, upward = ((middle + steps).astype(np.float32) for middle in wavefront.centre_mm())
    path = wavefront.path + defocus_path((chromatic_defocus_d(wavelength_nm), 0.0, 0.0))
    x, y = across[np.newaxis, :], upward[:, np.newaxis]
    apodised = wavefront.apodisation(x, y)
    amplitude = wavefront.inside(x, y, EDGE_STEPS * step_mm) * apodised
    phase = evaluate_on_grid(path * (2e3 * math.pi / wavelength_nm), across, upward)
    pupil = np.empty(phase.shape, np.complex64)
    np.multiply(np.cos(phase), amplitude, out=pupil.real)
    np.multiply(np.sin(phase), amplitude, out=pupil.imag)
    return pupil, float(np.vdot(amplitude, apodised)) * step_mm**2


def _from_point_image(point: FloatArray, step_cpd: float, open_mm2: float) -> TransferFunction:
    """Return the transfer function of a point image in Fourier order, padded twofold."""
    size = len(point)
    reach = min(math.floor(LIMIT_CPD / step_cpd), size - PAD - 1)
    centred = np.fft.fftshift(point)
    wide = np.fft.rfft(centred, 2 * size, axis=1)[:, : reach + PAD + 1]
    ups = np.arange(-reach - PAD, reach + PAD + 1)
    # the first column and row lie half a field from the centre, on both sides alike
    wide[:, 1::2] -= centred[:, :1]
    spectrum = np.fft.fft(wide, 2 * size, axis=0)[ups]
    spectrum[ups % 2 == 1] -= wide[0]
    # the point image was centred at size / 2: half a turn for every second step
    turn = np.array([1, 1j, -1, -1j], np.complex64)[ups % 4]
    values = np.empty((len(ups), reach + 1 + 2 * PAD), np.complex64)
    values[:, PAD:] = spectrum * turn[:, np.newaxis] * turn[np.newaxis, reach + PAD :]
    for left in range(1, PAD + 1):
        values[:, PAD - left] = values[::-1, PAD + left].conj()
    return TransferFunction(step_cpd=step_cpd, values=_ended(values, reach), open_mm2=open_mm2)


def _ended(values: ComplexArray, reach: int) -> ComplexArray:
    """Return the values scaled to 1 at zero and set to zero beyond the reach."""
    values = values / values[reach + PAD, PAD].real
    values[:PAD] = values[-PAD:] = 0.0
    values[:, -PAD:] = 0.0
    values.setflags(write=False)
    return values


def overlap_form(wavefront: Wavefront, light: Spectrum) -> TransferFunction | None:
    """Return the transfer function by the overlap integral, low frequencies only."""
    widest, narrowest = _blur_deg(wavefront)
    step_cpd = 1.0 / (STEPS_PER_CYCLE * widest)
    limit_cpd = min(LIMIT_CPD, CYCLES_KEPT / narrowest)
    reach = min(math.ceil(limit_cpd / step_cpd), 160)
    return overlap_on(wavefront, light, step_cpd, reach)


def overlap_on(
    wavefront: Wavefront, light: Spectrum, step_cpd: float, reach: int
) -> TransferFunction | None:
    """Return the overlap integral on a stated grid; None where no light passes."""
    ups = np.arange(-reach, reach + 1) * step_cpd
    acrosses = np.arange(0, reach + 1) * step_cpd
    x, y = (part.ravel() for part in np.meshgrid(acrosses, ups))
    total = np.zeros(len(x), np.complex128)
    open_mm2 = 0.0
    for wavelength_nm, weight in zip(light.wavelengths_nm, light.weights, strict=True):
        path = wavefront.path + defocus_path((chromatic_defocus_d(wavelength_nm), 0.0, 0.0))
        values, lit_mm2 = overlap_values(wavefront, path, wavelength_nm, x, y, CYCLES_KEPT)
        if lit_mm2 <= 0.0:
            return None
        total += weight * values
        open_mm2 += weight * lit_mm2
    whole = np.zeros((2 * reach + 1 + 2 * PAD, reach + 1 + 2 * PAD), np.complex64)
    whole[PAD:-PAD, PAD:-PAD] = total.reshape(2 * reach + 1, reach + 1)
    for left in range(1, PAD + 1):
        whole[:, PAD - left] = whole[::-1, PAD + left].conj()
    return TransferFunction(step_cpd=step_cpd, values=_ended(whole, reach), open_mm2=open_mm2)
