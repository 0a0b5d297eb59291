"""What templates may see of a figure on the wall: plain values, lengths in the drawing's units."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnBar:
    """A line; ``named`` where the patient called it the blackest."""

    x1: str
    y1: str
    x2: str
    y2: str
    width: str
    named: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnDot:
    """A round dot or light."""

    x: str
    y: str
    radius: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnLabel:
    """Words beside a figure, centred on their place."""

    x: str
    y: str
    words: str
    named: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class FigureDrawing:
    """A figure as the examiner sees it on the wall; y runs downward.

    ``label`` tells in words what hangs there; ``shines``: light on a dark wall.
    """

    label: str
    left: str
    top: str
    wide: str
    tall: str
    letter_size: str
    shines: bool
    bars: tuple[DrawnBar, ...]
    dots: tuple[DrawnDot, ...]
    labels: tuple[DrawnLabel, ...]
