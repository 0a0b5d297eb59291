"""The attempt along the patient's time as places in a drawing."""

import math
from collections.abc import Callable, Sequence

from optics.light.beam import Vector
from optics.light.frame import SIDE_NAMES
from optics.light.lens import EyeSide
from optics.light.notation import power_text
from optics.light.power import blur_strength_d
from server.attempts.clock import clock_text
from server.attempts.timeline import Along
from server.web.contexts_review import (
    AlongLine,
    AlongRow,
    AskedAt,
    FaultAt,
    Mark,
    PathView,
    Ring,
    TimelineView,
)
from server.web.notation import Notation

LEFT, RIGHT = 54.0, 706.0  # of 760 by 330
ERROR_TOP, ERROR_BOTTOM = 22.0, 152.0
ACUITY_TOP, ACUITY_BOTTOM = 178.0, 278.0
BEST_LOGMAR, WORST_LOGMAR, ACUITY_STEP = -0.2, 1.3, 0.3
MIDDLE, REACH = 130.0, 100.0  # of a path's square, 330 by 260
M_X, M_TOP, M_BOTTOM = 290.0, 30.0, 230.0
LEAST_SCALE_D = 0.5
Faults = Sequence[tuple[int, str, str]]  # event number, label, words


def timeline_view(
    attempt_id: str, steps: Sequence[Along], words: Sequence[str], faults: Faults, n: Notation
) -> TimelineView:
    """Return the timeline, the table beside it, and each eye's path."""
    across = _across(steps)
    stayed = _stayed(steps)
    most_d = _most_error_d(stayed)
    places = {one.step.number: across(one.step.clock_s) for one in steps}
    return TimelineView(
        attempt_id=attempt_id,
        lines=tuple(_line(stayed, side, across, most_d) for side in EyeSide),
        asked=tuple(
            AskedAt(
                x=_text(across(one.step.clock_s)),
                number=one.step.number,
                words=n.in_words(f"{one.step.said.asked} “{one.step.said.reply}”"),
            )
            for one in steps
            if one.step.said is not None
        ),
        faults=tuple(
            FaultAt(x=_text(places[number]), label=label, words=said)
            for number, label, said in faults
            if number in places
        ),
        error_ticks=_error_ticks(most_d),
        acuity_ticks=_acuity_ticks(n),
        time_ticks=_time_ticks(steps, across),
        rows=tuple(_row(one, said, n) for one, said in zip(steps, words, strict=True)),
        paths=tuple(path for side in EyeSide if (path := _path(steps, side)) is not None),
    )


def _stayed(steps: Sequence[Along]) -> tuple[Along, ...]:
    """Return the steps without those at which one lens was out and the next not yet in."""
    later = [*(one.step for one in steps[1:]), None]
    return tuple(
        one
        for one, after in zip(steps, later, strict=False)
        if one.step.kind != "take"
        or after is None
        or after.kind != "place"
        or after.body["side"] != one.step.body["side"]
    )


def _across(steps: Sequence[Along]) -> Callable[[float], float]:
    whole_s = max((one.step.clock_s for one in steps), default=0.0) or 1.0
    return lambda clock_s: LEFT + clock_s / whole_s * (RIGHT - LEFT)


def _most_error_d(steps: Sequence[Along]) -> float:
    largest = max(
        (
            blur_strength_d(error)
            for one in steps
            for error in one.step.in_frame.values()
            if error is not None
        ),
        default=1.0,
    )
    return max(1.0, math.ceil(largest))


def _line(
    steps: Sequence[Along], side: EyeSide, across: Callable[[float], float], most_d: float
) -> AlongLine:
    errors: list[list[tuple[float, float]]] = [[]]
    acuities: list[list[tuple[float, float]]] = [[]]
    for one in steps:
        error, x = one.step.in_frame[side], across(one.step.clock_s)
        alone = error is not None and all(
            other is None for it, other in one.step.in_frame.items() if it is not side
        )
        _extend(errors, x, None if error is None else _error_y(blur_strength_d(error), most_d))
        sharp = one.acuity_logmar if alone else None
        _extend(acuities, x, None if sharp is None else _acuity_y(sharp))
    return AlongLine(eye=SIDE_NAMES[side], error=_lines(errors), acuity=_lines(acuities))


def _extend(pieces: list[list[tuple[float, float]]], x: float, y: float | None) -> None:
    """Go on as a staircase; a gap begins a new piece."""
    if y is None:
        if pieces[-1]:
            pieces[-1].append((x, pieces[-1][-1][1]))
            pieces.append([])
        return
    if pieces[-1]:
        pieces[-1].append((x, pieces[-1][-1][1]))
    pieces[-1].append((x, y))


def _lines(pieces: list[list[tuple[float, float]]]) -> tuple[str, ...]:
    return tuple(_points(piece) for piece in pieces if len(piece) > 1)


