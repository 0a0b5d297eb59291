"""What is looked at when two views are compared: letters, rings, a group of bars, dots.

A detail's contrast power is given at the points of the letters' spectra, in cycles per height;
the height is five strokes for all. Angles are of the chart frame: x to the patient's right, y
up, counter-clockwise.
"""

import math
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

import numpy as np

from optics.sight.letters import LetterSpectra, ring_spectra, sloan_spectra
from optics.units import FloatArray

STROKE = 0.2  # of the height
BAR_PLACES = (-2.0 * STROKE, 0.0, 2.0 * STROKE)  # three bars, a stroke wide, a stroke apart
DOT_COUNT = 20


class DetailKind(StrEnum):
    """What is looked at."""

    LETTERS = "letters"
    RINGS = "rings"
    BARS = "bars"
    DOTS = "dots"


@dataclass(frozen=True, slots=True, kw_only=True)
class Detail:
    """A kind of detail; bars run along ``angle_deg``."""

    kind: DetailKind = DetailKind.LETTERS
    angle_deg: float = 0.0

    @property
    def one_way(self) -> bool:
        """Whether all of its strokes run in one direction."""
        return self.kind is DetailKind.BARS


LETTERS = Detail()
RINGS = Detail(kind=DetailKind.RINGS)
DOTS = Detail(kind=DetailKind.DOTS)


def bars(angle_deg: float) -> Detail:
    """Return three bars along an angle of the chart frame."""
    return Detail(kind=DetailKind.BARS, angle_deg=angle_deg % 180.0)


@lru_cache(maxsize=64)
def contrast_power(detail: Detail) -> FloatArray:
    """Return the power at the letters' points (n,), a point's mirror image counted with it."""
    letters = sloan_spectra()
    if detail.kind is DetailKind.LETTERS:
        power = _told_apart(letters)
    elif detail.kind is DetailKind.RINGS:
        power = _told_apart(ring_spectra())
    elif detail.kind is DetailKind.DOTS:
        # dots without order: their powers add; disc of a stroke's diameter, by its equal square
        side = STROKE * math.sqrt(math.pi) / 2.0
        power = DOT_COUNT * (side**2 * np.sinc(side * letters.ux) * np.sinc(side * letters.uy)) ** 2
    else:
        angle = math.radians(detail.angle_deg)
        along = letters.ux * math.cos(angle) + letters.uy * math.sin(angle)
        across = letters.uy * math.cos(angle) - letters.ux * math.sin(angle)
        group = sum(np.cos(2.0 * math.pi * place * across) for place in BAR_PLACES)
        # what tells them from a grey patch of the same ink
        told = STROKE * np.sinc(STROKE * across) * group - 3.0 * STROKE * np.sinc(across)
        power = (told * np.sinc(along)) ** 2
    weighed: FloatArray = power * letters.count
    weighed.setflags(write=False)
    return weighed


def _told_apart(letters: LetterSpectra) -> FloatArray:
    """Return the mean power by which a letter differs from the mean letter, (n,)."""
    power: FloatArray = (np.abs(letters.distinct) ** 2).mean(axis=0)
    return power
