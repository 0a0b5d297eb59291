"""Reading a transfer function at the frequencies of letters of several sizes."""

from functools import lru_cache

import numpy as np

from optics.eye.grid import Field, TransferFunction, left_of
from optics.eye.media import Media
from optics.sight.letters import STEP_CYCLES, sloan_spectra
from optics.units import ComplexArray, FloatArray, letter_height_deg

Sizes = tuple[float, ...]


def at_letter_sizes(transfer: TransferFunction, sizes_logmar: Sizes) -> ComplexArray:
    """Return the transfer at u / s for each size, shape (sizes, points of the letters)."""
    waves = _waves(transfer.field, sizes_logmar)
    even, odd_x, odd_y, odd = transfer.in_parts(waves, waves)
    values = np.empty((*even.shape, 2, 2), np.float32)  # right or left, real or imaginary
    np.subtract(even, odd, out=values[..., 0, 0])
    np.add(even, odd, out=values[..., 1, 0])
    np.negative(odd_x + odd_y, out=values[..., 0, 1])
    np.subtract(odd_x, odd_y, out=values[..., 1, 1])
    flat = values.view(np.complex64).reshape(len(sizes_logmar), -1)
    seen: ComplexArray = flat.take(_places(), axis=1)
    seen *= _left(transfer.limit_cpd, transfer.media, sizes_logmar)
    return seen


@lru_cache(maxsize=24)
def _waves(field: Field, sizes_logmar: Sizes) -> tuple[FloatArray, FloatArray]:
    """Return a field's cosines and sines (sizes, steps of a letter, n)."""
    steps = np.arange(round(sloan_spectra().uy.max() / STEP_CYCLES) + 1) * STEP_CYCLES
    per_degree = np.array([1.0 / letter_height_deg(size) for size in sizes_logmar])
    cos, sin = field.waves(np.outer(per_degree, steps).ravel())
    shape = (len(sizes_logmar), len(steps), -1)
    return cos.reshape(shape), sin.reshape(shape)


@lru_cache(maxsize=24)
def _left(limit_cpd: float, media: Media, sizes_logmar: Sizes) -> FloatArray:
    letters = sloan_spectra()
    heights = np.array([letter_height_deg(size) for size in sizes_logmar])
    return left_of(np.hypot(letters.ux, letters.uy) / heights[:, np.newaxis], limit_cpd, media)


@lru_cache(maxsize=1)
def _places() -> np.ndarray:
    """Return where the letters' points lie in (upward, across, right or left), flat."""
    across, upward = sloan_spectra().steps
    steps = int(upward.max()) + 1
    places: np.ndarray = (upward * steps + np.abs(across)) * 2 + (across < 0)
    return places
