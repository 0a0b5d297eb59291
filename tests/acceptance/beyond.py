"""Rows beyond the prototype: other pupils, poorer nerves, strong needs, dots and rings.

None of them has an accepted figure from elsewhere; where one is judged, the bound is ours.
"""

from collections.abc import Iterator, Sequence

import numpy as np

from optics.patient.colours import GREEN, RED, red_or_green
from optics.sight.details import DOTS, RINGS
from tests.acceptance.check import Check, mean, median, percent
from tests.acceptance.colours import ASKED, LINE_LOGMAR
from tests.acceptance.crosses import right_ahead_sd, stated_wrongly
from tests.acceptance.eyes import Tested, with_pupil
from tests.acceptance.spheres import just_noticeable_d, lines_lost

PUPILS_MM = (3.0, 5.0, 6.0)
NEEDS_D = (-10.0, -5.0, 5.0, 10.0)
# best acuity, cross cylinder shown, astigmatism left: half of its power
NERVES = ((0.176, 0.25), (0.301, 0.50), (0.602, 0.50), (0.778, 1.00))
SHARE = 10  # every tenth eye, another tenth for each group


def beyond(eyes: Sequence[Tested]) -> Iterator[Check]:
    """Yield all rows of this module."""
    for subject in (other_pupils, poorer_nerves, strong_needs, other_details):
        yield from subject(eyes)


def other_pupils(eyes: Sequence[Tested]) -> Iterator[Check]:
    """Yield the rows of pupils of 3, 5 and 6 mm, best acuity kept."""
    for index, pupil_mm in enumerate(PUPILS_MM):
        group = [with_pupil(one, pupil_mm) for one in eyes[index::SHARE]]
        where = f"pupil {pupil_mm:g} mm"
        yield from _sphere_rows(where, group, need_d=0.0)
        yield _wrong(f"{where}, cross cylinder", [right_ahead_sd(one, 0.0) for one in group])
        told = [
            red_or_green(one.view((sphere_d, 0.0, 0.0)).better, LINE_LOGMAR, ASKED).chances[right]
            for one in group
            for sphere_d, right in ((-0.25, RED), (0.25, GREEN))
        ]
        yield Check(
            name=f"{where}, two colours 0.25 D off: right colour",
            values=np.array(told),
            statistic=percent,
            least=85.0,
            unit=" %",
            ours=True,
        )


def poorer_nerves(eyes: Sequence[Tested]) -> Iterator[Check]:
    """Yield the rows of eyes of 6/9 to 6/36, cross cylinders of the size used for them."""
    for index, (best, power_d) in enumerate(NERVES):
        group = [one.with_best(best) for one in eyes[index::SHARE]]
        where = f"best acuity 6/{6.0 * 10.0**best:.0f}"
        if best < 0.3:
            jnds = [just_noticeable_d(one, (one.line_logmar,))[0] for one in group]
            yield Check(
                name=f"{where}, just noticeable sphere : x/30, mean",
                values=np.array(jnds) / (10.0**best / 5.0),
                statistic=mean,
                least=0.6,
                most=1.2,
                ours=True,
            )
        ahead = [right_ahead_sd(one, 0.0, left_d=power_d / 2.0, power_d=power_d) for one in group]
        yield _wrong(f"{where}, cross cylinder {power_d:.2f}", ahead)


def strong_needs(eyes: Sequence[Tested]) -> Iterator[Check]:
    """Yield the rows of eyes that wear 5 and 10 D."""
    for index, need_d in enumerate(NEEDS_D):
        group = eyes[index::SHARE]
        where = f"need {need_d:+g} D, worn"
        yield from _sphere_rows(where, group, need_d)
        ahead = [right_ahead_sd(one, 0.0, need_d=need_d) for one in group]
        yield _wrong(f"{where}, cross cylinder", ahead)


def other_details(eyes: Sequence[Tested]) -> Iterator[Check]:
    """Yield the rows of dots and rings looked at through the cross cylinder."""
    group = eyes[::4]
    for detail in (DOTS, RINGS):
        for sphere_d in (-0.25, 0.0, 0.25):
            ahead = [right_ahead_sd(one, sphere_d, detail=detail) for one in group]
            name = f"{detail.kind.value}, cross cylinder, sphere {sphere_d:+.2f} left"
            yield _wrong(name, ahead)


def _sphere_rows(where: str, group: Sequence[Tested], need_d: float) -> Iterator[Check]:
    jnds = [just_noticeable_d(one, (one.line_logmar,), need_d)[0] for one in group]
    yield Check(
        name=f"{where}, just noticeable sphere one line above the best, median",
        values=np.array(jnds),
        statistic=median,
        unit=" D",
    )
    yield Check(
        name=f"{where}, +1.00: lines lost, median",
        values=np.array([lines_lost(one, need_d) for one in group]),
        statistic=median,
        least=2.0,
        most=7.0,
        ours=True,
    )


def _wrong(name: str, ahead: Sequence[np.ndarray]) -> Check:
    """Return the row of the chance of the wrong reply, two lines larger."""
    return Check(
        name=f"{name}: stated wrongly, two lines larger",
        values=stated_wrongly(np.array(ahead)[:, 1]),
        statistic=percent,
        most=1.5,
        unit=" %",
        ours=True,
    )
