"""Clarity: how clear a detail of a size looks, for comparing views and for focusing.

d' is the reader's own match of the image with the sharp detail, laid where it fits, in units of
the comparison noise. Every orientation counts: strokes made sharp in one direction cannot buy
off those blurred at right angles, as a plain sum would let them.
"""

from functools import lru_cache

import numpy as np

from optics.eye.grid import TransferFunction
from optics.eye.nerve import ORDINARY, Nerve
from optics.sight.details import LETTERS, Detail, contrast_power
from optics.sight.laying import fit_of, laid, reading_noise
from optics.sight.letters import sloan_spectra
from optics.sight.neural import neural_transfer
from optics.sight.orientation import part_taken, shares_of
from optics.sight.sampling import Sizes, at_letter_sizes
from optics.units import FloatArray, letter_height_deg

# makes d' on the line of its best acuity 1.62, at which 55 of 100 letters out of ten are named, in
# the median of fifty drawn eyes
NOISE = 0.0749
# d' at which half of ten letters are named: with less a loss is hardly noticed
KNEE = 1.475
# of clarity: about the least with which blur is noticed as late as published (0.30 +- 0.10 D at
# 4 mm, Atchison 2005)
COMPARISON_SD = 0.142


def clarity(
    transfer: TransferFunction,
    sizes_logmar: Sizes,
    nerve: Nerve = ORDINARY,
    detail: Detail = LETTERS,
) -> FloatArray:
    """Return the clarity of a detail at each size, shape (sizes,); it flattens below threshold.

    A size is that of letters of the same stroke.
    """
    ratio = discriminability(transfer, sizes_logmar, nerve, detail) / KNEE
    flattened: FloatArray = np.log1p(ratio**3) / 3.0
    return flattened


def discriminability(
    transfer: TransferFunction,
    sizes_logmar: Sizes,
    nerve: Nerve = ORDINARY,
    detail: Detail = LETTERS,
) -> FloatArray:
    """Return d' of a detail at each size, shape (sizes,)."""
    fit, shares = _sharp(sizes_logmar, nerve.loss, detail)
    seen = at_letter_sizes(transfer, sizes_logmar)
    moved = laid(seen, fit, reading_noise(transfer, nerve))
    matched = np.maximum((fit * moved.real).sum(axis=1, dtype=np.float64), 0.0)
    if not detail.one_way:
        matched = matched * part_taken(shares, fit, seen)
    seen_d: FloatArray = matched / (NOISE * nerve.noise)
    return seen_d


@lru_cache(maxsize=128)
def _sharp(sizes_logmar: Sizes, loss: float, detail: Detail) -> tuple[FloatArray, FloatArray]:
    """Return a detail's weights (sizes, points), and its orientations' shares (sizes, sectors)."""
    letters = sloan_spectra()
    heights = np.array([letter_height_deg(size) for size in sizes_logmar])
    radius = np.hypot(letters.ux, letters.uy)
    neural = neural_transfer(radius / heights[:, np.newaxis], loss)
    contrast = contrast_power(detail) * neural**2
    return fit_of(contrast, heights), shares_of(contrast)
