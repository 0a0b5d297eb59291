"""Someone who does everything in a room and keeps all that comes back, for tests of secrecy."""

import dataclasses
import hashlib
import itertools
import typing
import uuid
from datetime import UTC, datetime

import pytest

from tests.student import HTMX, Student

# Every route but the last two acts, in an order in which each does what it is for.
PLAY = (
    ("GET", "/health", {}),
    ("GET", "/help", {}),
    ("GET", "/how-true", {}),
    ("GET", "/how-true/progress", {}),
    ("GET", "/watch", {}),
    ("GET", "/watch/{number}.png", {}),
    ("GET", "/static", {}),
    ("POST", "/notation", {"acuity": "6", "cylinder": "minus"}),
    ("POST", "/attempts/{attempt_id}/place", {"at": "R.2", "code": "sphere-1.00"}),
    ("POST", "/attempts/{attempt_id}/place", {"at": "R.2", "code": "sphere-1.50"}),
    ("POST", "/attempts/{attempt_id}/place", {"at": "R.3", "code": "cylinder-0.50"}),
    ("POST", "/attempts/{attempt_id}/place", {"at": "L.4", "code": "occluder"}),
    ("POST", "/attempts/{attempt_id}/step", {"at": "R.2", "step": "minus"}),
    ("POST", "/attempts/{attempt_id}/turn", {"at": "R.3", "to": "90"}),
    ("POST", "/attempts/{attempt_id}/move", {"at": "R.3", "to": "R.4"}),
    ("POST", "/attempts/{attempt_id}/take", {"at": "R.4"}),
    ("POST", "/attempts/{attempt_id}/ask", {"question": "read-down"}),
    ("POST", "/attempts/{attempt_id}/ask", {"question": "read-down", "start": "0.2"}),
    ("GET", "/attempts/{attempt_id}/why/{number}", {}),
    ("POST", "/attempts/{attempt_id}/hold", {"at": "R.2", "tool": "cross:0.50"}),
    ("POST", "/attempts/{attempt_id}/aim", {"aim": "power"}),
    ("POST", "/attempts/{attempt_id}/show", {"face": "1"}),
    ("POST", "/attempts/{attempt_id}/show", {"face": "2"}),
    ("POST", "/attempts/{attempt_id}/ask", {"question": "which"}),
    ("POST", "/attempts/{attempt_id}/swap", {}),
    ("POST", "/attempts/{attempt_id}/away", {}),
    ("POST", "/attempts/{attempt_id}/ask", {"question": "better"}),
    ("POST", "/attempts/{attempt_id}/ask", {"question": "smaller"}),
    ("POST", "/attempts/{attempt_id}/ask", {"question": "more"}),
    ("POST", "/attempts/{attempt_id}/ask", {"question": "wait"}),
    ("POST", "/attempts/{attempt_id}/ask", {"question": "nearer"}),
    ("POST", "/attempts/{attempt_id}/wall", {"view": "fan"}),
    ("POST", "/attempts/{attempt_id}/ask", {"question": "lines"}),
    ("POST", "/attempts/{attempt_id}/wall", {"view": "block", "block": "30"}),
    ("POST", "/attempts/{attempt_id}/ask", {"question": "blocks"}),
    ("POST", "/attempts/{attempt_id}/wall", {"view": "duochrome"}),
    ("POST", "/attempts/{attempt_id}/ask", {"question": "colour"}),
    ("POST", "/attempts/{attempt_id}/wall", {"view": "spotlight"}),
    ("POST", "/attempts/{attempt_id}/ask", {"question": "doubled"}),
    ("GET", "/attempts/{attempt_id}/adds/{number}", {}),
    ("POST", "/attempts/{attempt_id}/history", {"topic": "onset"}),
    ("POST", "/attempts/{attempt_id}/wall", {"view": "line", "line": "0.2"}),
    ("POST", "/attempts/{attempt_id}/letters", {}),
    ("POST", "/attempts/{attempt_id}/fit", {"vertex_mm": "14"}),
    ("POST", "/attempts/{attempt_id}/undo", {}),
    ("POST", "/attempts/{attempt_id}/dismiss", {}),
    ("POST", "/attempts/{attempt_id}/card", {"field": "right_sphere", "text": "-1.25"}),
    ("GET", "/attempts/{attempt_id}/pictures/{number}-{side}-{nonce}.png", {"side": "R"}),
    ("POST", "/attempts/{attempt_id}/picture", {}),
    ("GET", "/attempts/{attempt_id}/pictures/{number}-{side}-{nonce}.png", {"side": "R"}),
    ("GET", "/attempts/{attempt_id}/pictures/{number}-{side}-{nonce}.png", {"side": "L"}),
    (
        "GET",
        "/attempts/{attempt_id}/pictures/{number}-{side}-{nonce}.png",
        {"side": "R", "look": "3"},
    ),
    ("GET", "/attempts/{attempt_id}/review", {}),
    ("POST", "/attempts/{attempt_id}/again", {"number": "1"}),
    ("GET", "/attempts/{attempt_id}/review/timeline", {}),
    ("GET", "/attempts/{attempt_id}/review/told", {}),
    ("GET", "/attempts/{attempt_id}/review/next/{number}", {}),
    ("GET", "/attempts/{attempt_id}/told", {}),
    ("GET", "/progress", {}),
    ("GET", "/progress/export.json", {}),
    ("GET", "/attempts/{attempt_id}/room", {}),
    ("GET", "/attempts/{attempt_id}", {}),
    ("GET", "/", {}),
    # no case here has ranges: tests/test_exam.py looks for figures in a circuit
    ("POST", "/circuits", {"stations": "1", "levels": "1", "minutes": "5"}),
    ("GET", "/circuits/{circuit_id}", {}),
    ("POST", "/circuits/{circuit_id}/next", {"station": "1"}),
)


