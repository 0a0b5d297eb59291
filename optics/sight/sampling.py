"""Reading a transfer function at the frequencies of letters of several sizes."""

from functools import lru_cache

import numpy as np

from optics.eye.grid import Reader, TransferFunction, make_reader
from optics.sight.letters import sloan_spectra
from optics.units import ComplexArray, letter_height_deg

Sizes = tuple[float, ...]


def at_letter_sizes(transfer: TransferFunction, sizes_logmar: Sizes) -> ComplexArray:
    """Return the transfer at u / s for each size, shape (sizes, points of the letters)."""
    reader = _reader(round(transfer.step_cpd, 12), transfer.reach, sizes_logmar)
    return reader.read(transfer).reshape(len(sizes_logmar), -1)


@lru_cache(maxsize=24)
def _reader(step_cpd: float, reach: int, sizes_logmar: Sizes) -> Reader:
    letters = sloan_spectra()
    per_degree = np.array([1.0 / letter_height_deg(size) for size in sizes_logmar])[:, np.newaxis]
    return make_reader(
        step_cpd, reach, (letters.ux * per_degree).ravel(), (letters.uy * per_degree).ravel()
    )
