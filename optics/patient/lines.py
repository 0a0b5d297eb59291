"""Lines seen by an eye: which of a fan are blackest, and whether two blocks match."""

import math

import numpy as np

from optics.eye.grid import TransferFunction
from optics.patient.compare import Answer, Asked, pair_chances, with_lapses
from optics.sight.clarity import COMPARISON_SD, clarity
from optics.sight.details import bars
from optics.sight.figures import SPOKES
from optics.sight.view import EyeView
from optics.units import FloatArray

EQUAL = "equal"
UNSEEN = "unseen"
NOISE_FACTOR = 2.0  # lines in different places are harder to compare than one line twice
# of the band of a pair: among so many directions noise alone makes one look blackest. With it
# lines that are alike are called so nearly nine times in ten; common practice, no source
FAN_BAND = 2.0
RADII, ANGLES = 48, 360
REACH_SD = 4.0
FARTHEST = 300.0  # squared half distances; further out nothing is left


def spoke_name(spoke: int) -> str:
    """Return a line's name by the lower of its two clock hours: ``0.5`` to ``6``.

    Spoke 0 lies across, from 3 to 9 o'clock; each next one 15 degrees on, clockwise as the
    patient sees it.
    """
    hour = 3.0 + spoke / 2.0
    return f"{hour if hour <= 6.0 else hour - 6.0:g}"


def spoke_angle_deg(spoke: int) -> float:
    """Return the angle of a line in the chart frame, 0 to 180."""
    return (180.0 - 15.0 * spoke) % 180.0


def blackest_lines(eye: EyeView | None, stroke_logmar: float, asked: Asked) -> Answer:
    """Return the answer to "which lines are blackest?": a line's lower hour, equal or unseen.

    The fan is taken in as a whole: what stands out is the direction in which its twelve lines'
    clarities add up, each line with the noise of one view.
    """
    if eye is None or eye.transfer is None:
        return Answer(chances={UNSEEN: 1.0})
    clear = clarity_of_spokes(eye.transfer, eye, stroke_logmar) / (COMPARISON_SD * NOISE_FACTOR)
    across, upward = _pull(clear)
    chances = _direction_chances(across, upward, asked)
    contrast = 2.0 * math.hypot(across, upward)
    chances = with_lapses(chances, asked.traits.lapse, forced=False)
    return Answer(chances=chances, facts={"contrast": contrast, "clearest": float(clear.max())})


def clarity_of_spokes(transfer: TransferFunction, eye: EyeView, stroke_logmar: float) -> FloatArray:
    """Return the clarity of each of the twelve lines, shape (12,)."""
    return np.array(
        [
            clarity(transfer, (stroke_logmar,), eye.nerve, bars(spoke_angle_deg(spoke)))[0]
            for spoke in range(SPOKES)
        ]
    )


def _pull(clear: FloatArray) -> tuple[float, float]:
    """Return the second harmonic of clarities over the spokes: its cosine and sine part."""
    doubled = 2.0 * np.deg2rad(15.0 * np.arange(SPOKES))
    return (
        float(2.0 / SPOKES * np.sum(clear * np.cos(doubled))),
        float(2.0 / SPOKES * np.sum(clear * np.sin(doubled))),
    )


def _direction_chances(across: float, upward: float, asked: Asked) -> dict[str, float]:
    """Return the chances of each line, and of all looking alike, from the pull and its noise.

    A difference of two lines has the noise's standard deviation, so one line 1/sqrt 2 of it,
    and each part of the harmonic of twelve sqrt(2/12) of that.
    """
    spread = asked.noise / math.sqrt(2.0) * math.sqrt(2.0 / SPOKES)
    reach = math.hypot(across, upward) + REACH_SD * spread
    radius = (np.arange(RADII) + 0.5) * (reach / RADII)
    angle = (np.arange(ANGLES) + 0.5) * (2.0 * math.pi / ANGLES)
    x, y = radius[:, np.newaxis] * np.cos(angle), radius[:, np.newaxis] * np.sin(angle)
    away = ((x - across) ** 2 + (y - upward) ** 2) / (2.0 * spread**2)
    density = radius[:, np.newaxis] * np.exp(-np.minimum(away, FARTHEST))
    density /= density.sum()
    # the share of each ring of the plane that lies within the band
    edge = FAN_BAND * asked.traits.band_sd * asked.noise / 2.0
    alike = np.clip((edge - radius) * RADII / reach + 0.5, 0.0, 1.0)[:, np.newaxis]
    width = ANGLES // SPOKES
    told = (
        np.roll((density * (1.0 - alike)).sum(axis=0), width // 2)
        .reshape(SPOKES, width)
        .sum(axis=1)
    )
    chances = {spoke_name(spoke): float(told[spoke]) for spoke in range(SPOKES)}
    return chances | {EQUAL: float((density * alike).sum())}


def blocks_equal(
    eye: EyeView | None, stroke_logmar: float, turned_deg: float, asked: Asked
) -> Answer:
    """Return the answer to "are the blocks equal?": first (A), second (B), same or unseen.

    ``turned_deg`` is the direction of A's lines in the facing frame; B's stand across.
    """
    if eye is None or eye.transfer is None:
        return Answer(chances={UNSEEN: 1.0})
    along = 180.0 - turned_deg
    one, other = (
        float(clarity(eye.transfer, (stroke_logmar,), eye.nerve, bars(angle))[0])
        for angle in (along, along + 90.0)
    )
    ahead = (one - other) / (COMPARISON_SD * NOISE_FACTOR)
    return Answer(chances=pair_chances(ahead, asked), facts={"ahead": ahead})
