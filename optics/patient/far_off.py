"""What an eye makes of the wall that reads none of it: nearer, fingers, movement, light."""

from collections.abc import Mapping
from typing import Any, TypeVar

import numpy as np

from optics.patient.compare import Answer
from optics.sight.probit import chance_below
from optics.sight.view import View
from optics.units import FloatArray

TOP_LINE_LOGMAR = 1.0  # 6/60, printed for 6 m
NEARER_M = (6.0, 3.0, 2.0, 1.0)
FINGERS_M = (1.0, 0.5)
FINGERS_LOGMAR = 1.8  # of fingers at 1 m; common practice, no source
HAND_LOGMAR, HAND_SD = 2.2, 0.15  # movement of a hand at half a metre; common practice, no source
LIGHT, DARK, HAND = "light", "no-light", "hand"
# what is tried in turn, each with its distance in metres and its size
LETTERS_AND_FINGERS = (
    *((f"top-{at:g}", at, TOP_LINE_LOGMAR + float(np.log10(NEARER_M[0] / at))) for at in NEARER_M),
    *((f"fingers-{at:g}", at, FINGERS_LOGMAR - float(np.log10(at))) for at in FINGERS_M),
)
Chance = TypeVar("Chance", float, FloatArray)


def how_near(views: Mapping[float, View]) -> Answer:
    """Return how near the top letter must come to be read, else fingers, a hand, or light.

    ``views`` holds the view of a wall at each distance of NEARER_M and FINGERS_M, in metres.
    Replies: ``top-6`` to ``top-1``, ``fingers-1``, ``fingers-0.5``, ``hand``, ``light``,
    ``no-light``.
    """
    if views[NEARER_M[0]].better is None:
        return Answer(chances={DARK: 1.0})
    steps = {name: _read(views[at], size) for name, at, size in LETTERS_AND_FINGERS}
    return Answer(chances=first_that_succeeds(steps | {HAND: _moves(views[FINGERS_M[-1]])}))


def first_that_succeeds(steps: Mapping[str, Chance]) -> dict[str, Chance]:
    """Return the chance that each of some steps, tried in turn, is the first; else light."""
    left: Any = 1.0
    chances = {}
    for name, chance in steps.items():
        chances[name] = left * chance
        left = left * (1.0 - chance)
    return chances | {LIGHT: left}


def _read(view: View, size_logmar: float) -> float:
    """Return the chance that a letter of a size is read, corrected for guessing."""
    eye = view.better
    if eye is None or eye.reading is None:
        return 0.0
    return max(0.0, (eye.reading.of_line(size_logmar) - 0.1) / 0.9)


def _moves(view: View) -> float:
    eye = view.better
    if eye is None or eye.reading is None:
        return 0.0
    short = (HAND_LOGMAR - eye.reading.acuity_logmar) / HAND_SD
    return chance_below(short)
