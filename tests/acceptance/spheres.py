"""Rows on spheres: the just noticeable change, and the letters that +1.00 costs."""

from collections.abc import Iterator, Sequence

import numpy as np

from optics.patient.change import letters_on_chart
from optics.patient.compare import Looked, ahead_sd
from optics.sight.targets import LETTERS_A_ROW
from optics.units import FloatArray
from tests.acceptance.check import Check, mean, median, percentile
from tests.acceptance.eyes import SHARP, Tested, sphere

CHANGES_D = (0.08, 0.16, 0.24, 0.32, 0.45, 0.6, 0.8, 1.1, 1.5, 2.0)
POORER_LOGMAR = (0.301, 0.477, 0.602, 0.778)  # 6/12, 6/18, 6/24, 6/36
LARGER = (0.6, 0.7)
KEEN_LOGMAR = -0.08  # 6/5


def just_noticeable_d(tested: Tested, lines: Sequence[float], need_d: float = 0.0) -> FloatArray:
    """Return the sphere from the end point whose loss of clarity is one standard deviation.

    One for each line (logMAR), the mean loss of plus and minus taken; 2 D where none is.
    """
    best = tested.view(SHARP, need_d=need_d)
    before, found = np.zeros(len(lines)), np.full(len(lines), np.nan)
    last_d = 0.0
    for change_d in CHANGES_D:
        blurred = [tested.view((sign * change_d, 0.0, 0.0), need_d=need_d) for sign in (1.0, -1.0)]
        lost = np.array(
            [
                np.mean([ahead_sd(best, view, Looked(size_logmar=line)) for view in blurred])
                for line in lines
            ]
        )
        # near the peak the loss grows as the square of the change
        root, above = np.sqrt(np.maximum(before, 0.0)), np.sqrt(np.maximum(lost, 0.0))
        part = (1.0 - root) / np.maximum(above - root, 1e-9)
        crossed = np.isnan(found) & (lost >= 1.0)
        found[crossed] = (last_d + part * (change_d - last_d))[crossed]
        if not np.isnan(found).any():
            break
        before, last_d = lost, change_d
    return np.where(np.isnan(found), CHANGES_D[-1], found)


def just_noticeable(eyes: Sequence[Tested]) -> Iterator[Check]:
    """Yield the rows of the 6/6 line and of larger lines."""
    rows = []
    for one in eyes:
        line = one.line_logmar
        rows.append(just_noticeable_d(one, (0.0, line, *(line + more for more in LARGER))))
    found = np.array(rows)
    yield Check(
        name="just noticeable sphere, 6/6 line, median",
        values=found[:, 0],
        statistic=median,
        least=0.15,
        most=0.28,
        unit=" D",
    )
    yield Check(
        name="the same, one line above the best", values=found[:, 1], statistic=median, unit=" D"
    )
    for column, more in enumerate(LARGER, start=2):
        yield Check(
            name=f"just noticeable sphere, line {more:g} logMAR larger : best + 0.1, median",
            values=found[:, column] / found[:, 1],
            statistic=median,
            least=1.4,
            most=1.8,
        )


def by_acuity(eyes: Sequence[Tested], acuities: Sequence[float] = POORER_LOGMAR) -> Iterator[Check]:
    """Yield the rows of eyes whose nerve leaves them 6/12 to 6/36, a share of the eyes each."""
    for index, best in enumerate(acuities):
        group = [one.with_best(best) for one in eyes[index :: len(acuities)]]
        found = [just_noticeable_d(one, (one.line_logmar,))[0] for one in group]
        denominator = 6.0 * 10.0**best
        yield Check(
            name=f"just noticeable sphere at 6/{denominator:.0f} : x/30, mean",
            values=np.array(found) / (denominator / 30.0),
            statistic=mean,
            least=0.6,
            most=1.2,
        )


def lines_lost(tested: Tested, need_d: float = 0.0) -> float:
    """Return how many lines of the chart +1.00 before the end point costs."""
    clear, blurred = (tested.view(SHARP, held, need_d=need_d) for held in (None, sphere(1.0)))
    return (letters_on_chart(clear) - letters_on_chart(blurred)) / LETTERS_A_ROW


def plus_one(eyes: Sequence[Tested]) -> Iterator[Check]:
    """Yield the rows of +1.00 before the end point."""
    name = "+1.00 at the end point, lines lost"
    values = np.array([lines_lost(one) for one in eyes])
    yield Check(name=f"{name}, median", values=values, statistic=median, least=3.5, most=5.0)
    yield Check(name=f"{name}, 5 %", values=values, statistic=percentile(5.0), least=2.0)
    yield Check(name=f"{name}, 95 %", values=values, statistic=percentile(95.0), most=7.0)
    yield Check(
        name=f"{name}, the same eyes with a nerve for 6/5, median",
        values=np.array([lines_lost(one.with_best(KEEN_LOGMAR)) for one in eyes]),
        statistic=median,
    )
