"""Figures that are no letters: the fan, the block, the dots, the spotlight.

Geometry in minutes of arc from the figure's middle as the patient sees it, x to the right, y up,
angles counter-clockwise from x. What is dark on a chart is ink; a spotlight is light.
"""

import math
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

import numpy as np

from optics.errors import TargetError
from optics.units import FloatArray

THINNEST_ARCMIN, THICKEST_ARCMIN = 0.2, 60.0
SPOKES = 12  # lines through the middle, 15 degrees apart
FAN_RADIUS, FAN_EMPTY_RADIUS = 30.0, 8.0  # in strokes; further in, the lines run together
BLOCK_BARS = 6
BLOCK_SIDE = 2.0 * BLOCK_BARS - 1.0  # in strokes, as all below
BLOCK_DIAGONAL = BLOCK_SIDE * math.sqrt(2.0)
BLOCK_MIDDLE = 10.0  # each block's to the side; however they are turned they do not touch
DOTS_RADIUS = 6.53  # of the cluster, the dots' own half included
# Thrown at random with at least 1.9 diameters between middles, then stretched until the second
# moments are those of a round cluster; of four thousand throws the one with the least preferred
# direction among neighbours (twofold, fourfold and sixfold).
DOT_PLACES = (
    *((0.16, 0.74), (3.32, -1.78), (2.58, 0.61), (-1.08, -0.87), (-2.92, -5.27)),
    *((-5.93, -0.1), (5.21, -1.12), (-1.26, -3.62), (0.11, -5.07), (-4.38, -1.42)),
    *((3.55, -4.55), (0.45, 2.73), (4.54, 2.11), (2.69, 2.67), (-2.31, 1.3)),
    *((0.9, -2.24), (-2.17, 3.44), (-4.75, 2.61), (1.85, 4.75), (-0.56, 5.09)),
)
PATCH_SAMPLES = 960  # along the longer side of a figure
MOST_SAMPLES_A_STROKE = 32.0


