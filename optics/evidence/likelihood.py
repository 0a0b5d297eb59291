"""How likely each reply is for every eye that is still possible: the patient's own reply model.

What is not known of the person widens it: the noise of comparing is taken larger, a share of
answers is taken as given without looking, and people of one blur are taken to differ in the acuity
that it leaves them, far more than one of them from reading to reading.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np

from optics.evidence.lookup import Seen, Supposed
from optics.evidence.nominal import ACROSS, CLEAR, COLOUR, DRAWN, GHOST, PULL
from optics.light.beam import Vector
from optics.patient import change, colours, far_off, ghost, lines
from optics.patient.compare import (
    FIRST,
    LOOKED_ABOVE_LOGMAR,
    SAME,
    SECOND,
    Asked,
    pair_chances,
)
from optics.patient.questions import Question
from optics.patient.traits import Manner, Traits
from optics.sight.clarity import COMPARISON_SD
from optics.sight.probit import normal_cdf
from optics.sight.reader import GUESS
from optics.sight.targets import CHART_LINES_LOGMAR
from optics.units import FloatArray

AHEAD_SD = np.linspace(-60.0, 60.0, 2401)
OWN_LOGMAR = np.round(np.arange(-0.8, 2.41, 0.02), 2)
LEAST_SHARE = 1e-6  # of the likeliest: whole readings that have nothing to do with the eye
LEAST_CHANCE = 0.02  # of a letter, rightly or wrongly said: nobody is sure
PULL_STEP = 0.02
# mean chance over 144 looks through 4 to 20 D by the six drawn eyes of 40 years; reached at 4/3
# of the table's edge
GHOST_FAR, GHOST_RISES = 0.93, np.log10(4.0 / 3.0)
NEAR_M = tuple(dict.fromkeys((*far_off.NEARER_M, *far_off.FINGERS_M)))
HOURS = tuple(lines.spoke_name(spoke) for spoke in range(12))


@dataclass(frozen=True, slots=True, kw_only=True)
class Widening:
    """What is not known of the person: noise factor, lapses, how acuities differ at one blur."""

    noise: float = 1.9
    lapse: float = 0.05
    acuity_logmar: float = 0.13


WIDENED = Widening()
AT_FACE_VALUE = Widening(noise=1.0, lapse=0.0, acuity_logmar=0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class RowRead:
    """A row of a chart: how many letters were named rightly; ``tried`` False where given up."""

    size_logmar: float
    right: int
    letters: int
    tried: bool = True


Reply = str | tuple[RowRead, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Asking:
    """A question and what stood before the eye when it was asked.

    ``vergences`` (M, J0, J45 at the cornea in D, facing frame): of the two faces for ``which``,
    before and now for what is asked about a change, at each of NEAR_M for ``nearer``, else now
    alone. ``line_logmar`` is the line
    looked at, None for a whole chart. ``block_deg`` is the first block's direction, facing.
    """

    question: Question
    vergences: tuple[Vector, ...]
    line_logmar: float | None = None
    block_deg: float = 180.0
    manner: Manner = Manner.OFFERED


@dataclass(frozen=True, slots=True, kw_only=True)
class Points:
    """Eyes that are possible: their end points at the cornea, each of shape (n,), in D."""

    m_d: FloatArray = field(repr=False)
    j0_d: FloatArray = field(repr=False)
    j45_d: FloatArray = field(repr=False)

    def at(self, some: slice) -> "Points":
        """Return some of the points."""
        return Points(m_d=self.m_d[some], j0_d=self.j0_d[some], j45_d=self.j45_d[some])


def chances(
    eyes: Supposed, points: Points, asking: Asking, widening: Widening = WIDENED
) -> Mapping[str, FloatArray]:
    """Return the chance of each reply, arrays (eyes, points); none where a reply tells nothing.

    Readings and questions that no table serves give none.
    """
    model = _MODELS.get(asking.question)
    return {} if model is None else model(eyes, points, asking, widening)


def log_chance_of_rows(
    eyes: Supposed,
    points: Points,
    asking: Asking,
    rows: tuple[RowRead, ...],
    widening: Widening = WIDENED,
) -> FloatArray:
    """Return the logarithm of the chance of a reading, (eyes, points), but for a constant.

    A row that was given up counts as wholly missed.
    """
    acuity = eyes.acuity_logmar(_seen(eyes, points, asking.vergences[-1]))
    logs = _log_chance_by_acuity(rows, eyes.slope_logmar, widening)
    told: FloatArray = np.interp(acuity, OWN_LOGMAR, logs)
    return told


@lru_cache(maxsize=256)
def _log_chance_by_acuity(
    rows: tuple[RowRead, ...], slope_logmar: float, widening: Widening
) -> FloatArray:
    """Return the logarithm of a reading's chance at each acuity that nominal eyes may have.

    The person reads somewhat better or worse than they do.
    """
    total = np.zeros(len(OWN_LOGMAR))
    for row in rows:
        right = row.right if row.tried else 0
        z = (row.size_logmar - OWN_LOGMAR) / slope_logmar
        chance = np.clip(GUESS + (1.0 - GUESS) * normal_cdf(z), LEAST_CHANCE, 1.0 - LEAST_CHANCE)
        total += right * np.log(chance) + (row.letters - right) * np.log1p(-chance)
    with np.errstate(under="ignore"):
        likely = np.exp(total - total.max())
        if widening.acuity_logmar > 0.0:
            apart = np.subtract.outer(OWN_LOGMAR, OWN_LOGMAR) / widening.acuity_logmar
            kernel = np.exp(-(apart**2) / 2.0)
            likely = (kernel / kernel.sum(axis=1, keepdims=True)) @ likely
        logs: FloatArray = np.log(np.maximum(likely, LEAST_SHARE * likely.max()))
    return logs


def _seen(eyes: Supposed, points: Points, vergence: Vector) -> Seen:
    m, j0, j45 = vergence
    return eyes.look(m - points.m_d, j0 - points.j0_d, j45 - points.j45_d)


def _asked(asking: Asking, widening: Widening) -> Asked:
    traits = Traits(noise=widening.noise, lapse=widening.lapse)
    return Asked(traits=traits, manner=asking.manner)


def _pair(ahead: FloatArray, asked: Asked) -> dict[str, FloatArray]:
    """Return the patient's chances of first, second and same for each difference."""
    place = np.clip((ahead - AHEAD_SD[0]) / (AHEAD_SD[1] - AHEAD_SD[0]), 0.0, len(AHEAD_SD) - 1.0)
    nearest = np.rint(place).astype(int)
    return {reply: told[nearest] for reply, told in _pair_table(asked).items()}


