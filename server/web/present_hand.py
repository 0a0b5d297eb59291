"""The hand and the questions, made ready to be shown."""

import math

from optics.light.frame import SIDE_NAMES
from optics.patient.questions import Question
from optics.patient.traits import Manner
from server.attempts.clock import clock_text
from server.attempts.hand import POWERS_D, Aim, Hand, Tool
from server.attempts.questions import fitting
from server.attempts.state import State
from server.attempts.words import SHORT
from server.web.contexts_hand import AskView, HandView, HeldView, RimMark
from server.web.contexts_parts import Option

MIDDLE, RIM, SIGNS, GRIP = 50.0, 26.0, 34.0, 48.0  # of the drawing
FACE_NAMES = {1: "first", 2: "second"}
MANNERS = {
    Manner.OFFERED: "offer “the same”",
    Manner.FORCED: "demand a choice",
    Manner.LEADING: "suggest the answer",
}


def tool_words(tool: Tool, power_d: float) -> str:
    """Return a tool in words: cross cylinder ±0.25."""
    if tool is Tool.CROSS:
        return f"cross cylinder ±{power_d:.2f}"
    if tool is Tool.PAIR:
        return f"spheres +{power_d:.2f} and −{power_d:.2f}"
    return f"+{power_d:.2f} over, or not" if tool is Tool.OVER else "plano, twice"


def hand_view(state: State) -> HandView:
    """Return the tools and what is held."""
    held = state.hand
    chosen = None if held is None else (held.tool, held.power_d)
    tools = tuple(
        Option(
            value=f"{tool.value}:{power_d:.2f}",
            label=f"{tool_words(tool, power_d)[0].upper()}{tool_words(tool, power_d)[1:]}",
            chosen=chosen == (tool, power_d),
        )
        for tool, powers in POWERS_D.items()
        for power_d in powers
    )
    return HandView(tools=tools, held=None if held is None else _held(held, state))


def _held(hand: Hand, state: State) -> HeldView:
    crossed = hand.tool is Tool.CROSS
    handle_deg = hand.handle_deg(state.frame)
    return HeldView(
        words=tool_words(hand.tool, hand.power_d),
        eye=SIDE_NAMES[hand.side],
        away=hand.face == 0,
        faces=tuple(
            Option(value=str(face), label=name, chosen=hand.face == face)
            for face, name in FACE_NAMES.items()
        ),
        shown=tuple(FACE_NAMES[face] for face in sorted(hand.shown)),
        up=_face_words(hand, state),
        ready=hand.shown == {1, 2},
        handle=f"{handle_deg:.0f}" if crossed else "",
        aims=_aims(hand) if crossed else (),
        grip=_grip(handle_deg) if crossed else ("", "", "", ""),
        marks=_marks(hand.minus_axis_deg(state.frame, hand.face or 1)) if crossed else (),
    )


def _aims(hand: Hand) -> tuple[Option, ...]:
    return (
        Option(value=Aim.AXIS.value, label="along the axis", chosen=hand.aim is Aim.AXIS),
        Option(value=Aim.POWER.value, label="45° off it", chosen=hand.aim is Aim.POWER),
    )


def _face_words(hand: Hand, state: State) -> str:
    """Return what is before the eye now."""
    if hand.face == 0:
        return "held away"
    name = FACE_NAMES[hand.face]
    if hand.tool is Tool.CROSS:
        return f"{name}: minus axis at {hand.minus_axis_deg(state.frame, hand.face):.0f}"
    lens = hand.lens(state.frame, hand.face)
    return f"{name}: {lens.lens.engraving if lens else 'no lens'}"


def _grip(handle_deg: float) -> tuple[str, str, str, str]:
    """Return the handle from the rim outwards; it hangs down or to the side as it is held."""
    angle = math.radians(handle_deg + 180.0)
    return (
        *_point(RIM, angle),
        *_point(GRIP, angle),
    )


def _marks(minus_deg: float) -> tuple[RimMark, ...]:
    marks = []
    for sign, direction_deg in (("−", minus_deg), ("+", minus_deg + 90.0)):
        for end_deg in (0.0, 180.0):
            x, y = _point(SIGNS, math.radians(direction_deg + end_deg))
            marks.append(RimMark(sign=sign, x=x, y=y))
    return tuple(marks)


def _point(radius: float, angle_rad: float) -> tuple[str, str]:
    x, y = MIDDLE + radius * math.cos(angle_rad), MIDDLE - radius * math.sin(angle_rad)
    return f"{x:.1f}", f"{y:.1f}"


def ask_view(state: State, manner: Manner) -> AskView:
    """Return what fits to be asked now; which of two is asked where they are shown."""
    return AskView(
        questions=tuple(
            Option(value=question.value, label=SHORT[question])
            for question in fitting(state)
            if question is not Question.WHICH
        ),
        manners=tuple(
            Option(value=one.value, label=label, chosen=one is manner)
            for one, label in MANNERS.items()
        ),
        clock=clock_text(state.clock_s),
    )