class FigureKind(StrEnum):
    """What a figure is."""

    FAN = "fan"
    BLOCK = "block"
    DOTS = "dots"
    SPOTLIGHT = "spotlight"


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A figure of a stroke: the width of a line, or the diameter of a dot or light.

    ``turned_deg`` is the direction of the lines of a block's left half in TABO degrees as the
    examiner faces the patient; the right half's stand at right angles to it.
    """

    kind: FigureKind
    stroke_arcmin: float = 3.0
    turned_deg: float = 180.0

    def __post_init__(self) -> None:
        if not isinstance(self.kind, FigureKind):
            raise TargetError(f"kind must be one of {', '.join(FigureKind)}, got {self.kind!r}")
        for name, value, least, most in (
            ("stroke_arcmin", self.stroke_arcmin, THINNEST_ARCMIN, THICKEST_ARCMIN),
            ("turned_deg", self.turned_deg, 1.0, 180.0),
        ):
            if not least <= value <= most:
                raise TargetError(f"{name} must be {least:g} to {most:g}, got {value!r}")

    @property
    def shines(self) -> bool:
        """Whether it is light in the dark, not ink on paper."""
        return self.kind is FigureKind.SPOTLIGHT


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """A straight line of a width; ``angle_deg`` is that of its length."""

    x_arcmin: float
    y_arcmin: float
    length_arcmin: float
    width_arcmin: float
    angle_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Dot:
    """A round dot."""

    x_arcmin: float
    y_arcmin: float
    diameter_arcmin: float


Stroke = Bar | Dot


def hour_angle_deg(hour: float) -> float:
    """Return the direction of an hour on a clock face, counter-clockwise from x, 0 to 360."""
    return (90.0 - 30.0 * hour) % 360.0


def strokes_of(figure: Figure) -> tuple[Stroke, ...]:
    """Return the bars or dots of a figure; none overlaps another.

    A fan's bars go round as a clock's hand does, two an hour, the first at 12.
    """
    stroke = figure.stroke_arcmin
    if figure.kind is FigureKind.FAN:
        return tuple(_spoke(stroke, hour / 2.0) for hour in range(2 * SPOKES))
    if figure.kind is FigureKind.BLOCK:
        chart_deg = 180.0 - figure.turned_deg  # the patient's view mirrors the examiner's
        return (
            *_block(stroke, -BLOCK_MIDDLE, chart_deg),
            *_block(stroke, BLOCK_MIDDLE, chart_deg + 90.0),
        )
    places = DOT_PLACES if figure.kind is FigureKind.DOTS else ((0.0, 0.0),)
    return tuple(
        Dot(x_arcmin=x * stroke, y_arcmin=y * stroke, diameter_arcmin=stroke) for x, y in places
    )


def _spoke(stroke: float, hour: float) -> Bar:
    angle = hour_angle_deg(hour)
    middle = stroke * (FAN_EMPTY_RADIUS + FAN_RADIUS) / 2.0
    return Bar(
        x_arcmin=middle * math.cos(math.radians(angle)),
        y_arcmin=middle * math.sin(math.radians(angle)),
        length_arcmin=stroke * (FAN_RADIUS - FAN_EMPTY_RADIUS),
        width_arcmin=stroke,
        angle_deg=angle,
    )


def _block(stroke: float, middle: float, angle_deg: float) -> tuple[Bar, ...]:
    across = math.radians(angle_deg + 90.0)
    places = (2.0 * bar - BLOCK_BARS + 1.0 for bar in range(BLOCK_BARS))
    return tuple(
        Bar(
            x_arcmin=stroke * (middle + place * math.cos(across)),
            y_arcmin=stroke * place * math.sin(across),
            length_arcmin=stroke * BLOCK_SIDE,
            width_arcmin=stroke,
            angle_deg=angle_deg,
        )
        for place in places
    )


def extent_arcmin(figure: Figure) -> tuple[float, float]:
    """Return the width and height of the room a figure takes, however it is turned."""
    across, tall = {
        FigureKind.FAN: (2.0 * FAN_RADIUS, 2.0 * FAN_RADIUS),
        FigureKind.BLOCK: (2.0 * BLOCK_MIDDLE + BLOCK_DIAGONAL, BLOCK_DIAGONAL),
        FigureKind.DOTS: (2.0 * DOTS_RADIUS, 2.0 * DOTS_RADIUS),
        FigureKind.SPOTLIGHT: (1.0, 1.0),
    }[figure.kind]
    return across * figure.stroke_arcmin, tall * figure.stroke_arcmin


@dataclass(frozen=True, slots=True, kw_only=True)
class Patch:
    """A figure as a fine raster of square samples, 0 to 1, rows downward, centred on it."""

    ink: FloatArray
    step_arcmin: float


@lru_cache(maxsize=6)
def figure_patch(figure: Figure) -> Patch:
    """Return how much of each sample a figure covers, read-only."""
    wide, tall = extent_arcmin(figure)
    longer = max(wide, tall)
    step = max(longer / PATCH_SAMPLES, figure.stroke_arcmin / MOST_SAMPLES_A_STROKE)
    # two samples more, for the soft edge of what touches the border
    columns, rows = (2 * math.ceil(side / step / 2.0) + 2 for side in (wide, tall))
    x = (np.arange(columns) + 0.5 - columns / 2.0) * step
    y = (rows / 2.0 - np.arange(rows) - 0.5) * step
    ink = np.zeros((rows, columns), np.float32)
    for stroke in strokes_of(figure):
        near_x, near_y = _near(stroke, x, y, step)
        covered = _covered(stroke, x[np.newaxis, near_x], y[near_y, np.newaxis], step)
        np.maximum(ink[near_y, near_x], covered, out=ink[near_y, near_x], casting="same_kind")
    ink.setflags(write=False)
    return Patch(ink=ink, step_arcmin=step)


def _near(stroke: Stroke, x: FloatArray, y: FloatArray, step: float) -> tuple[slice, slice]:
    """Return the columns and rows that hold all of a stroke; x rises, y falls."""
    if isinstance(stroke, Dot):
        reach_x = reach_y = stroke.diameter_arcmin / 2.0
    else:
        angle = math.radians(stroke.angle_deg)
        along = abs(math.cos(angle)), abs(math.sin(angle))
        half_length, half_width = stroke.length_arcmin / 2.0, stroke.width_arcmin / 2.0
        reach_x = along[0] * half_length + along[1] * half_width
        reach_y = along[1] * half_length + along[0] * half_width
    left, right = np.searchsorted(
        x, (stroke.x_arcmin - reach_x - step, stroke.x_arcmin + reach_x + step)
    )
    top, bottom = np.searchsorted(
        -y, (-stroke.y_arcmin - reach_y - step, -stroke.y_arcmin + reach_y + step)
    )
    return slice(left, right), slice(top, bottom)


def _covered(stroke: Stroke, x: FloatArray, y: FloatArray, step: float) -> FloatArray:
    """Return the share of samples about points that a stroke covers: an edge one step soft."""
    across, upward = x - stroke.x_arcmin, y - stroke.y_arcmin
    if isinstance(stroke, Dot):
        return _ramp(stroke.diameter_arcmin / 2.0 - np.hypot(across, upward), step)
    angle = math.radians(stroke.angle_deg)
    along = across * math.cos(angle) + upward * math.sin(angle)
    beside = upward * math.cos(angle) - across * math.sin(angle)
    return _ramp(stroke.length_arcmin / 2.0 - np.abs(along), step) * _ramp(
        stroke.width_arcmin / 2.0 - np.abs(beside), step
    )


def _ramp(inward: FloatArray, step: float) -> FloatArray:
    covered: FloatArray = np.clip(inward / step + 0.5, 0.0, 1.0)
    return covered