@lru_cache(maxsize=32)
def _pair_table(asked: Asked) -> dict[str, FloatArray]:
    told = [pair_chances(float(ahead), asked) for ahead in AHEAD_SD]
    return {reply: np.array([one[reply] for one in told]) for reply in (FIRST, SECOND, SAME)}


def _ahead(eyes: Supposed, asking: Asking, first: Seen, second: Seen) -> FloatArray:
    """Return how much clearer the first of two views is, in ordinary standard deviations."""
    if asking.line_logmar is not None:
        one, other = (eyes.of_line(seen, CLEAR, asking.line_logmar) for seen in (first, second))
    else:  # of a chart one line above the smallest that is read in one of the views
        best = np.minimum(eyes.acuity_logmar(first), eyes.acuity_logmar(second))
        best = best + LOOKED_ABOVE_LOGMAR
        line = np.clip(
            np.ceil(best * 10.0 - 1e-4) / 10.0, CHART_LINES_LOGMAR[-1], CHART_LINES_LOGMAR[0]
        )
        one, other = (eyes.of_lines(seen, CLEAR, line) for seen in (first, second))
    return (one - other) / COMPARISON_SD


def _both(eyes: Supposed, points: Points, asking: Asking) -> tuple[Seen, Seen]:
    first, second = asking.vergences
    return _seen(eyes, points, first), _seen(eyes, points, second)


def _which(
    eyes: Supposed, points: Points, asking: Asking, widening: Widening
) -> dict[str, FloatArray]:
    first, second = _both(eyes, points, asking)
    return _pair(_ahead(eyes, asking, first, second), _asked(asking, widening))


