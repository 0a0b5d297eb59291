"""What templates see of what the answers told: plain values."""

from dataclasses import dataclass
from typing import ClassVar


@dataclass(frozen=True, slots=True, kw_only=True)
class ToldRow:
    """One question: what it told, and how well the eye was known after it."""

    number: int
    time: str
    asked: str
    reply: str
    bits: str
    share: str
    nothing: bool
    known: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ToldEye:
    """One eye: its questions, how its uncertainty shrank, what was known at the end."""

    eye: str
    line: str
    enough: str
    rows: tuple[ToldRow, ...]
    known: str
    truth: str
    sufficed: str
    useless: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ToldView:
    """What the answers of an attempt told, eye by eye."""

    template: ClassVar[str] = "review/_told.html"
    attempt_id: str
    eyes: tuple[ToldEye, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ToldSoFar:
    """In teaching mode: what is known of the selected eye now, and what to ask next."""

    template: ClassVar[str] = "room/_told.html"
    eye: str
    known: str
    spread: str
    asked: int
    next_ones: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class NextOnes:
    """The most telling questions at a step."""

    template: ClassVar[str] = "review/_next.html"
    next_ones: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ToldWaiting:
    """How far the table of nominal eyes is."""

    template: ClassVar[str] = "review/_told_waiting.html"
    address: str
    done: int
    total: int
    failed: bool
