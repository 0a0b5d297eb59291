"""What the page about the engine's truth may see: frozen, plain values, nothing of any case."""

from dataclasses import dataclass
from typing import ClassVar


@dataclass(frozen=True, slots=True, kw_only=True)
class Tick:
    """A mark on an axis: its place in the drawing and its words."""

    at: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlotCurve:
    """One curve: its points, the outline of its range between eyes, how it is drawn and named."""

    style: str
    name: str
    line: str
    spread: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlotPoint:
    """A published value with its tolerance, as places in the drawing."""

    x: str
    y: str
    top: str
    bottom: str
    limit: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class PlotBest:
    """A published range of the best place, as a bar above a curve."""

    left: str
    right: str
    y: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlotRow:
    """One line of the table beside a plot."""

    at: str
    ours: tuple[str, ...]
    published: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlotView:
    """A plot ready to be drawn; lengths in units of its drawing, 480 by 340."""

    key: str
    title: str
    says: str
    x_name: str
    x_ticks: tuple[Tick, ...]
    y_ticks: tuple[Tick, ...]
    right_name: str
    right_ticks: tuple[Tick, ...]
    left: str
    right: str
    top: str
    bottom: str
    curves: tuple[PlotCurve, ...]
    published_name: str
    published_line: str
    points: tuple[PlotPoint, ...]
    points_name: str
    best: tuple[PlotBest, ...]
    best_words: tuple[str, ...]
    heads: tuple[str, ...]
    rows: tuple[PlotRow, ...]
    sources: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueRow:
    """A row of the table as words."""

    condition: str
    published: str
    ours: str
    unit: str
    verdict: str
    state: str
    source: str
    from_memory: bool
    catches: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueGroup:
    """The rows of one claim, by subject."""

    key: str
    title: str
    says: str
    count: int
    missed: int
    open: bool
    subjects: tuple[tuple[str, tuple[TrueRow, ...]], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StillWrong:
    """What the engine gets wrong, why, and the rows that show it."""

    reason: str
    failed: bool
    rows: tuple[TrueRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class HowTrueProgress:
    """How far the table is; a fragment asked for again and again."""

    template: ClassVar[str] = "evidence/_progress.html"
    done: int
    total: int
    failed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class HowTrueWaiting:
    """The page while the table is computed."""

    template: ClassVar[str] = "evidence/waiting.html"
    progress: HowTrueProgress


@dataclass(frozen=True, slots=True, kw_only=True)
class HowTruePage:
    """The page: misses, plots, the table."""

    template: ClassVar[str] = "evidence/how_true.html"
    engine: str
    count: int
    holding: int
    known: int
    failed: int
    wrong: tuple[StillWrong, ...]
    plots: tuple[PlotView, ...]
    groups: tuple[TrueGroup, ...]