def _better(
    eyes: Supposed, points: Points, asking: Asking, widening: Widening
) -> dict[str, FloatArray]:
    told = _which(eyes, points, asking, widening)
    return {change.BETTER: told[SECOND], change.WORSE: told[FIRST], SAME: told[SAME]}


def _smaller(
    eyes: Supposed, points: Points, asking: Asking, widening: Widening
) -> dict[str, FloatArray]:
    before, now = _both(eyes, points, asking)
    told = _pair(_ahead(eyes, asking, before, now), _asked(asking, widening))
    effort = (now.effort_d - before.effort_d).astype(float) - change.EFFORT_D
    share = normal_cdf(effort / (change.EFFORT_SPREAD_D * widening.noise))
    return {
        change.CLEARER: told[SECOND],
        change.SMALLER: told[SAME] * share,
        change.WORSE: told[FIRST],
        SAME: told[SAME] * (1.0 - share),
    }


def _more(
    eyes: Supposed, points: Points, asking: Asking, widening: Widening
) -> dict[str, FloatArray]:
    before, now = _both(eyes, points, asking)
    gained = (eyes.letters(now) - eyes.letters(before)).astype(float)
    spread = change.LETTERS_SD * widening.noise
    more, fewer = (normal_cdf((sign * gained - change.LETTERS_BAND) / spread) for sign in (1, -1))
    return _with_lapses(
        {change.MORE: more, change.FEWER: fewer, SAME: 1.0 - more - fewer}, widening
    )


def _with_lapses(told: Mapping[str, FloatArray], widening: Widening) -> dict[str, FloatArray]:
    """Return chances with a share of answers given without looking, evenly over all replies."""
    share = widening.lapse / len(told)
    return {
        reply: share + (1.0 - widening.lapse) * np.maximum(chance, 0.0)
        for reply, chance in told.items()
    }


def _colour(
    eyes: Supposed, points: Points, asking: Asking, widening: Widening
) -> dict[str, FloatArray]:
    seen = _seen(eyes, points, asking.vergences[-1])
    ahead = eyes.of_line(seen, COLOUR, asking.line_logmar or 0.0)
    told = _pair(ahead / (COMPARISON_SD * colours.NOISE_FACTOR), _asked(asking, widening))
    return {colours.RED: told[FIRST], colours.GREEN: told[SECOND], colours.NEITHER: told[SAME]}


def _directed(
    eyes: Supposed, points: Points, asking: Asking, column: int
) -> tuple[FloatArray, FloatArray]:
    """Return a difference of lines in ordinary standard deviations, and its doubled direction.

    The image of lines along the axis of the eye's remaining (plus) cylinder differs from that of
    lines across; seen facing.
    """
    seen = _seen(eyes, points, asking.vergences[-1])
    _, j0, j45 = asking.vergences[-1]
    size = eyes.column(seen, column) * 10.0**-seen.beyond
    size /= COMPARISON_SD * lines.NOISE_FACTOR
    return size, np.arctan2(j45 - points.j45_d, j0 - points.j0_d)


def _blocks(
    eyes: Supposed, points: Points, asking: Asking, widening: Widening
) -> dict[str, FloatArray]:
    size, doubled = _directed(eyes, points, asking, ACROSS)
    ahead = size * np.cos(2.0 * np.deg2rad(asking.block_deg) - doubled)
    return _pair(ahead, _asked(asking, widening))


def _lines(
    eyes: Supposed, points: Points, asking: Asking, widening: Widening
) -> dict[str, FloatArray]:
    """Return the chances of each line of the fan: its pull with noise in both of its parts."""
    size, doubled = _directed(eyes, points, asking, PULL)
    by_place = _chance_of_a_spoke(widening)
    row = np.minimum(np.rint(np.abs(size) / PULL_STEP), len(by_place) - 1).astype(int)
    ahead = np.rad2deg(doubled) + np.where(size < 0.0, 180.0, 0.0)
    told: dict[str, FloatArray] = {}
    for spoke, hour in enumerate(HOURS):
        apart = np.abs(np.mod(30.0 * spoke - ahead + 180.0, 360.0) - 180.0)
        told[hour] = by_place[row, np.rint(apart).astype(int)]
    told[lines.EQUAL] = np.maximum(1.0 - sum(told.values()), 0.0)
    return _with_lapses(told, widening)


