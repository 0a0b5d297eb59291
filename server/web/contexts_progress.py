"""What the page of progress may see: plain values."""

from dataclasses import dataclass
from typing import ClassVar


@dataclass(frozen=True, slots=True, kw_only=True)
class DoneRow:
    """A finished attempt in the table and on the plot."""

    attempt_id: str
    begun: str
    who: str
    level: int
    mode: str
    total: str
    passed: bool
    error: str
    x: str
    y: str
    error_y: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ProgressPage:
    """What a visitor has done so far."""

    template: ClassVar[str] = "progress/progress.html"
    rows: tuple[DoneRow, ...]
    line: str
    error_line: str
    faults: tuple[tuple[str, str, int], ...]
    kinds: tuple[tuple[str, int, str], ...]
    next_level: int
    next_why: str
    client_key: str
