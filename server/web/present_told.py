"""What the answers told, made ready to be shown."""

from collections.abc import Mapping, Sequence

from optics.evidence.lookup import Supposed
from optics.evidence.posterior import Posterior
from optics.evidence.telling import ENOUGH_D
from optics.light.beam import Vector
from optics.light.frame import SIDE_NAMES
from optics.light.lens import EyeSide
from optics.sight.end_point import lens_for
from server.attempts.clock import clock_text
from server.attempts.service import Attempt
from server.attempts.state import State, running_states
from server.attempts.told import Told, known_of, sufficed_at, told, what_next
from server.marking.truth import MARKED_DISTANCE_M, MARKED_VERTEX_MM, Truth
from server.web.contexts_told import NextOnes, ToldEye, ToldRow, ToldSoFar, ToldView
from server.web.notation import Notation

LEFT, RIGHT, TOP, BOTTOM = 40.0, 700.0, 12.0, 128.0  # of 740 by 150
MOST_D = 3.0
MOST_BITS = 4.0
NEXT_SHOWN = 3
ASKABLE = {
    "read down": "Read down",
    "two colours": "Red or green, 6/12",
    "fan": "The fan: blackest lines",
    "pair 0.25": "+0.25 against −0.25",
    "pair 0.50": "+0.50 against −0.50",
    "plus 1.00": "+1.00 over, or not",
    "cross 0.25 axis": "Cross cylinder ±0.25 along the axis",
    "cross 0.25 power": "Cross cylinder ±0.25, 45° off the axis",
    "cross 0.50 axis": "Cross cylinder ±0.50 along the axis",
    "cross 0.50 power": "Cross cylinder ±0.50, 45° off the axis",
}


def told_view(
    attempt: Attempt, eyes: Supposed, truths: Mapping[EyeSide, Truth], n: Notation
) -> ToldView:
    """Return what each question of a finished attempt told."""
    found = told(attempt.events, eyes)
    shown = [side for side in EyeSide if any(one.side is side for one in found)]
    return ToldView(
        attempt_id=attempt.row.id,
        eyes=tuple(_eye(attempt, side, found, truths[side], n) for side in shown),
    )


def _eye(
    attempt: Attempt, side: EyeSide, found: Sequence[Told], truth: Truth, n: Notation
) -> ToldEye:
    of_side = [one for one in found if one.side is side]
    states = {event.number: state for event, state in running_states(attempt.events)}
    rows = tuple(_row(one, states[one.number], n) for one in of_side)
    first = sufficed_at(found, side)
    places = [
        (LEFT + (RIGHT - LEFT) * (at + 0.5) / len(of_side), _height(one.sd_d))
        for at, one in enumerate(of_side)
    ]
    return ToldEye(
        eye=SIDE_NAMES[side],
        line=" ".join(f"{x:.1f},{y:.1f}" for x, y in places),
        enough=f"{_height(ENOUGH_D):.1f}",
        rows=rows,
        known=_lens(of_side[-1].mean, n),
        truth=n.lens_text(truth.lens()),
        sufficed=""
        if first is None
        else f"after the question at {clock_text(states[first].clock_s)}",
        useless=sum(one.nothing for one in of_side),
    )


def _row(one: Told, state: State, n: Notation) -> ToldRow:
    said = state.talk[-1]
    m, j0, j45 = one.sds_d
    return ToldRow(
        number=one.number,
        time=clock_text(state.clock_s),
        asked=n.in_words(said.asked),
        reply=said.reply,
        bits=f"{one.bits:.2f}",
        share=f"{100.0 * min(one.bits / MOST_BITS, 1.0):.0f}",
        nothing=one.nothing,
        known=f"M ±{m:.2f}, J0 ±{j0:.2f}, J45 ±{j45:.2f}",
    )


def _height(sd_d: float) -> float:
    return BOTTOM - (BOTTOM - TOP) * min(sd_d / MOST_D, 1.0)


def _lens(vergence: Vector, n: Notation) -> str:
    return n.lens_text(lens_for(vergence, MARKED_VERTEX_MM, MARKED_DISTANCE_M))


def next_ones(state: State, side: EyeSide, known: Posterior) -> NextOnes:
    """Return the most telling questions from a frame, with the bits they should bring."""
    return NextOnes(next_ones=_next(state, side, known))


def _next(state: State, side: EyeSide, known: Posterior) -> tuple[tuple[str, str], ...]:
    return tuple(
        (ASKABLE.get(name, name), f"{bits:.1f}")
        for name, bits in what_next(state, side, known)[:NEXT_SHOWN]
    )


def told_so_far(attempt: Attempt, side: EyeSide, eyes: Supposed, n: Notation) -> ToldSoFar:
    """Return what is known of an eye now and what to ask next."""
    known = known_of(attempt.events, side, eyes)
    return ToldSoFar(
        eye=SIDE_NAMES[side],
        known=_lens(known.mean_d, n),
        spread=f"{known.sd_d:.2f}",
        asked=len(known.heard),
        next_ones=_next(attempt.state, side, known),
    )