@lru_cache(maxsize=8)
def _chance_of_a_spoke(widening: Widening) -> FloatArray:
    """Return the chance that one line stands out, by the fan's pull and how far off it points.

    Shape (pulls, 181): pull in steps of PULL_STEP ordinary standard deviations, the doubled
    angle between pull and line in degrees.
    """
    spread = widening.noise / np.sqrt(2.0) * np.sqrt(2.0 / len(HOURS))
    band = Traits().band_sd * widening.noise / (2.0 * spread)
    pull = (np.arange(1501) * PULL_STEP / spread)[:, np.newaxis]
    fine = np.deg2rad(np.arange(-15.0, 196.0))
    density = _beyond_band(pull, fine, band)
    upto = np.cumsum((density[:, 1:] + density[:, :-1]) / 2.0, axis=1) * np.deg2rad(1.0)
    upto = np.concatenate([np.zeros((len(pull), 1)), upto], axis=1)
    chance: FloatArray = upto[:, 30:] - upto[:, :-30]
    return chance


def _beyond_band(pull: FloatArray, angle: FloatArray, band: float) -> FloatArray:
    """Return the density over direction of a plane normal deviate at ``pull``, past a radius.

    The integral over r > band of r exp(-(r^2 - 2 r u + pull^2) / 2) / 2 pi, u = pull cos(angle).
    """
    along, across = pull * np.cos(angle), pull * np.sin(angle)
    with np.errstate(under="ignore"):
        near = np.exp(-((band - along) ** 2) / 2.0)
        far = np.sqrt(2.0 * np.pi) * along * normal_cdf(along - band)
        density: FloatArray = np.exp(-(across**2) / 2.0) * (near + far) / (2.0 * np.pi)
    return np.maximum(density, 1e-30)


def _doubled(
    eyes: Supposed, points: Points, asking: Asking, widening: Widening
) -> dict[str, FloatArray]:
    """Return the chances of single and doubled: the share of drawn eyes that notice a ghost.

    Of so few eyes a share of none or all is not certain: half an eye is added to both (Jeffreys).
    Past the table's edge it rises to that of eyes with strong blur.
    """
    seen = _seen(eyes, points, asking.vergences[-1])
    share = eyes.column(seen, GHOST).astype(float)
    share += (GHOST_FAR - share) * np.minimum(seen.beyond / (eyes.growth * GHOST_RISES), 1.0)
    noticed = (DRAWN * share + 0.5) / (DRAWN + 1.0)
    return _with_lapses({ghost.ONE: 1.0 - noticed, ghost.DOUBLED: noticed}, widening)


def _nearer(
    eyes: Supposed, points: Points, asking: Asking, widening: Widening
) -> dict[str, FloatArray]:
    """Return the chances of how near the top letter, fingers or a hand must come.

    How people differ in acuity widens each step by itself; letters and fingers are named or not.
    """
    acuity = {
        at: eyes.acuity_logmar(_seen(eyes, points, vergence)).astype(float)
        for at, vergence in zip(NEAR_M, asking.vergences, strict=True)
    }
    spread, hand = np.hypot((eyes.slope_logmar, far_off.HAND_SD), widening.acuity_logmar)
    steps = {
        name: normal_cdf((size - acuity[at]) / spread)
        for name, at, size in far_off.LETTERS_AND_FINGERS
    }
    steps[far_off.HAND] = normal_cdf((far_off.HAND_LOGMAR - acuity[NEAR_M[-1]]) / hand)
    return _with_lapses(far_off.first_that_succeeds(steps), widening)


_Model = Callable[[Supposed, Points, Asking, Widening], dict[str, FloatArray]]
_MODELS: Mapping[Question, _Model] = {
    Question.WHICH: _which,
    Question.BETTER: _better,
    Question.SMALLER: _smaller,
    Question.MORE: _more,
    Question.COLOUR: _colour,
    Question.BLOCKS: _blocks,
    Question.LINES: _lines,
    Question.DOUBLED: _doubled,
    Question.NEARER: _nearer,
}
