"""Rows on the cross cylinder: how often the wrong face is called the clearer one.

What is looked at is so much larger than what is read with the lenses before it is held.
"""

import math
from collections.abc import Iterator, Sequence

import numpy as np

from optics.patient.compare import SECOND, Asked, Looked, ahead_sd, pair_chances
from optics.patient.traits import ORDINARY
from optics.sight.details import LETTERS, Detail
from optics.units import FloatArray
from tests.acceptance.check import Check, percent
from tests.acceptance.eyes import Tested, cross

ASKED = Asked()
LEFT_D = (0.125, 0.19)  # along the tested direction, as a power vector
YOUNG_D = 8.0
LARGER_LOGMAR = (0.1, 0.2)  # one line, two lines


def right_ahead_sd(
    tested: Tested,
    sphere_d: float,
    *,
    left_d: float | None = None,
    amplitude_d: float = 0.0,
    power_d: float = 0.25,
    detail: Detail = LETTERS,
    need_d: float = 0.0,
) -> FloatArray:
    """Return how much clearer the right face is than the wrong one, one and two lines larger.

    The right face takes away from the astigmatism left; the direction tested is drawn.
    """
    axis_deg = tested.rng(100).uniform(0.0, 180.0)
    left_d = LEFT_D[tested.number % 2] if left_d is None else left_d
    doubled = math.radians(2.0 * axis_deg)
    left = (sphere_d, left_d * math.cos(doubled), left_d * math.sin(doubled))
    none, *faces = (
        tested.view(left, held, amplitude_d=amplitude_d, need_d=need_d)
        for held in (None, cross(power_d, axis_deg), cross(power_d, axis_deg + 90.0))
    )
    assert none.right.reading is not None
    read = none.right.reading.acuity_logmar
    return np.array(
        [ahead_sd(*faces, Looked(size_logmar=read + more, detail=detail)) for more in LARGER_LOGMAR]
    )


def stated_wrongly(ahead: FloatArray) -> FloatArray:
    """Return the chance that the wrong face is called clearer, the shape of ``ahead``."""
    chances = [pair_chances(float(one), ASKED)[SECOND] for one in ahead.ravel()]
    return np.array(chances).reshape(ahead.shape)


def cross_cylinder(eyes: Sequence[Tested]) -> Iterator[Check]:
    """Yield rows for each error of the sphere, without accommodation and with 8 D of it."""
    for sphere_d, amplitude_d in (
        *((m, 0.0) for m in (-0.5, -0.25, 0.0, 0.25, 0.5)),
        *((m, YOUNG_D) for m in (0.25, 0.5)),  # otherwise there is nothing to accommodate for
    ):
        ahead = np.array([right_ahead_sd(one, sphere_d, amplitude_d=amplitude_d) for one in eyes])
        whose = f", {amplitude_d:g} D of accommodation" if amplitude_d else ""
        name = f"cross cylinder, sphere {sphere_d:+.2f} left{whose}: stated wrongly"
        most = 1.5 if abs(sphere_d) <= 0.25 else 5.0
        yield Check(
            name=f"{name}, one line larger",
            values=stated_wrongly(ahead[:, 0]),
            statistic=percent,
            most=most,
            unit=" %",
        )
        yield Check(
            name=f"{name}, two lines larger",
            values=stated_wrongly(ahead[:, 1]),
            statistic=percent,
            unit=" %",
        )
        yield Check(
            name=f"{name} without noise, one line larger",
            values=(ahead[:, 0] < -ORDINARY.band_sd).astype(float),
            statistic=percent,
            most=most,
            unit=" %",
        )
