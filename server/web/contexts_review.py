"""What the review's plots may see: plain values, lengths in the drawing's units."""

from dataclasses import dataclass
from typing import ClassVar


@dataclass(frozen=True, slots=True, kw_only=True)
class LineView:
    """One line of a part of the mark: words, points, what folds behind it, its fault's number."""

    words: str
    points: str
    charge: bool
    details: tuple[tuple[str, str], ...]
    fault: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PartView:
    """One part of the mark: its points, of how many, and as a share for its bar."""

    title: str
    points: str
    most: str
    share: str
    lines: tuple[LineView, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class EvidenceView:
    """Where a fault shows."""

    number: int
    time: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultView:
    """A fault: its number on this page, what it costs, why it matters, what to do instead."""

    label: str
    title: str
    weight: str
    charge: str
    why: str
    instead: str
    evidence: tuple[EvidenceView, ...]
    more: int


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkView:
    """The mark with its parts; what was left out, and the rules that it was made by.

    ``own_weights`` says whether they are the patient's own.
    """

    total: str
    passed: bool
    counts: bool
    one_thing: str
    parts: tuple[PartView, ...]
    caps: tuple[str, ...]
    left_out: tuple[str, ...]
    own_weights: bool
    rules: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A tick of an axis and its words."""

    at: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AlongLine:
    """One eye along the patient's time: pieces of a line, broken where the eye is covered."""

    eye: str
    error: tuple[str, ...]
    acuity: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedAt:
    """A question on the timeline."""

    x: str
    number: int
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultAt:
    """A fault on the timeline: its number in the list of faults."""

    x: str
    label: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AlongRow:
    """A row of the table beside the timeline."""

    time: str
    what: str
    right: str
    left: str
    acuity: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Ring:
    """A ring about the end point; its words stand ``at`` to the right of it and below."""

    radius: str
    at: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PathView:
    """One eye's way in the (J0, J45) plane, its end point in the middle, with M beside it."""

    eye: str
    line: str
    first: tuple[str, str]
    last: tuple[str, str]
    rings: tuple[Ring, ...]
    m_line: str
    m_last: str
    m_ticks: tuple[Mark, ...]
    m_zero: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TimelineView:
    """The attempt along the patient's time."""

    template: ClassVar[str] = "review/_timeline.html"
    attempt_id: str
    lines: tuple[AlongLine, ...]
    asked: tuple[AskedAt, ...]
    faults: tuple[FaultAt, ...]
    error_ticks: tuple[Mark, ...]
    acuity_ticks: tuple[Mark, ...]
    time_ticks: tuple[Mark, ...]
    rows: tuple[AlongRow, ...]
    paths: tuple[PathView, ...]
