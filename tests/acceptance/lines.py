"""Rows on lines and slits: the rule of 30, and where the slit is clearest."""

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from optics.patient.compare import Asked
from optics.patient.lines import EQUAL, UNSEEN, blackest_lines
from tests.acceptance.check import Check, percent
from tests.acceptance.eyes import Tested, astigmatism, slit

ASKED = Asked()
STROKE_LOGMAR = float(np.log10(3.0))
CYLINDERS_D = ((0.5, 1.5, 2.5), (1.0, 2.0, 3.0))  # of every second eye
SLIT_CYLINDERS_D = (1.0, 1.5, 2.0, 2.5, 3.0)
NEAR_DEG, ACROSS_DEG = 15.0, 75.0


def apart_deg(one_deg: float, other_deg: float) -> float:
    """Return how far two axes lie apart, 0 to 90."""
    return abs((one_deg - other_deg + 90.0) % 180.0 - 90.0)


def told(chances: Mapping[str, float], axis_deg: float) -> tuple[float, float, float]:
    """Return the chances of a line near the rule's axis, of one across, and of any line.

    By the rule of 30 a line's lower hour times 30 is the axis of the minus cylinder.
    """
    lines = {hour: chance for hour, chance in chances.items() if hour not in (EQUAL, UNSEEN)}
    apart = {hour: apart_deg(30.0 * float(hour), axis_deg) for hour in lines}
    near = sum(chance for hour, chance in lines.items() if apart[hour] <= NEAR_DEG)
    across = sum(chance for hour, chance in lines.items() if apart[hour] >= ACROSS_DEG)
    return near, across, sum(lines.values())


def fan_of(tested: Tested, mean_d: float, cylinder_d: float, axis_deg: float) -> np.ndarray:
    """Return the chances near, across and of any line with so much sphere left beyond C/2."""
    left = (mean_d, *astigmatism(cylinder_d, axis_deg))
    answer = blackest_lines(tested.view(left).better, STROKE_LOGMAR, ASKED)
    return np.array(told(answer.chances, axis_deg))


def fan(eyes: Sequence[Tested]) -> Iterator[Check]:
    """Yield the rows of the fan: both fogs, the circle of least confusion, both lines behind."""
    found: dict[str, list[np.ndarray]] = {name: [] for name in ("25", "50", "clc", "behind")}
    for one in eyes:
        for cylinder_d in CYLINDERS_D[one.number % 2]:
            axis_deg = one.rng(200).uniform(0.0, 180.0)
            half_d = cylinder_d / 2.0
            for name, mean_d in (
                ("25", -half_d - 0.25),
                ("50", -half_d - 0.50),
                ("clc", 0.0),
                ("behind", half_d + 0.25),
            ):
                found[name].append(fan_of(one, mean_d, cylinder_d, axis_deg))
    near, across, any_line = (
        {name: np.array(rows)[:, column] for name, rows in found.items()} for column in range(3)
    )
    for name, least in (("25", 98.0), ("50", 93.0)):
        where = f"fan, fog C/2 + 0.{name}"
        stated = np.maximum(any_line[name], 1e-9)
        yield Check(
            name=f"{where}: of stated lines within 15 degrees",
            values=near[name] / stated,
            statistic=percent,
            least=least,
            unit=" %",
        )
        yield Check(
            name=f"{where}: across", values=across[name], statistic=percent, most=0.05, unit=" %"
        )
        yield Check(
            name=f"{where}: a line is stated", values=any_line[name], statistic=percent, unit=" %"
        )
    yield Check(
        name="fan, circle of least confusion on the retina: equal",
        values=1.0 - any_line["clc"],
        statistic=percent,
        least=50.0,
        unit=" %",
    )
    yield Check(
        name="fan, both lines behind by 0.25: of stated lines across",
        values=across["behind"] / np.maximum(any_line["behind"], 1e-9),
        statistic=percent,
        least=93.0,
        unit=" %",
    )


def clearest_slit(tested: Tested, left: tuple[float, float, float]) -> float:
    """Return the direction, by 5 degrees, in which most is read through the slit."""
    directions = np.arange(5.0, 181.0, 5.0)
    acuities = []
    for direction_deg in directions:
        eye = tested.view(left, slit(float(direction_deg))).right
        assert eye.reading is not None
        acuities.append(eye.reading.acuity_logmar)
    return float(directions[int(np.argmin(acuities))])


def slit_axis(eyes: Sequence[Tested]) -> Iterator[Check]:
    """Yield the row of the slit under a fog of C/2 + 0.50."""
    within = []
    for one in eyes:
        rng = one.rng(300)
        cylinder_d, axis_deg = float(rng.choice(SLIT_CYLINDERS_D)), rng.uniform(0.0, 180.0)
        left = (-cylinder_d / 2.0 - 0.5, *astigmatism(cylinder_d, axis_deg))
        within.append(float(apart_deg(clearest_slit(one, left), axis_deg) <= 10.0))
    yield Check(
        name="slit, fog C/2 + 0.50: within 10 degrees",
        values=np.array(within),
        statistic=percent,
        least=90.0,
        unit=" %",
    )
