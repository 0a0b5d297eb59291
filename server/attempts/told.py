"""What the answers of an attempt told of the eye being refracted, by the log and an age alone.

Nothing of the case's eyes is read: lenses, questions and replies stand in the log, the age on
the page. Counted are questions put with one eye covered and only clear lenses before the other.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from optics.evidence.likelihood import NEAR_M, WIDENED, Asking, Reply, RowRead, Widening
from optics.evidence.lookup import Supposed
from optics.evidence.posterior import Posterior, prior, update
from optics.evidence.telling import NOTHING_BITS, enough_at, most_telling
from optics.light.beam import Beam, Vector, beam_at_cornea
from optics.light.frame import TrialFrame
from optics.light.lens import EyeSide
from optics.patient.questions import READING, Question
from optics.patient.traits import Manner
from server.attempts.hand import Aim, Hand, Tool
from server.attempts.questions import LINE_STROKE_LOGMAR, ROW_VIEWS
from server.attempts.seat import seated
from server.attempts.state import Said, State, running_states
from server.store.log import Event

TWO_FACES = (Question.WHICH,)
OF_A_CHANGE = (Question.BETTER, Question.SMALLER, Question.MORE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What one question told of an eye, and what was known after it, at the cornea in D.

    ``side`` is None where no one eye was asked alone; such a question counts for nothing, and
    what is known is that of the eye asked last.
    """

    number: int
    question: str
    side: EyeSide | None
    bits: float
    sd_d: float
    mean: Vector
    sds_d: Vector

    @property
    def nothing(self) -> bool:
        """Whether it told nothing."""
        return self.bits < NOTHING_BITS


def told(events: Iterable[Event], eyes: Supposed) -> tuple[Told, ...]:
    """Return what each question about letters, lines, colours or lenses told, in order.

    ``eyes`` are the nominal eyes of the person's public age; see ``NominalKeeper.ask``.
    """
    known = {side: prior(eyes) for side in EyeSide}
    last = EyeSide.RIGHT
    found = []
    for state, said in _asked(events):
        side, asking = asking_at(state, Question(said.question), Manner(said.manner or "offered"))
        bits = 0.0
        if side is not None and asking is not None:
            known[side], bits = update(known[side], asking, _reply(said))
            last = side
        now = known[last]
        found.append(
            Told(
                number=said.number,
                question=said.question,
                side=side if asking is not None else None,
                bits=bits,
                sd_d=now.sd_d,
                mean=now.mean_d,
                sds_d=now.sds_d,
            )
        )
    return tuple(found)


def known_of(
    events: Iterable[Event], side: EyeSide, eyes: Supposed, widening: Widening = WIDENED
) -> Posterior:
    """Return what the log tells of one eye."""
    known = prior(eyes, widening)
    for state, said in _asked(events):
        asked, asking = asking_at(state, Question(said.question), Manner(said.manner or "offered"))
        if asked is side and asking is not None:
            known, _ = update(known, asking, _reply(said))
    return known


def sufficed_at(found: Iterable[Told], side: EyeSide) -> int | None:
    """Return the number of the answer after which an eye was known to 0.25 D for good."""
    of_side = [one for one in found if one.side is side]
    first = enough_at([one.sd_d for one in of_side])
    return None if first is None else of_side[first].number


def what_next(state: State, side: EyeSide, known: Posterior) -> tuple[tuple[str, float], ...]:
    """Return what could be asked from the present frame with its expected bits, the best first."""
    return most_telling(known, dict(_candidates(state, side)))


