"""A finished attempt along the patient's time: each step's error left, and the acuity then."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from optics.light.lens import EyeSide
from server.attempts.sight import view_of
from server.casebook import Case
from server.marking.steps import Step, steps_of
from server.marking.truth import Truth
from server.store.log import Event


@dataclass(frozen=True, slots=True, kw_only=True)
class Along:
    """A step and the acuity of the better open eye at it, None in the dark."""

    step: Step = field(repr=False)
    acuity_logmar: float | None


def along(
    case: Case, events: Sequence[Event], truths: Mapping[EyeSide, Truth]
) -> tuple[Along, ...]:
    """Return the steps with their acuities; one view a different frame."""
    found: list[Along] = []
    known: dict[object, float | None] = {}
    for step in steps_of(case, events, truths):
        key = (step.state.seen_through, step.state.fit, step.state.wall.distance_m)
        lit = (*key, step.state.wall.lit)
        if lit not in known:
            better = view_of(case, step.state).better
            reading = None if better is None else better.reading
            known[lit] = None if reading is None else reading.acuity_logmar
        found.append(Along(step=step, acuity_logmar=known[lit]))
    return tuple(found)
