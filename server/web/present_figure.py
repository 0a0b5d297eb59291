"""A figure on the wall as the examiner sees it: lines and dots to draw, what is written there."""

import math
from collections.abc import Sequence

from optics.sight.figures import (
    BLOCK_MIDDLE,
    Bar,
    Dot,
    Figure,
    FigureKind,
    extent_arcmin,
    hour_angle_deg,
    strokes_of,
)
from server.web.contexts_wall import DrawnBar, DrawnDot, DrawnLabel, FigureDrawing

# in strokes
ROOM, ROOM_FOR_LIGHT = 2.0, 8.0  # about what hangs there
LETTER_SIZE = {FigureKind.FAN: 5.0, FigureKind.BLOCK: 3.0}
HOURS_AT, DEGREES_AT = 34.0, 43.0  # from the middle of the fan
WRITING_BELOW = 3.5  # under the blocks


def figure_drawing(
    figure: Figure, blackest_hours: Sequence[float] = (), *, degrees: bool = False
) -> FigureDrawing:
    """Return a figure with what is written on it.

    ``blackest_hours`` marks lines of the fan, by either of their two hours, halves allowed;
    ``degrees`` writes at the hours 1 to 6 the axis of the minus cylinder that a blackest line
    there asks for: 30 times the lower hour.
    """
    named = {_line(hour) for hour in blackest_hours}
    strokes, stroke = strokes_of(figure), figure.stroke_arcmin
    labels = _labels(figure, named, degrees=degrees)
    half_wide, top, bottom = _room(figure, bool(labels), degrees=degrees)
    return FigureDrawing(
        label=_words(figure, named),
        left=_number(-half_wide),
        top=_number(-top),
        wide=_number(2.0 * half_wide),
        tall=_number(top + bottom),
        letter_size=_number(LETTER_SIZE.get(figure.kind, 0.0) * stroke),
        shines=figure.shines,
        bars=tuple(
            _bar(one, named=figure.kind is FigureKind.FAN and _line(number / 2.0) in named)
            for number, one in enumerate(strokes)
            if isinstance(one, Bar)
        ),
        dots=tuple(
            DrawnDot(
                x=_number(one.x_arcmin),
                y=_number(-one.y_arcmin),
                radius=_number(one.diameter_arcmin / 2.0),
            )
            for one in strokes
            if isinstance(one, Dot)
        ),
        labels=labels,
    )


def _line(hour: float) -> float:
    """Return the lower hour of a line through the middle, above 0 up to 6."""
    return (hour % 6.0) or 6.0


def _bar(bar: Bar, *, named: bool) -> DrawnBar:
    angle = math.radians(bar.angle_deg)
    along = math.cos(angle) * bar.length_arcmin / 2.0, math.sin(angle) * bar.length_arcmin / 2.0
    return DrawnBar(
        x1=_number(bar.x_arcmin - along[0]),
        y1=_number(-bar.y_arcmin + along[1]),
        x2=_number(bar.x_arcmin + along[0]),
        y2=_number(-bar.y_arcmin - along[1]),
        width=_number(bar.width_arcmin),
        named=named,
    )


def _room(figure: Figure, labelled: bool, *, degrees: bool) -> tuple[float, float, float]:
    """Return how far a drawing reaches to each side, up and down, in minutes of arc."""
    stroke = figure.stroke_arcmin
    wide, tall = extent_arcmin(figure)
    rim = (ROOM_FOR_LIGHT if figure.shines else ROOM) * stroke
    if figure.kind is FigureKind.FAN:
        reach = ((DEGREES_AT if degrees else HOURS_AT) + 5.0) * stroke
        return reach, reach, reach
    below = (WRITING_BELOW + ROOM) * stroke if labelled else rim
    return wide / 2.0 + rim, tall / 2.0 + rim, tall / 2.0 + below


def _labels(figure: Figure, named: set[float], *, degrees: bool) -> tuple[DrawnLabel, ...]:
    if figure.kind is FigureKind.FAN:
        hours = [
            _round_the_clock(figure, HOURS_AT, hour, f"{hour}", named) for hour in range(1, 13)
        ]
        axes = range(1, 7) if degrees else ()
        return (
            *hours,
            *(_round_the_clock(figure, DEGREES_AT, hour, f"{30 * hour}°", named) for hour in axes),
        )
    if figure.kind is not FigureKind.BLOCK:
        return ()
    _, tall = extent_arcmin(figure)
    below = tall / 2.0 + WRITING_BELOW * figure.stroke_arcmin / 2.0
    middle = BLOCK_MIDDLE * figure.stroke_arcmin
    return tuple(
        DrawnLabel(x=_number(x), y=_number(below), words=f"{name} {direction}°")
        for x, name, direction in zip((-middle, middle), "AB", _directions(figure), strict=True)
    )


def _round_the_clock(
    figure: Figure, strokes_out: float, hour: int, words: str, named: set[float]
) -> DrawnLabel:
    angle = math.radians(hour_angle_deg(hour))
    out = strokes_out * figure.stroke_arcmin
    return DrawnLabel(
        x=_number(out * math.cos(angle)),
        y=_number(-out * math.sin(angle)),
        words=words,
        named=_line(hour) in named,
    )


def _directions(figure: Figure) -> tuple[str, str]:
    """Return the directions of the two blocks' lines, TABO degrees above 0 up to 180."""
    return f"{figure.turned_deg:g}", f"{(figure.turned_deg + 90.0) % 180.0 or 180.0:g}"


def _words(figure: Figure, named: set[float]) -> str:
    stroke = f"{figure.stroke_arcmin:g} minutes of arc"
    if figure.kind is FigureKind.FAN:
        said = " and ".join(f"{_clock(line)}–{_clock(line + 6.0)}" for line in sorted(named))
        return f"A fan of lines like a clock face, each {stroke} wide" + (
            f"; called blackest: {said}" if said else ""
        )
    if figure.kind is FigureKind.BLOCK:
        first, second = _directions(figure)
        return f"Two blocks of lines, each {stroke} wide: A along {first}°, B along {second}°"
    if figure.kind is FigureKind.DOTS:
        return f"A cluster of dots, each {stroke} wide"
    return f"A small bright light in the dark, {stroke} wide"


def _clock(hour: float) -> str:
    return f"{int(hour)}" if hour == int(hour) else f"{int(hour) or 12}:30"


def _number(value: float) -> str:
    return f"{round(value, 3) + 0.0:g}"
