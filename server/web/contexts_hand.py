"""What templates see of the hand and of what can be asked: plain values."""

from dataclasses import dataclass

from server.web.contexts_parts import Option


@dataclass(frozen=True, slots=True, kw_only=True)
class RimMark:
    """A sign on the rim of a cross cylinder, where a minus or plus axis ends."""

    sign: str
    x: str
    y: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldView:
    """What is held: its words, its faces, and for a cross cylinder how its handle lies."""

    words: str
    eye: str
    away: bool
    faces: tuple[Option, ...]
    shown: tuple[str, ...]
    up: str
    ready: bool
    handle: str
    aims: tuple[Option, ...]
    grip: tuple[str, str, str, str]
    marks: tuple[RimMark, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class HandView:
    """The tools that can be taken up, and the one that is held."""

    tools: tuple[Option, ...]
    held: HeldView | None


@dataclass(frozen=True, slots=True, kw_only=True)
class AskView:
    """What can be asked now, how it is put, and the patient's time."""

    questions: tuple[Option, ...]
    manners: tuple[Option, ...]
    clock: str