def _points(places: Sequence[tuple[float, float]]) -> str:
    return " ".join(f"{_text(x)},{_text(y)}" for x, y in places)


def _error_y(error_d: float, most_d: float) -> float:
    return ERROR_BOTTOM - min(error_d / most_d, 1.0) * (ERROR_BOTTOM - ERROR_TOP)


def _acuity_y(acuity_logmar: float) -> float:
    share = (acuity_logmar - BEST_LOGMAR) / (WORST_LOGMAR - BEST_LOGMAR)
    return ACUITY_TOP + min(max(share, 0.0), 1.0) * (ACUITY_BOTTOM - ACUITY_TOP)


def _error_ticks(most_d: float) -> tuple[Mark, ...]:
    step = 0.5 if most_d <= 2.0 else math.ceil(most_d / 5.0)
    count = round(most_d / step)
    return tuple(
        Mark(at=_text(_error_y(step * index, most_d)), words=f"{step * index:g}")
        for index in range(count + 1)
    )


def _acuity_ticks(n: Notation) -> tuple[Mark, ...]:
    lines = [0.0, 0.3, 0.6, 1.0]
    return tuple(Mark(at=_text(_acuity_y(line)), words=n.acuity_text(line)) for line in lines)


def _time_ticks(steps: Sequence[Along], across: Callable[[float], float]) -> tuple[Mark, ...]:
    whole_s = max((one.step.clock_s for one in steps), default=0.0)
    every = next((one for one in (30, 60, 120, 300, 600) if whole_s / one <= 9), 1200)
    return tuple(
        Mark(at=_text(across(second)), words=clock_text(second))
        for second in range(0, int(whole_s) + 1, every)
    )


def _row(one: Along, what: str, n: Notation) -> AlongRow:
    right, left = (one.step.in_frame[side] for side in EyeSide)
    return AlongRow(
        time=clock_text(one.step.clock_s),
        what=what,
        right="covered" if right is None else f"{blur_strength_d(right):.2f} D",
        left="covered" if left is None else f"{blur_strength_d(left):.2f} D",
        acuity="–" if one.acuity_logmar is None else n.acuity_text(one.acuity_logmar),
    )


def _path(steps: Sequence[Along], side: EyeSide) -> PathView | None:
    """Return an eye's way from question to question; None if less than two found it open.

    What stood there only while one lens was exchanged for another is left out.
    """
    asked = [one.step for one in steps if one.step.said is not None]
    errors = [error for step in asked if (error := step.in_frame[side]) is not None]
    way = [error for at, error in enumerate(errors) if at == 0 or error != errors[at - 1]]
    if len(way) < 2:
        return None
    most_d = max(LEAST_SCALE_D, *(abs(part) for error in way for part in error[1:]))
    most_m_d = max(LEAST_SCALE_D, *(math.ceil(2.0 * abs(error[0])) / 2.0 for error in way))
    places = [_place(error, most_d) for error in way]
    down = [_m_y(error[0], most_m_d) for error in way]
    m, j0, j45 = way[-1]
    return PathView(
        eye=SIDE_NAMES[side],
        line=_points(places),
        first=(_text(places[0][0]), _text(places[0][1])),
        last=(_text(places[-1][0]), _text(places[-1][1])),
        rings=_rings(most_d),
        m_line=_points([(M_X + 26.0 * at / len(down), y) for at, y in enumerate(down)]),
        m_last=_text(down[-1]),
        m_ticks=tuple(
            Mark(at=_text(_m_y(value, most_m_d)), words=power_text(value))
            for value in (-most_m_d, 0.0, most_m_d)
        ),
        m_zero=_text(_m_y(0.0, most_m_d)),
        words=(
            f"It ended with {power_text(m)} D of mean sphere and"
            f" {2.0 * math.hypot(j0, j45):.2f} D of cylinder still needed."
        ),
    )


def _place(error: Vector, most_d: float) -> tuple[float, float]:
    _, j0, j45 = error
    return MIDDLE + j0 / most_d * REACH, MIDDLE - j45 / most_d * REACH


def _m_y(m_d: float, most_d: float) -> float:
    middle = (M_TOP + M_BOTTOM) / 2.0
    return middle - m_d / most_d * (M_BOTTOM - M_TOP) / 2.0


def _rings(most_d: float) -> tuple[Ring, ...]:
    """Return rings about the end point, named below on the right, where no axis runs."""
    radii = [0.25, 0.5] if most_d <= 1.0 else [0.5, 1.0] if most_d <= 2.0 else [1.0, 2.0]
    beside = math.sqrt(0.5)
    return tuple(
        Ring(
            radius=_text(radius / most_d * REACH),
            at=_text(MIDDLE + radius / most_d * REACH * beside),
            words=f"{radius:g} D",
        )
        for radius in radii
        if radius <= most_d
    )


def _text(value: float) -> str:
    return f"{value:.1f}"
