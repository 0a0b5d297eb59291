"""Someone who sits a circuit, and a clock that tests set."""

import re
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

import pytest
from fastapi.testclient import TestClient
from httpx2 import Response

from server.store.circuits import CircuitStore, StationRow
from tests.student import HTMX, Student, case_text

NOON = datetime(2026, 3, 1, 12, 0, 0, tzinfo=UTC)
RANGES = """
[range]
age = [25, 35]

[range.right]
sphere_d = [-3.0, -1.0]
cylinder_d = [-0.45, -0.1]
axis_deg = [1, 180]

[range.left]
sphere_d = [-3.0, -1.0]
"""


def ranged(**changes: object) -> str:
    """Return a case's text from whose ranges an exam can draw."""
    return case_text(**changes) + RANGES


class Clock:
    """The server's time, at noon until it is moved."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.now = NOON
        monkeypatch.setattr("server.moment.now", lambda: self.now)

    def at(self, seconds: float) -> None:
        """Set it to so many seconds after noon."""
        self.now = NOON + timedelta(seconds=seconds)


@dataclass(frozen=True)
class Sitting:
    """A browser and its circuit."""

    client: TestClient
    circuit: str
    fields: dict[str, object] = field(default_factory=dict)

    @classmethod
    def begins(cls, client: TestClient, **changes: object) -> "Sitting":
        """Make a circuit: two stations of five minutes, level 1, unless told otherwise."""
        fields = {"stations": 2, "levels": 1, "minutes": 5} | changes
        answer = client.post("/circuits", data=fields, headers=HTMX)
        assert answer.status_code == 200, answer.text
        return cls(client, answer.headers["HX-Redirect"].rpartition("/")[2], fields)

    @property
    def address(self) -> str:
        return f"/circuits/{self.circuit}"

    @property
    def stations(self) -> tuple[StationRow, ...]:
        """The stations, as the database has them."""
        return CircuitStore(self.client.app.state.store).stations(self.circuit)

    @property
    def opened(self) -> list[float]:
        """When stations were opened, in seconds after noon."""
        return [(one.began_at - NOON).total_seconds() for one in self.stations if one.began_at]

    def looks(self) -> Response:
        """Get the circuit's page, without following where it leads."""
        return self.client.get(self.address, follow_redirects=False)

    def presses_next(self, number: int) -> Response:
        return self.client.post(
            f"{self.address}/next", data={"station": number}, follow_redirects=False
        )

    def enters(self, number: int) -> Student:
        """Open a station and sit down at it."""
        assert self.presses_next(number).status_code == 303
        return self.sits()

    def sits(self, tab: str = "tab-1") -> Student:
        """Go where the circuit's page leads while a station is open."""
        answer = self.looks()
        assert answer.status_code == 303, answer.text
        place = answer.headers["location"]
        assert place.startswith("/attempts/"), place
        return Student(client=self.client, attempt=place.rpartition("/")[2], tab=tab)

    @property
    def title(self) -> str:
        found = re.search(r"<h1>(.*?)</h1>", self.looks().text)
        assert found
        return found[1]

    @property
    def left_s(self) -> int:
        """The seconds left that the circuit's page or the open room says."""
        return left_in(self.client.get(self.address).text)


def session_of(sitting: Sitting) -> int:
    """Return the session that a circuit belongs to."""
    circuits = sitting.client.app.state.exams._circuits
    for session_id in range(1, 5):
        if circuits.find(sitting.circuit, session_id):
            return session_id
    raise LookupError


def left_in(page: str) -> int:
    found = re.search(r'data-left="(\d+)"', page)
    assert found, "no time is left to be read"
    return int(found[1])


def sees_nothing_ahead(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let no eye be looked through before a question asks for it: tests need not wait for it."""
    monkeypatch.setattr("server.attempts.foresight.Foresight.see", lambda *_: None)
