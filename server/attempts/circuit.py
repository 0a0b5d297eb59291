"""The times of a circuit: what is open at a moment, by the server's clock alone.

A station opens, its bell rings when its minutes have passed, and the next opens by itself a
minute after the bell, or after the student has left early; it can be opened at once. What
arrives at the bell or later comes too late.
"""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Any, Self

from server.attempts.state import State
from server.errors import Refused, StationClosed

CHANGE_S = 60.0
GRACE_S = 5.0  # what arrived before the bell may still be written so long after it
MOST_STATIONS = 12
LEVELS = (1, 2, 3, 4)
MINUTES = (3, 20)
EXTRA_PERCENT = (0, 25, 50, 100)


@dataclass(frozen=True, slots=True, kw_only=True)
class Standard:
    """What a circuit must reach, in points of 100: common practice, no source."""

    mean: float = 60.0
    least: float = 40.0

    def passed(self, totals: Sequence[float]) -> bool:
        """Return whether the mean and every station are high enough."""
        return sum(totals) / len(totals) >= self.mean and min(totals) >= self.least


STANDARD = Standard()


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """How a circuit is to be.

    Raises
    ------
    Refused
        If a setting is outside what is allowed.
    """

    stations: int = 5
    levels: tuple[int, ...] = (1, 2)
    minutes: int = 10
    extra_percent: int = 0

    def __post_init__(self) -> None:
        _within("stations", self.stations, 1, MOST_STATIONS)
        _within("minutes", self.minutes, *MINUTES)
        if not self.levels or not set(self.levels) <= set(LEVELS):
            raise Refused(f"levels must be one or more of 1 to 4, got {self.levels}", "levels")
        if self.extra_percent not in EXTRA_PERCENT:
            raise Refused(
                f"extra time must be 0, 25, 50 or 100 percent, got {self.extra_percent}", "extra"
            )

    @property
    def plain_s(self) -> float:
        """How long a station lasts without extra time."""
        return 60.0 * self.minutes

    @property
    def station_s(self) -> float:
        """How long a station lasts."""
        return self.plain_s * (100 + self.extra_percent) / 100.0

    def bell(self, began_at: datetime) -> datetime:
        """Return when the bell of a station rings."""
        return began_at + timedelta(seconds=self.station_s)

    def as_body(self) -> dict[str, Any]:
        """Return it as the store keeps it."""
        return asdict(self)

    @classmethod
    def from_body(cls, body: dict[str, Any]) -> Self:
        """Return the plan that the store keeps."""
        return cls(**body | {"levels": tuple(body["levels"])})


def _within(name: str, value: int, least: int, most: int) -> None:
    if not least <= value <= most:
        raise Refused(f"{name} must be {least} to {most}, got {value}", name)


class Phase(StrEnum):
    """Where a circuit stands."""

    READY = "ready"
    STATION = "station"
    CHANGE = "change"
    GATHERING = "gathering"
    OVER = "over"


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened:
    """A station that was opened, and when it was left if that was before its bell."""

    number: int
    began_at: datetime
    left_at: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """What is so at a moment: the phase, the station it is about, until when, and if left early."""

    phase: Phase
    number: int = 0
    until: datetime | None = None
    early: bool = False

    def left_s(self, now: datetime) -> int:
        """Return the whole seconds that are left."""
        return max(0, int((self.until - now).total_seconds())) if self.until else 0


def refuse_late(state: State, arrived: datetime) -> None:
    """Refuse what arrives at a station's bell, later, or after the station was left."""
    at = state.station
    if at is not None and (state.finished or arrived >= at.bell):
        raise StationClosed(at.circuit_id)


def closed_at(plan: Plan, station: Opened) -> datetime:
    """Return when a station closed or will close."""
    return station.left_at or plan.bell(station.began_at)


def due(plan: Plan, last: Opened, now: datetime) -> datetime | None:
    """Return when the station after the last one opened by itself, None if it has not."""
    opens_at = closed_at(plan, last) + timedelta(seconds=CHANGE_S)
    return opens_at if last.number < plan.stations and opens_at <= now else None


def standing(plan: Plan, last: Opened | None, now: datetime) -> Standing:
    """Return where a circuit stands when its last opened station is known and none is due."""
    if last is None:
        return Standing(phase=Phase.READY)
    bell = plan.bell(last.began_at)
    if last.left_at is None and now < bell:
        return Standing(phase=Phase.STATION, number=last.number, until=bell)
    early = last.left_at is not None and last.left_at < bell
    if last.number < plan.stations:
        until = closed_at(plan, last) + timedelta(seconds=CHANGE_S)
        return Standing(phase=Phase.CHANGE, number=last.number, until=until, early=early)
    gathered = bell + timedelta(seconds=GRACE_S)
    if last.left_at is None and now < gathered:
        return Standing(phase=Phase.GATHERING, number=last.number, until=gathered)
    return Standing(phase=Phase.OVER, number=last.number, early=early)
