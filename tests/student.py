"""A student at the bench, for tests: begins an attempt, presses, reads what comes back."""

import html
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from itertools import count
from pathlib import Path

from fastapi.testclient import TestClient
from httpx2 import Response

from server.app import create_app
from server.attempts.state import State, state_of
from server.settings import Settings
from server.store.log import Event
from tests.conftest import OUR_ORIGIN

HTMX = {"HX-Request": "true"}

CASE = """level = {level}

[person]
age = {age}
who = "{who}"
complaint = "It is all a bit soft round the edges."

[right]
need = "{right}"
pd_mm = 31.0

[left]
need = "{left}"
pd_mm = 32.5

[eyes]
pupil_mm = 4.0

[history]
onset = "Since the clocks went back."
which_eye = "Both, I believe."
pain = "No pain."
flashes = "No, none."
health = "Well enough."
spectacles = "I never wore any."
"""


def case_text(right: str = "-1.75", left: str = "-2.00", **changes: object) -> str:
    """Return a case file's text."""
    given = {"level": 1, "age": 30, "who": "a piano tuner"} | changes
    return CASE.format(right=right, left=left, **given)


@dataclass(frozen=True)
class Student:
    """Someone with a browser, an attempt and a tab."""

    client: TestClient
    attempt: str
    tab: str = "tab-1"
    keys: "count[int]" = field(default_factory=count)

    @classmethod
    def begins(
        cls, client: TestClient, mode: str = "teaching", case: str | None = None
    ) -> "Student":
        """Begin an attempt, at the first patient of the casebook if none is named."""
        book = client.app.state.attempts.casebook.cases
        case = case or next(iter(book.values())).public_id
        answer = client.post("/attempts", data={"case": case, "mode": mode}, headers=HTMX)
        assert answer.status_code == 200, answer.text
        return cls(client=client, attempt=answer.headers["HX-Redirect"].rpartition("/")[2])

    @property
    def address(self) -> str:
        return f"/attempts/{self.attempt}"

    def in_another_tab(self) -> "Student":
        return replace(self, tab=self.tab + "-other")

    def press(self, act: str, key: str | None = None, **fields: object) -> Response:
        """Post an act as htmx does, whatever comes back."""
        key = key or f"{self.tab}-{next(self.keys)}"
        data = {"client_key": key, "tab_id": self.tab, **fields}
        words = {name: str(value) for name, value in data.items()}
        return self.client.post(f"{self.address}/{act}", data=words, headers=HTMX)

    def does(self, act: str, **fields: object) -> str:
        """Post an act that must be taken, and return the room."""
        answer = self.press(act, **fields)
        assert answer.status_code == 200, f"{act} {fields}: {answer.text}"
        return answer.text

    def refused(self, act: str, **fields: object) -> str:
        """Post an act that must be refused with nothing written, and return the words."""
        before = self.events
        answer = self.press(act, **fields)
        assert answer.status_code == 422, f"{act} {fields}: {answer.status_code}"
        assert self.events == before
        return html.unescape(answer.text)

    def gets(self, path: str = "", **headers: str) -> Response:
        """Get a part of the attempt; the room alone is a fragment, which htmx asks for."""
        headers = (HTMX if path.startswith("/room") else {}) | headers
        return self.client.get(self.address + path, headers=headers, follow_redirects=False)

    @property
    def events(self) -> tuple[Event, ...]:
        """The attempt's log, as the database has it."""
        return self.client.app.state.store.events(self.attempt)

    @property
    def last(self) -> Event:
        return self.events[-1]

    @property
    def lenses(self) -> dict[str, tuple[str, float]]:
        """What stands where: R.2 to lens code and direction."""
        return {
            f"{one.side.value}.{one.place.value}": (
                one.placed.lens.code,
                one.placed.direction_deg,
            )
            for one in self.state.frame.fitted
        }

    @property
    def state(self) -> State:
        return state_of(self.events)

    @property
    def letters(self) -> tuple[str, ...]:
        """The letters on the wall, row by row."""
        return tuple(row.letters for row in self.state.wall.rows)


@contextmanager
def opened(folder: Path, **cases: str) -> Iterator[TestClient]:
    """Open the application on case files of these names and texts, and act as a browser there."""
    (folder / "cases").mkdir()
    for stem, text in cases.items():
        (folder / "cases" / f"{stem}.toml").write_text(text)
    settings = Settings(data_folder=folder / "data", cases_folder=folder / "cases", render_slots=2)
    origin = {"Origin": OUR_ORIGIN}
    with TestClient(create_app(settings), base_url=OUR_ORIGIN, headers=origin) as browser:
        yield browser


def first_case(client: TestClient) -> str:
    """Return the id of the first patient that the start page offers."""
    found = re.search(r'name="case" value="([0-9a-f]{12})"', client.get("/").text)
    assert found, "the start page offers no patient"
    return found[1]
