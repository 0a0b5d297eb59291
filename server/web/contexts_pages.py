"""What templates of whole pages may see besides the room: frozen, plain values."""

from dataclasses import dataclass
from typing import ClassVar

from server.web.contexts_circuit import CircuitStart
from server.web.contexts_parts import Option
from server.web.contexts_review import FaultView, MarkView


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseCard:
    """A patient on the start page."""

    public_id: str
    age: int
    who: str
    complaint: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PastAttempt:
    """An attempt of this browser."""

    attempt_id: str
    who: str
    mode: str
    begun: str
    questions: int


@dataclass(frozen=True, slots=True, kw_only=True)
class HomePage:
    """The start page."""

    template: ClassVar[str] = "home/home.html"
    first_id: str
    levels: tuple[tuple[int, str, tuple[CaseCard, ...]], ...]
    unfinished: tuple[PastAttempt, ...]
    finished: tuple[PastAttempt, ...]
    circuits: CircuitStart
    acuity_forms: tuple[Option, ...]
    cylinder_forms: tuple[Option, ...]
    client_key: str
    broken: int


@dataclass(frozen=True, slots=True, kw_only=True)
class EyeResult:
    """One eye's answer beside its truth, as written."""

    name: str
    given: tuple[str, str, str]
    truth: tuple[str, str, str]
    need: str
    best: str
    recorded: str
    distance: str
    error: str
    band: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewStep:
    """One event of the log in words; ``eye`` R or L where a picture shows what it changed."""

    number: int
    eye: str
    time: str
    words: str
    reply: str
    why: str
    kind: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewPage:
    """What an attempt came to."""

    template: ClassVar[str] = "review/review.html"
    attempt_id: str
    age: int
    who: str
    mode: str
    sentence: str
    mark: MarkView
    faults: tuple[FaultView, ...]
    eyes: tuple[EyeResult, ...]
    next_steps: tuple[tuple[str, str, str], ...]
    because: str
    steps: tuple[ReviewStep, ...]
    again_id: str
    client_key: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WatchStep:
    """One step of the demonstration."""

    number: int
    title: str
    words: str
    before: str
    acuity: str
    adds: str
    picture: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WatchPage:
    """The demonstration; its eye has nothing to hide."""

    template: ClassVar[str] = "home/watch.html"
    steps: tuple[WatchStep, ...]
    need: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TextPage:
    """A page of words: help and glossary, the demonstration."""

    template: ClassVar[str] = "home/words.html"
    title: str
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FailurePage:
    """A calm sentence about what went wrong."""

    template: ClassVar[str] = "failure.html"
    title: str
    message: str
    leads_to: str = ""
    leads_words: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FailureFragment(FailurePage):
    """The same inside a page."""

    template: ClassVar[str] = "_alert.html"
