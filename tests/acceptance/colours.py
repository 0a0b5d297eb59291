"""Rows on two colours: which is named a quarter dioptre off the end point."""

from collections.abc import Iterator, Sequence

import numpy as np

from optics.patient.colours import GREEN, RED, red_or_green
from optics.patient.compare import Asked
from tests.acceptance.check import Check, percent
from tests.acceptance.eyes import Tested

ASKED = Asked()
LINE_LOGMAR = 0.3


def duochrome(eyes: Sequence[Tested]) -> Iterator[Check]:
    """Yield the rows of too much plus (red), too much minus (green), and the end point."""
    for sphere_d, right, wrong in ((-0.25, RED, GREEN), (0.25, GREEN, RED)):
        told = [
            red_or_green(one.view((sphere_d, 0.0, 0.0)).better, LINE_LOGMAR, ASKED).chances
            for one in eyes
        ]
        where = f"two colours, sphere {sphere_d:+.2f} left"
        yield Check(
            name=f"{where}: {right}",
            values=np.array([one[right] for one in told]),
            statistic=percent,
            least=85.0,
            unit=" %",
        )
        yield Check(
            name=f"{where}: {wrong}",
            values=np.array([one[wrong] for one in told]),
            statistic=percent,
            most=2.0,
            unit=" %",
        )
    told = [
        red_or_green(one.view((0.0, 0.0, 0.0)).better, LINE_LOGMAR, ASKED).chances for one in eyes
    ]
    for name in (RED, GREEN):
        yield Check(
            name=f"two colours, end point: {name}",
            values=np.array([one[name] for one in told]),
            statistic=percent,
            unit=" %",
        )