def asking_at(
    state: State, question: Question, manner: Manner = Manner.OFFERED
) -> tuple[EyeSide | None, Asking | None]:
    """Return which eye a question asks, and how; None where it does not ask one eye plainly."""
    distances: tuple[float, ...] = (state.wall.distance_m,)
    if question in TWO_FACES and state.hand is not None:
        frames = [state.hand.before(state.frame, face) for face in (1, 2)]
    elif question in OF_A_CHANGE and state.before is not None:
        frames = [state.before, state.seen_through]
    else:
        frames = [state.seen_through]
        distances = NEAR_M if question is Question.NEARER else distances
    views = [_plain_views(state, frame, at) for frame in frames for at in distances]
    sides = {side for view in views for side in view}
    if len(sides) != 1 or not all(views):
        return None, None
    [side] = sides
    asking = Asking(
        question=question,
        vergences=tuple(vergence for view in views if (vergence := view[side]) is not None),
        line_logmar=_line(state),
        block_deg=state.wall.block_deg,
        manner=manner,
    )
    return side, asking if len(asking.vergences) == len(views) else None


def _plain_views(
    state: State, frame: TrialFrame, distance_m: float
) -> Mapping[EyeSide, Vector | None]:
    """Return the light at each open cornea; None behind a stop, a filter, a rod."""
    # the light's vergence does not depend on where the lens centres lie
    own_pd = (state.fit.pd_right_mm, state.fit.pd_left_mm)
    through = seated(frame, state.fit, own_pd)
    beams = {side: beam_at_cornea(through, side, distance_m) for side in EyeSide}
    return {
        side: beam.vergence if _plain(beam) else None
        for side, beam in beams.items()
        if not beam.dark
    }


def _plain(beam: Beam) -> bool:
    return not beam.stops and not beam.filters and beam.rod_deg is None


def _line(state: State) -> float | None:
    """Return the size of what is looked at, None for a whole chart."""
    wall = state.wall
    if wall.view == "chart":
        return None
    if wall.view in (*ROW_VIEWS, "duochrome", "dots"):
        return wall.line_logmar
    return LINE_STROKE_LOGMAR


def _asked(events: Iterable[Event]) -> Iterator[tuple[State, Said]]:
    """Yield each question that is no history with the state in which it was put."""
    before = State()
    for event, after in running_states(events):
        if event.kind == "ask" and event.body["question"] in set(Question):
            yield before, after.talk[-1]
        before = after


def _reply(said: Said) -> Reply:
    if said.question not in READING:
        return said.code
    return tuple(
        RowRead(
            size_logmar=size,
            right=sum(a == b for a, b in zip(shown, answered, strict=True)),
            letters=len(shown),
            tried=tried,
        )
        for size, shown, answered, tried in said.rows
    )


HANDS = {
    "pair 0.25": (Tool.PAIR, 0.25, Aim.SET),
    "pair 0.50": (Tool.PAIR, 0.50, Aim.SET),
    "plus 1.00": (Tool.OVER, 1.00, Aim.SET),
    "cross 0.25 axis": (Tool.CROSS, 0.25, Aim.AXIS),
    "cross 0.25 power": (Tool.CROSS, 0.25, Aim.POWER),
    "cross 0.50 axis": (Tool.CROSS, 0.50, Aim.AXIS),
    "cross 0.50 power": (Tool.CROSS, 0.50, Aim.POWER),
}


def _candidates(state: State, side: EyeSide) -> Iterator[tuple[str, Asking]]:
    """Yield what can be asked next by name, with whatever tool in the hand."""
    at = state.wall.distance_m
    now = _plain_views(state, state.frame, at).get(side)
    if now is None:
        return
    line = _line(state)
    yield "read down", Asking(question=Question.READ_DOWN, vergences=(now,))
    yield "two colours", Asking(question=Question.COLOUR, vergences=(now,), line_logmar=0.3)
    yield "fan", Asking(question=Question.LINES, vergences=(now,), line_logmar=LINE_STROKE_LOGMAR)
    for name, (tool, power_d, aim) in HANDS.items():
        hand = Hand(tool=tool, side=side, power_d=power_d, aim=aim)
        frames = [hand.before(state.frame, face) for face in (1, 2)]
        faces = [_plain_views(state, frame, at).get(side) for frame in frames]
        views = tuple(one for one in faces if one is not None)
        if len(views) == len(faces):
            yield name, Asking(question=Question.WHICH, vergences=views, line_logmar=line)
