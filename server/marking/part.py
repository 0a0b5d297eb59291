"""A part of a mark and its lines: what was earned, of how much, and what was charged."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One item: points of the most that it can bring; a charge has points below zero and no most.

    ``details`` (name, words) fold behind it; ``fault`` is the key of the fault that it is
    charged for; ``instead`` what earns it next time.
    """

    words: str
    points: float
    most: float = 0.0
    details: tuple[tuple[str, str], ...] = ()
    fault: str = ""
    instead: str = ""

    @property
    def lost(self) -> float:
        """The points that it costs."""
        return max(self.most, 0.0) - self.points

    @classmethod
    def from_body(cls, body: Mapping[str, Any]) -> "Line":
        """Return what was stored."""
        details = tuple((str(name), str(words)) for name, words in body["details"])
        return cls(**dict(body) | {"details": details})


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One part of the mark, in points before scaling; never below zero."""

    key: str
    title: str
    points: float
    most: float
    lines: tuple[Line, ...]

    @classmethod
    def of(cls, key: str, title: str, lines: Iterable[Line], cap: float = 1000.0) -> "Part":
        """Return the part that lines add up to, at most the cap."""
        lines = tuple(lines)
        points = min(max(0.0, sum(line.points for line in lines)), cap)
        return cls(
            key=key,
            title=title,
            points=round(points, 6),
            most=round(sum(line.most for line in lines), 6),
            lines=lines,
        )

    @classmethod
    def from_body(cls, body: Mapping[str, Any]) -> "Part":
        """Return what was stored."""
        lines = tuple(Line.from_body(one) for one in body["lines"])
        return cls(**dict(body) | {"lines": lines})
