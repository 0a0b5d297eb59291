"""The page around the room, and the two things that only teaching mode may show."""

import math

from optics.sight.letters import LETTERS, Shape
from server import moment
from server.attempts.clock import clock_text
from server.attempts.service import Attempt
from server.errors import NotFound
from server.web.contexts import Bell, Card, Room, RoomPage
from server.web.notation import Notation

# The same list for every case, so that it tells nothing of this one.
CHECKLIST = (
    "Acuity of each eye, unaided and through the pinhole",
    "Sphere, cylinder and axis of each eye, and the acuity with them",
    "Most plus that keeps the best acuity",
    "The vertex distance, if a power is strong",
    "What happens next: prescribe or not, refer or not",
)
LEAST_SHOWN_D = 0.05


def room_page(attempt: Attempt, room: Room, card: Card) -> RoomPage:
    """Return the page of an attempt that goes on."""
    return RoomPage(
        attempt_id=attempt.row.id,
        age=attempt.case.age_y,
        who=attempt.case.who,
        complaint=attempt.case.complaint,
        level=0 if attempt.state.station else attempt.case.level,
        copied=bool(attempt.state.copied_from),
        room=room,
        card=card,
        checklist=CHECKLIST,
        symbols=letter_symbols(),
        bell=_bell(attempt),
    )


def _bell(attempt: Attempt) -> Bell | None:
    at = attempt.state.station
    if at is None:
        return None
    left_s = max(0, int((at.bell - moment.now()).total_seconds()))
    return Bell(
        words=f"station {at.number} of {at.of}",
        left_s=left_s,
        left=clock_text(left_s),
        leads_to=f"/circuits/{at.circuit_id}",
    )


def address_of(attempt: Attempt) -> str:
    """Return where an attempt is to be seen: its room, its review, or its circuit's page."""
    here, at = f"/attempts/{attempt.row.id}", attempt.state.station
    if not attempt.closed:
        return here
    return f"/circuits/{at.circuit_id}" if at and not attempt.revealed else f"{here}/review"


def letter_symbols() -> tuple[tuple[str, tuple[tuple[str, bool], ...]], ...]:
    """Return the ten letters as drawing paths, y downward, ink or paper painted in turn."""
    return tuple(
        (letter, tuple((_path(shape), shape.ink) for shape in shapes))
        for letter, shapes in LETTERS.items()
    )


def _path(shape: Shape) -> str:
    if shape.corners:
        return "M" + "L".join(f"{x:g} {5 - y:g}" for x, y in shape.corners) + "z"
    (x, y), radius = shape.centre, shape.radius
    start, end = (math.radians(angle) for angle in shape.quarter)
    if end - start > 6.28:
        return (
            f"M{x - radius:g} {5 - y:g}a{radius:g} {radius:g} 0 1 0 {2 * radius:g} 0"
            f"a{radius:g} {radius:g} 0 1 0 {-2 * radius:g} 0z"
        )
    x1, y1 = x + radius * math.cos(start), 5 - y - radius * math.sin(start)
    x2, y2 = x + radius * math.cos(end), 5 - y - radius * math.sin(end)
    large = int(end - start > math.pi + 1e-6)
    return (
        f"M{x:g} {5 - y:g}L{x1:.4g} {y1:.4g}A{radius:g} {radius:g} 0 {large} 0 {x2:.4g} {y2:.4g}z"
    )


def adds_words(accommodation_d: float) -> str:
    """Return what the eye adds in words."""
    if accommodation_d < LEAST_SHOWN_D:
        return "the eye adds nothing"
    return f"the eye adds {accommodation_d:.2f}"


def why_words(attempt: Attempt, number: int, notation: Notation) -> str:
    """Return the reason of an answer.

    Raises
    ------
    NotFound
        Where the mode does not tell, or there is no such answer.
    """
    if attempt.state.mode != "teaching" and not attempt.revealed:
        raise NotFound
    said = next((one for one in attempt.state.talk if one.number == number and one.why), None)
    if said is None:
        raise NotFound
    return notation.in_words(said.why)
