"""Clarity: how clear a detail of a size looks, for comparing views and for focusing.

Every orientation counts: strokes made sharp in one direction cannot buy off those blurred at
right angles, as contrast energy would let them. d' is the match of the image with a memory
that is itself partly blurred, in units of the comparison noise.
"""

from functools import lru_cache

import numpy as np

from optics.eye.grid import TransferFunction
from optics.eye.nerve import ORDINARY, Nerve
from optics.sight.details import LETTERS, Detail, contrast_power
from optics.sight.letters import STEP_CYCLES, sloan_spectra
from optics.sight.neural import neural_transfer
from optics.sight.orientation import LEAST, sectors, shares_of
from optics.sight.sampling import Sizes, at_letter_sizes
from optics.units import FloatArray, letter_height_deg

MEMORY_SHARE, MEMORY_EXPONENT = 0.2, 0.3
JOINT_EXPONENT = 0.4  # below 1: the worst orientations weigh most
THRESHOLD = 1.62  # d' at which 55 of 100 letters out of ten are named
# makes d' on the line of its best acuity equal to the threshold, in the median of fifty drawn eyes
NOISE = 0.077
# of clarity: about the least with which blur is noticed as late as published (0.30 +- 0.10 D at
# 4 mm, Atchison 2005)
COMPARISON_SD = 0.117


def clarity(
    transfer: TransferFunction,
    sizes_logmar: Sizes,
    nerve: Nerve = ORDINARY,
    detail: Detail = LETTERS,
) -> FloatArray:
    """Return the clarity of a detail at each size, shape (sizes,); it flattens below threshold.

    A size is that of letters of the same stroke.
    """
    ratio = discriminability(transfer, sizes_logmar, nerve, detail) / THRESHOLD
    flattened: FloatArray = np.log1p(ratio**3) / 3.0
    return flattened


def discriminability(
    transfer: TransferFunction,
    sizes_logmar: Sizes,
    nerve: Nerve = ORDINARY,
    detail: Detail = LETTERS,
) -> FloatArray:
    """Return d' of a detail at each size, shape (sizes,)."""
    seen = at_letter_sizes(transfer, sizes_logmar)
    upright = np.maximum(seen.real, 0.0)
    memory = (
        MEMORY_SHARE * np.abs(seen) ** MEMORY_EXPONENT
        + (1.0 - MEMORY_SHARE) * upright**MEMORY_EXPONENT
    )
    contrast, heights = _contrast(sizes_logmar, nerve.loss, detail)
    exponent = 1.0 if detail.one_way else JOINT_EXPONENT
    shares = shares_of(contrast)
    matched = (contrast * memory * seen.real) @ sectors().T
    norm = np.sqrt(np.maximum((contrast * memory**2).sum(axis=1, keepdims=True), 1e-20))
    by_sector = np.maximum(matched, 0.0) / np.maximum(shares * norm, LEAST)
    joint = (shares * by_sector**exponent).sum(axis=1) ** (1.0 / exponent)
    seen_d: FloatArray = joint * heights * STEP_CYCLES / (NOISE * nerve.noise)
    return seen_d


@lru_cache(maxsize=128)
def _contrast(sizes_logmar: Sizes, loss: float, detail: Detail) -> tuple[FloatArray, FloatArray]:
    """Return a detail's contrast after the neural transfer (sizes, points), and heights."""
    letters = sloan_spectra()
    heights = np.array([letter_height_deg(size) for size in sizes_logmar])
    radius = np.hypot(letters.ux, letters.uy)
    neural = neural_transfer(radius / heights[:, np.newaxis], loss)
    return contrast_power(detail) * neural**2, heights
