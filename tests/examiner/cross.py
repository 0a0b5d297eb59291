"""The cross cylinder: from nothing, its axis, its power, the sphere going with it."""

import math
from collections.abc import Callable

from tests.examiner import pages
from tests.examiner.bench import Bench, acuity_logmar

EXPECTED_LOGMAR = 0.0
MOST_TURNS, MOST_STEPS = 8, 12
# cylinder that the acuity with the best sphere speaks of
BY_ACUITY_D = ((0.05, 1.0), (0.2, 1.5), (0.32, 2.0), (0.5, 3.0), (0.64, 4.0), (0.82, 5.0))


Compensation = Callable[[Bench, float, float], None]  # bench, new cylinder, mean to hold


def keep_mean(bench: Bench, cylinder_d: float, mean_d: float) -> None:
    """Set a cylinder and let the sphere hold the mean; odd quarters wait on the minus side."""
    sphere_d = math.floor(4 * (mean_d - cylinder_d / 2)) / 4
    bench.sets(sphere_d, cylinder_d, bench.axis_deg)


def keep_sphere(bench: Bench, cylinder_d: float, mean_d: float) -> None:
    """Set a cylinder and forget the sphere."""
    bench.sets(bench.sphere_d, cylinder_d, bench.axis_deg)


def size_d(letters: int) -> float:
    """Return the cross cylinder for an acuity."""
    acuity = acuity_logmar(letters)
    return 0.25 if acuity <= 0.31 else 0.50 if acuity <= 0.71 else 1.00


def most_cylinder_d(letters: int) -> float:
    """Return the most cylinder that an acuity can mean."""
    acuity = acuity_logmar(letters)
    return next((most for upto, most in BY_ACUITY_D if acuity <= upto), 6.0)


def first_axis_step_deg(cylinder_d: float) -> int:
    """Return the first turn for a cylinder."""
    size = abs(cylinder_d)
    return 15 if size <= 0.5 else 10 if size <= 1.0 else 5 if size <= 2.0 else 3


def preferred_minus_axis(bench: Bench) -> int | None:
    """Show both faces and ask; return the minus axis of the clearer, None for the same."""
    first = pages.minus_axis(bench.does("show", face=1))
    second = pages.minus_axis(bench.does("show", face=2))
    said = bench.asks("which")
    return {"first": first, "second": second}.get(said)


def hold(bench: Bench, power_d: float, letters: int) -> None:
    """Take up a cross cylinder before a line that is read with ease."""
    bench.hangs("line", acuity_logmar(letters) + 0.1)
    bench.does("hold", tool=f"cross:{power_d:.2f}", at="R.1")


def from_nothing(bench: Bench, letters: int, compensated: Compensation = keep_mean) -> None:
    """Look for a cylinder where none stands, and put half a guess at its axis."""
    power_d = size_d(letters)
    hold(bench, power_d, letters)
    winners = four_views(bench)
    if not winners and acuity_logmar(letters) > EXPECTED_LOGMAR and power_d < 1.0:
        hold(bench, 2 * power_d, letters)
        winners = four_views(bench)
    bench.does("away")
    if not winners:
        return
    size = 0.25 if acuity_logmar(letters) <= 0.0 else most_cylinder_d(letters) / 2
    axis = winners[0] if len(winners) == 1 else midway(*winners)
    bench.axis_deg = axis
    compensated(bench, -size, bench.mean_d)


def four_views(bench: Bench) -> list[int]:
    """Return the minus axes preferred of 90 and 180, and of 45 and 135."""
    winners = []
    for handle in (45, 180):
        bench.does("aim", to=handle)
        winners.append(preferred_minus_axis(bench))
    return [axis for axis in winners if axis is not None]


def midway(one: int, other: int) -> int:
    """Return the axis between two that lie 45 degrees apart."""
    apart = (other - one + 90) % 180 - 90
    return round(one + apart / 2) % 180 or 180


def find_axis(bench: Bench) -> None:
    """Turn toward the preferred minus axis, by half as much after each reversal."""
    bench.does("aim", aim="axis")
    step, last, sames = first_axis_step_deg(bench.cylinder_d), 0, 0
    for _ in range(MOST_TURNS):
        preferred = preferred_minus_axis(bench)
        if preferred is None:
            return
        way = 1 if (preferred - bench.axis_deg) % 180 < 90 else -1
        if last and way != last:
            step //= 2
            sames += 1
        if step < 1 or sames > 2:
            return
        bench.turns(bench.axis_deg + way * step)
        last = way


def find_power(bench: Bench, step_d: float, most_d: float, compensated: Compensation) -> None:
    """Change the cylinder by steps to the same, or to the lower of two that reverse."""
    bench.does("aim", aim="power")
    mean_d, last = bench.mean_d, 0
    for _ in range(MOST_STEPS):
        preferred = preferred_minus_axis(bench)
        if preferred is None:
            return
        along = abs((preferred - bench.axis_deg + 90) % 180 - 90) < 45
        way = -1 if along else 1
        if last == 1 and way == -1:
            return  # the lower of the two stands
        if way == -1 and bench.cylinder_d - step_d < -most_d:
            return
        compensated(bench, bench.cylinder_d + way * step_d, mean_d)
        if not bench.cylinder_d or (last == -1 and way == 1):
            return
        last = way


def refine(
    bench: Bench,
    letters: int,
    compensated: Compensation = keep_mean,
    most_d: float | None = None,
) -> None:
    """Refine axis, then power; after a large change of power the axis again."""
    if not bench.cylinder_d:
        return
    before_d = bench.cylinder_d
    hold(bench, size_d(letters), letters)
    find_axis(bench)
    step_d = 0.25 if acuity_logmar(letters) <= 0.31 else 0.5
    most_d = most_cylinder_d(letters) if most_d is None else most_d
    find_power(bench, step_d, most_d, compensated)
    if bench.cylinder_d and abs(bench.cylinder_d - before_d) >= 0.5:
        find_axis(bench)
    bench.does("away")