@dataclasses.dataclass
class Audience:
    """Someone who does everything and keeps all that comes back."""

    student: Student
    heard: list[tuple[str, typing.Any]] = dataclasses.field(default_factory=list)
    visited: set[tuple[str, str]] = dataclasses.field(default_factory=set)

    def does(self, method: str, template: str, fields: dict[str, str], **headers: str) -> None:
        self.visited.add((method, template))
        said = next((one for one in self.student.state.talk), None)
        number = said.number if said and "/why/" in template else self.student.last.number
        path = template.format(
            attempt_id=self.student.attempt,
            number=2 if template.startswith("/watch") else number,
            side=fields.get("side", ""),
            nonce="0",
            circuit_id="nobody",
        )
        path += "/app.css" if template == "/static" else ""
        path += f"?look={fields['look']}" if "look" in fields else ""
        data = fields | {"client_key": f"key-{len(self.heard):06}", "tab_id": "tab"}
        self.listens(method, path, data if method == "POST" else None, headers)

    def listens(self, method: str, path: str, data: object, headers: dict[str, str]) -> None:
        answer = self.student.client.request(
            method, path, data=data, headers=headers, follow_redirects=False
        )
        self.heard.append((f"{method} {path}", answer))

    def provokes(self) -> set[int]:
        """Make every kind of fault a visitor can make, and return their numbers."""
        first, here = len(self.heard), self.student.address
        other = self.student.in_another_tab()
        other.press("letters")
        for headers in (HTMX, {}):
            for method, path, data in (
                ("POST", f"{here}/place", {"code": "sphere-9.87", "at": "R.1"}),
                ("POST", f"{here}/place", {"code": "sphere-1.00", "at": "R.2"}),
                ("POST", f"{here}/ask", {"question": "what is the need?"}),
                ("POST", f"{here}/card", {"field": "need", "text": "?"}),
                ("POST", f"{here}/card", {"field": "right_axis", "text": "200"}),
                ("POST", f"{here}/letters", {"seen": "1", "tab_id": "stale"}),
                ("POST", f"{here}/card", {"field": "comments", "seen": "1", "tab_id": "stale"}),
                ("POST", f"{here}/letters", {"more": "x" * 70_000}),
                ("GET", f"{here}/why/1", None),
                ("GET", f"{here}/adds/999", None),
                ("GET", f"{here}/pictures/999-R-0.png", None),
                ("GET", "/attempts/nobody", None),
                ("DELETE", here, None),
            ):
                self.listens(method, path, data, headers)
            foreign = headers | {"Origin": "http://elsewhere.example"}
            self.listens("POST", f"{here}/letters", {}, foreign)
        return {answer.status_code for _, answer in self.heard[first:]}


def plays(audience: Audience) -> None:
    for method, template, fields in PLAY:
        audience.does(method, template, fields, **(HTMX if method == "POST" else {}))


def everything_in(answer) -> str:
    """Return headers, cookies among them, and the body as text; pixels are left out."""
    headers = "\n".join(f"{name}: {value}" for name, value in answer.headers.multi_items())
    if answer.headers.get("content-type") == "image/png":
        return headers
    return f"{headers}\n{answer.text}"


class Clockwork:
    """Chance and time of the server, the same for every run."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        ticks = itertools.count(1)

        def some(size: int = 16) -> bytes:
            return hashlib.sha256(str(next(ticks)).encode()).digest()[:size]

        def later() -> datetime:
            return datetime(2026, 3, 1, 12, 0, next(ticks) % 60, tzinfo=UTC)

        monkeypatch.setattr("secrets.token_bytes", some)
        monkeypatch.setattr("secrets.token_hex", lambda size: some(size).hex())
        monkeypatch.setattr("secrets.token_urlsafe", lambda size: some(size).hex()[:22])
        monkeypatch.setattr("uuid.uuid4", lambda: uuid.UUID(bytes=some()))
        monkeypatch.setattr("server.attempts.service._now", later)
        monkeypatch.setattr("server.moment.now", later)
