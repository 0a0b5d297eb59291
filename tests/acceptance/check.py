"""One row of the acceptance: a figure for each eye, what is made of them, and what is accepted."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from optics.units import FloatArray

RESAMPLES, SEED = 400, 8191


@dataclass(frozen=True, kw_only=True)
class Check:
    """A row: ``values`` (eyes,), the statistic of them, and its bounds; without them a report.

    ``ours`` marks rows that have no accepted figure but our own.
    """

    name: str
    values: FloatArray
    statistic: Callable[[FloatArray], float]
    least: float | None = None
    most: float | None = None
    unit: str = ""
    ours: bool = False

    @property
    def measured(self) -> float:
        """The statistic of all eyes."""
        return float(self.statistic(self.values))

    @property
    def judged(self) -> bool:
        """Whether anything is accepted or not."""
        return self.least is not None or self.most is not None

    def holds(self, room: float = 0.0) -> bool:
        """Return whether the measured figure lies within the bounds, with some room."""
        above = self.least is None or self.measured >= self.least - room
        return above and (self.most is None or self.measured <= self.most + room)

    @property
    def sampling_sd(self) -> float:
        """The standard deviation of the statistic over other samples of as many such eyes."""
        rng = np.random.default_rng(SEED)
        count = len(self.values)
        again = [
            self.statistic(self.values[rng.integers(0, count, count)]) for _ in range(RESAMPLES)
        ]
        return float(np.std(again))

    @property
    def accepted(self) -> str:
        """The bounds in words."""
        if self.least is not None and self.most is not None:
            return f"{self.least:g} to {self.most:g}{self.unit}"
        if self.least is not None:
            return f"at least {self.least:g}{self.unit}"
        return "–" if self.most is None else f"at most {self.most:g}{self.unit}"


def median(values: FloatArray) -> float:
    """Return the median."""
    return float(np.median(values))


def mean(values: FloatArray) -> float:
    """Return the mean."""
    return float(np.mean(values))


def percent(values: FloatArray) -> float:
    """Return the mean of chances in per cent."""
    return 100.0 * float(np.mean(values))


def percentile(at: float) -> Callable[[FloatArray], float]:
    """Return the statistic below which that many per cent lie."""
    return lambda values: float(np.percentile(values, at))


def largest(values: FloatArray) -> float:
    """Return the largest."""
    return float(np.max(values))
