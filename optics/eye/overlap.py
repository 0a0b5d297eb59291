"""The overlap integral: a pupil laid over itself, shifted by wavelength times frequency.

OTF(f) = integral of A(x + s/2) A(x - s/2) exp(-2 pi i [W(x + s/2) - W(x - s/2)] / wavelength).
For a polynomial wavefront to order six the difference is exactly s.grad W + (s.grad)^3 W / 24
+ (s.grad)^5 W / 1920: a product of one table over shifts and one over pupil points.
"""

import math

import numpy as np

from optics.eye.wavefront import Wavefront
from optics.eye.zernike import derivative, evaluate
from optics.units import DEG_PER_RAD, ComplexArray, FloatArray

CHUNK = 200_000  # products at once: small enough to stay near the processor
LEAST_SAMPLES, MOST_SAMPLES = 40, 96


def overlap_values(
    wavefront: Wavefront,
    path: FloatArray,
    wavelength_nm: float,
    x_cpd: FloatArray,
    y_cpd: FloatArray,
    cycles_kept: float,
) -> tuple[ComplexArray, float]:
    """Return the (unscaled) transfer at frequencies (n,), and the pupil's open area in mm^2.

    ``path`` is the wavefront's polynomial at this wavelength. Frequencies at which the blur
    spans more than ``cycles_kept`` cycles are left at zero.
    """
    x_mm, y_mm, step_mm = _pupil_points(wavefront, cycles_kept)
    through = wavefront.inside(x_mm, y_mm, step_mm) * wavefront.apodisation(x_mm, y_mm) ** 2
    edge_mm2 = float(through.sum()) * step_mm**2
    if edge_mm2 <= 0.0:
        return np.zeros(len(x_cpd), np.complex128), 0.0
    shift_x = x_cpd * (wavelength_nm * 1e-6 * DEG_PER_RAD)
    shift_y = y_cpd * (wavelength_nm * 1e-6 * DEG_PER_RAD)
    slopes = np.stack([evaluate(derivative(path, *by), x_mm, y_mm) for by in ((1, 0), (0, 1))])
    lit = wavefront.inside(x_mm, y_mm, step_mm) >= 0.5
    spread = np.ptp(slopes[:, lit], axis=1) if lit.any() else np.zeros(2)
    passing = _passing(slopes[:, lit], spread, x_cpd, y_cpd, cycles_kept)
    values = np.zeros(len(x_cpd), np.complex128)
    chosen = np.flatnonzero(passing)
    by_point = _point_table(path, x_mm, y_mm) * (-2e3 * math.pi / wavelength_nm)
    lit_twice = np.exp(-2.0 * wavefront.amplitude_decay * (x_mm**2 + y_mm**2)).astype(np.float32)
    x_single, y_single = x_mm.astype(np.float32), y_mm.astype(np.float32)
    per_chunk = max(1, CHUNK // len(x_mm))
    for start in range(0, len(chosen), per_chunk):
        some = chosen[start : start + per_chunk]
        sx, sy = (shift[some].astype(np.float32)[:, np.newaxis] for shift in (shift_x, shift_y))
        phase = _shift_table(sx[:, 0], sy[:, 0]) @ by_point.astype(np.float32)
        both = wavefront.inside_both(x_single, y_single, sx, sy, step_mm) * lit_twice
        if wavefront.media.opacities:
            both = both * wavefront.clear_both(x_single, y_single, sx, sy)
        weight = np.exp(-wavefront.amplitude_decay / 2.0 * (sx**2 + sy**2))[:, 0]
        values[some] = weight * np.einsum("fn,fn->f", both, np.cos(phase))
        values[some] += 1j * weight * np.einsum("fn,fn->f", both, np.sin(phase))
    scaled: ComplexArray = values / values[np.argmin(x_cpd**2 + y_cpd**2)].real
    return scaled, edge_mm2


def _pupil_points(wavefront: Wavefront, cycles: float) -> tuple[FloatArray, FloatArray, float]:
    reach_mm = wavefront.radius_mm()
    samples = min(max(LEAST_SAMPLES, math.ceil(4.0 * cycles)), MOST_SAMPLES)
    step_mm = 2.0 * reach_mm / samples
    axis = (np.arange(samples + 2) - (samples + 1) / 2.0) * step_mm
    middle_x, middle_y = wavefront.centre_mm()
    x, y = (part.ravel() for part in np.meshgrid(middle_x + axis, middle_y + axis))
    keep = wavefront.inside(x, y, step_mm) > 0.0
    return x[keep], y[keep], step_mm


def _passing(
    slopes: FloatArray, spread: FloatArray, x_cpd: FloatArray, y_cpd: FloatArray, cycles: float
) -> np.ndarray:
    """Return which frequencies see fewer cycles than that across the point's image."""
    if spread.max(initial=0.0) == 0.0:
        return np.ones(len(x_cpd), bool)
    outline = slopes[:, :: max(1, slopes.shape[1] // 200)] * 1e-3 * DEG_PER_RAD
    along = np.stack([x_cpd, y_cpd], axis=1) @ outline
    keep: np.ndarray = np.ptp(along, axis=1) <= cycles
    return keep


def _shift_table(sx: FloatArray, sy: FloatArray) -> FloatArray:
    columns = [
        math.comb(order, j) / size * sx ** (order - j) * sy**j
        for order, size in ((1, 1.0), (3, 24.0), (5, 1920.0))
        for j in range(order + 1)
    ]
    return np.stack(columns, axis=1)


def _point_table(path: FloatArray, x_mm: FloatArray, y_mm: FloatArray) -> FloatArray:
    rows = [
        evaluate(derivative(path, order - j, j), x_mm, y_mm)
        for order in (1, 3, 5)
        for j in range(order + 1)
    ]
    return np.stack(rows)
