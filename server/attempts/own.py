"""A visitor's own data as one document: every attempt, its log, its marks."""

from collections.abc import Mapping
from typing import Any

from server.attempts.service import Attempt, Attempts

# of an attempt that goes on nothing leaves that was kept back in the room
KEPT_BACK = {"why", "facts", "case"}


def own_data(service: Attempts, session_id: int) -> dict[str, Any]:
    """Return what is kept of a session; what an attempt hides stays hidden until it has ended."""
    return {
        "attempts": [_attempt(service, one) for one in service.of_session(session_id, exams=True)]
    }


def _attempt(service: Attempts, one: Attempt) -> dict[str, Any]:
    ended = one.revealed
    return {
        "patient": f"{one.case.who}, {one.case.age_y}",
        "mode": one.state.mode,
        "begun": one.row.created_at.isoformat(),
        "ended": ended,
        "copy": bool(one.state.copied_from),
        "mark": service.mark(one).as_body() if ended else None,
        "events": [
            {
                "number": event.number,
                "at": event.at.isoformat(),
                "kind": event.kind,
                "facts": _open(event.body, ended=ended),
            }
            for event in one.events
        ],
    }


def _open(body: Mapping[str, Any], *, ended: bool) -> dict[str, Any]:
    return {name: value for name, value in body.items() if ended or name not in KEPT_BACK}
