"""One row of the validation table: what was published, what the engine says, and the verdict."""

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from enum import StrEnum

from optics.errors import OpticsError
from optics.validation.sample import Sample
from optics.validation.sources import Source

GROWTH = 0.005  # a recorded miss may differ by this much before it counts as grown


class Group(StrEnum):
    """What a row may claim."""

    EXACT = "exact"  # optics and arithmetic: must hold
    FITTED = "fitted"  # the engine's constants were fitted to these
    HELD_OUT = "held out"  # published acuities that no constant was fitted to
    BAND = "band"  # people differ: the value must lie in a published range
    BIAS = "known bias"  # what the engine is known to get wrong


class Verdict(StrEnum):
    """How a row came out."""

    HOLDS = "holds"
    BETTER = "holds; recorded miss gone"
    KNOWN = "known miss"
    FAILED = "FAILED"


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """The published value and what may be: ``least`` to ``most``, either may be infinite."""

    text: str
    least: float
    most: float

    def miss(self, ours: float) -> float:
        """Return how far a value lies outside, 0 within; infinite if it is no number."""
        if not math.isfinite(ours):
            return math.inf
        return max(0.0, self.least - ours, ours - self.most)


def about(published: float, tolerance: float, digits: int = 2) -> Wanted:
    """Return a value with a tolerance either side."""
    text = f"{published:.{digits}f} ± {_short(tolerance)}"
    return Wanted(text=text, least=published - tolerance, most=published + tolerance)


def _short(tolerance: float) -> str:
    """Return a tolerance with two decimals, or as many as show two figures of it."""
    return (
        f"{tolerance:.2f}" if tolerance >= 0.095 else f"{float(f'{tolerance:.2g}'):.4f}".rstrip("0")
    )


def within(least: float, most: float, digits: int = 2) -> Wanted:
    """Return a range."""
    return Wanted(text=f"{least:.{digits}f} to {most:.{digits}f}", least=least, most=most)


def at_most(most: float, digits: int = 2) -> Wanted:
    """Return an upper bound."""
    return Wanted(text=f"at most {most:.{digits}f}", least=-math.inf, most=most)


def at_least(least: float, digits: int = 2) -> Wanted:
    """Return a lower bound."""
    return Wanted(text=f"at least {least:.{digits}f}", least=least, most=math.inf)


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One published value.

    ``ours`` computes the engine's own from a sample of eyes; ``catches`` names the wrong model
    that this row would find out; ``recorded_miss`` is by how much it is known to lie outside,
    with the ``reason``.
    """

    group: Group
    condition: str
    wanted: Wanted
    unit: str
    source: Source
    catches: str
    ours: Callable[[Sample], float] = field(repr=False)
    recorded_miss: float = 0.0
    reason: str = ""

    def __post_init__(self) -> None:
        if self.recorded_miss and (self.group is Group.EXACT or not self.reason):
            raise OpticsError(f"{self.condition}: a recorded miss needs a reason, and no exact row")

    def checked(self, sample: Sample) -> "Result":
        """Return the row with the engine's value and the verdict."""
        ours = self.ours(sample)
        miss = self.wanted.miss(ours)
        return Result(row=self, ours=ours, miss=miss, verdict=self._verdict(miss))

    def _verdict(self, miss: float) -> Verdict:
        if miss == 0.0:
            return Verdict.BETTER if self.recorded_miss else Verdict.HOLDS
        if self.recorded_miss and miss <= self.recorded_miss + GROWTH:
            return Verdict.KNOWN
        return Verdict.FAILED


@dataclass(frozen=True, slots=True, kw_only=True)
class Result:
    """A row that was checked; ``miss`` is how far the value lies outside."""

    row: Row
    ours: float
    miss: float
    verdict: Verdict


def exact(
    condition: str,
    wanted: Wanted,
    source: Source,
    ours: Callable[[], float],
    *,
    catches: str,
    unit: str = "",
) -> Row:
    """Return a row of optics or arithmetic, which needs no sample of eyes."""
    return Row(
        group=Group.EXACT,
        condition=condition,
        wanted=wanted,
        unit=unit,
        source=source,
        catches=catches,
        ours=lambda _: ours(),
    )
