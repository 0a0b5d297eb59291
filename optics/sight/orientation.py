"""How evenly what is seen of a detail is spread over the orientations of its strokes."""

import math
from functools import lru_cache

import numpy as np

from optics.sight.letters import sloan_spectra
from optics.units import ComplexArray, FloatArray

SECTORS = 6
LEAST = 1e-60


def part_taken(shares: FloatArray, contrast: FloatArray, seen: ComplexArray) -> FloatArray:
    """Return how large a part of the orientations takes part in what is seen, (sizes,), 0 to 1.

    ``shares`` (sizes, sectors) are those of the sharp detail, ``contrast`` (sizes, points) its
    power in any unit, ``seen`` (sizes, points) the transfers: what counts is the contrast energy
    that is left of each orientation. 1 where all are left alike, a third where a third is left
    and nothing of the others. (Participation ratio: Bell & Dean, Discuss Faraday Soc
    1970;50:55-61, from memory.)
    """
    energy = (contrast * (seen.real**2 + seen.imag**2)) @ sectors().T
    evenly = (energy**2 / np.maximum(shares, LEAST)).sum(axis=-1)
    part: FloatArray = energy.sum(axis=-1) ** 2 / np.maximum(evenly, LEAST)
    return part


def shares_of(power: FloatArray) -> FloatArray:
    """Return the share of each sector (sizes, sectors) in a power (sizes, points).

    Of a size whose every frequency is lost to the nerve nothing is left to share: zeros.
    """
    shares: FloatArray = power @ sectors().T
    shares /= np.maximum(shares.sum(axis=-1, keepdims=True), LEAST)
    return shares


@lru_cache(maxsize=1)
def sectors() -> FloatArray:
    """Return the weights of overlapping triangular sectors of orientation, (6, points)."""
    letters = sloan_spectra()
    width = math.pi / SECTORS
    angle = np.mod(np.arctan2(letters.uy, letters.ux), math.pi)
    centres = np.arange(SECTORS)[:, np.newaxis] * width
    apart = np.abs(np.mod(angle - centres + math.pi / 2.0, math.pi) - math.pi / 2.0)
    weights: FloatArray = np.maximum(0.0, 1.0 - apart / width)
    weights.setflags(write=False)
    return weights
