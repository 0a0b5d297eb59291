"""How a patient student refracts one eye, by letters read and nothing else.

Blur is found by balancing: a lens is tried a little to either side of where it is thought to
belong, and moved until both sides cost the same number of letters.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from statistics import mean

Lens = tuple[float, float, int]  # sphere, cylinder, axis
FOG_D = 1.50
TIMES = 3  # a cylinder is judged on so many readings
SHARP_LETTERS = 10  # fewer than that is fog, whatever a step gains


@dataclass
class Refraction:
    """One eye's refraction; ``read`` puts a lens before it and returns the letters read."""

    read: Callable[[float, float, int], int]
    kept: dict[Lens, list[int]] = field(default_factory=dict)

    def letters(self, sphere_d: float, cylinder_d: float, axis_deg: float, times: int) -> float:
        """Return the mean number of letters read through a lens."""
        axis = (round(axis_deg) - 1) % 180 + 1 if cylinder_d else 180
        readings = self.kept.setdefault((sphere_d, cylinder_d, axis), [])
        while len(readings) < times:
            readings.append(self.read(sphere_d, cylinder_d, axis))
        return mean(readings)

    def unfogged(self, cylinder: tuple[float, float], from_d: float, step_d: float) -> float:
        """Return the most plus from which one more step of minus gains no letters."""
        times, worth = (1, 2.0) if step_d == 0.5 else (4, 1.5)
        sphere_d = from_d
        letters = self.letters(sphere_d, *cylinder, times)
        while True:
            after = self.letters(sphere_d - step_d, *cylinder, times)
            if after - letters < worth and letters > SHARP_LETTERS:
                return sphere_d
            sphere_d, letters = sphere_d - step_d, after

    def result(self) -> Lens:
        """Return the lens that the eye is given."""
        # A little minus in hand: the eye itself then holds its best focus for any cylinder.
        sphere_d = self.unfogged((0.0, 180), FOG_D, 0.5) - 0.25
        four = {axis: self.letters(sphere_d, -1.0, axis, 1) for axis in (45, 90, 135, 180)}
        axis = math.degrees(math.atan2(four[45] - four[135], four[180] - four[90])) / 2.0
        axis = self.balanced_axis(sphere_d, -1.0, round(axis), 25, TIMES)
        cylinder_d = self.balanced_cylinder(sphere_d, axis)
        axis = self.balanced_axis(sphere_d, cylinder_d, axis, 20, TIMES)
        # at the sphere that now reads best, the cylinder once more
        sphere_d = self.unfogged((cylinder_d, axis), sphere_d + 1.0, 0.25)
        cylinder_d = self.balanced_cylinder(sphere_d, axis)
        axis = (axis - 1) % 180 + 1
        return self.unfogged((cylinder_d, axis), sphere_d + 1.0, 0.25), cylinder_d, axis

    def balanced_axis(
        self, sphere_d: float, cylinder_d: float, axis: int, aside: int, times: int
    ) -> int:
        """Return the axis from which a turn either way costs the same."""

        def imbalance(at: float) -> float:
            back, on = (
                self.letters(sphere_d, cylinder_d, at + turn, times) for turn in (-aside, aside)
            )
            return on - back

        return round(balanced(imbalance, axis, 8))

    def balanced_cylinder(self, sphere_d: float, axis: int) -> float:
        """Return the cylinder from which three quarters more or less cost the same."""

        def imbalance(at: float) -> float:
            less, more = (
                self.letters(sphere_d, min(0.0, at + change), axis, TIMES)
                for change in (0.75, -0.75)
            )
            return less - more

        return round(4.0 * balanced(imbalance, -1.0, 0.25)) / 4.0


def balanced(imbalance: Callable[[float], float], start: float, step: float) -> float:
    """Return where an imbalance changes its sign, walking from a start in steps."""
    at, now = start, imbalance(start)
    for _ in range(6):
        onward = at + (step if now > 0 else -step)
        then = imbalance(onward)
        if (then > 0) != (now > 0):
            return at + (onward - at) * abs(now) / (abs(now) + abs(then))
        at, now = onward, then
    return at
