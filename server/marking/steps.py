"""An attempt step by step: what stood before each eye, and the error that it left there."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import lru_cache
from typing import Any

from optics.light.beam import Vector, beam_at_cornea
from optics.light.frame import TrialFrame
from optics.light.lens import EyeSide
from server.attempts.seat import seated
from server.attempts.state import Said, State, lens_out, running_states
from server.casebook import Case
from server.marking.truth import Truth
from server.store.log import Event

Errors = Mapping[EyeSide, Vector | None]
Truths = Mapping[EyeSide, Truth]


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """The state after one event, and the error R that it leaves before each eye.

    R = end point minus light at the cornea, (M, J0, J45) in D, None where the eye is covered:
    R.M above zero is too much minus. ``error`` is through all that the eye looks through,
    ``in_frame`` leaves out what is held before it. ``said`` is the question of this event.
    """

    number: int
    kind: str
    at: datetime
    body: Mapping[str, Any] = field(repr=False)
    state: State = field(repr=False)
    clock_s: float
    error: Errors = field(repr=False)
    in_frame: Errors = field(repr=False)
    said: Said | None = field(repr=False)


def steps_of(case: Case, events: Iterable[Event], truths: Truths) -> tuple[Step, ...]:
    """Return every event of an attempt as a step; what was undone later was still seen then."""
    return tuple(
        Step(
            number=event.number,
            kind=event.kind,
            at=event.at,
            body=event.body,
            state=state,
            clock_s=state.clock_s,
            error=errors(case, state, truths, state.seen_through),
            in_frame=errors(case, state, truths, state.frame),
            said=state.talk[-1] if event.kind == "ask" else None,
        )
        for event, state in running_states(events)
    )


def as_done(case: Case, step: Step, truths: Truths) -> tuple[Step, ...]:
    """Return an exchange as the two steps that it is, the old lens out first; others as is."""
    if step.kind != "exchange":
        return (step,)
    between = lens_out(step.state, step.body)
    out = replace(
        step,
        kind="take",
        state=between,
        error=errors(case, between, truths, between.seen_through),
        in_frame=errors(case, between, truths, between.frame),
    )
    return out, replace(step, kind="place")


def errors(case: Case, state: State, truths: Truths, frame: TrialFrame) -> Errors:
    """Return the error that a frame leaves before each eye, as the frame sits at a state."""
    seat = seated(frame, state.fit, case.pd_mm)
    light = {side: _light(seat, side, state.wall.distance_m) for side in EyeSide}
    return {side: _short_of(truths[side].vergence, light[side]) for side in EyeSide}


@lru_cache(maxsize=2048)
def _light(frame: TrialFrame, side: EyeSide, distance_m: float) -> Vector | None:
    beam = beam_at_cornea(frame, side, distance_m)
    return None if beam.dark else beam.vergence


def _short_of(wanted: Vector, light: Vector | None) -> Vector | None:
    if light is None:
        return None
    m, j0, j45 = (want - have for want, have in zip(wanted, light, strict=True))
    return (m, j0, j45)
