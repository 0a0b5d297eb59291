"""The state of an attempt: a fold of its events by pure functions."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any, Self

from optics.light.frame import Place, TrialFrame
from optics.light.lens import EyeSide, LensKind, PlacedLens
from optics.light.lens_case import full_set
from optics.sight.figures import Figure, FigureKind
from optics.sight.scene import Scene
from optics.sight.targets import CHART_LINES_LOGMAR, Row, Wall
from optics.units import mar_arcmin
from server.attempts.clock import seconds_of
from server.attempts.hand import Aim, Hand, Tool
from server.store.log import Event

Body = Mapping[str, Any]
DIM_CD_M2, LIT_CD_M2 = 40.0, 120.0
UNDOABLE = {"place", "exchange", "take", "step", "turn", "move", "wall", "letters", "fit"} | {
    *("hold", "aim", "swap", "away"),
}
LETTER_VIEWS = ("chart", "line", "letter", "rings", "duochrome")
FIGURE_VIEWS = ("fan", "block", "dots", "spotlight")
STROKE_ARCMIN = {FigureKind.FAN: 3.0, FigureKind.BLOCK: 3.0, FigureKind.SPOTLIGHT: 2.0}
WALL_FACTS = ("view", "line_logmar", "distance_m", "lit", "block_deg")


@dataclass(frozen=True, slots=True, kw_only=True)
class WallState:
    """What hangs on the wall, how large its detail, how far it is, whether the room is lit.

    ``block_deg`` is the direction of the first block's lines as the examiner reads it.
    """

    view: str = "chart"
    line_logmar: float = 0.3
    block_deg: float = 180.0
    rows: tuple[Row, ...] = ()
    distance_m: float = 6.0
    lit: bool = True

    @property
    def wall(self) -> Wall:
        """The wall as the engine has it."""
        luminance = LIT_CD_M2 if self.lit else DIM_CD_M2
        return Wall(rows=self.rows, distance_m=self.distance_m, luminance_cd_m2=luminance)

    @property
    def scene(self) -> Scene:
        """What is seen on it; dots have the stroke of the line's letters."""
        if self.view not in FIGURE_VIEWS:
            return Scene(rows=self.rows, duochrome=self.view == "duochrome")
        kind = FigureKind(self.view)
        stroke = mar_arcmin(self.line_logmar) if kind is FigureKind.DOTS else STROKE_ARCMIN[kind]
        return Scene(figure=Figure(kind=kind, stroke_arcmin=stroke, turned_deg=self.block_deg))


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """How the frame sits: half PDs, height of the centres, vertex (mm), tilt and wrap (deg)."""

    pd_right_mm: float = 32.0
    pd_left_mm: float = 32.0
    height_mm: float = 0.0
    tilt_deg: float = 0.0
    vertex_mm: float = 12.0
    wrap_deg: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """One question and its answer; rows read as (size, letters shown, letters said, tried).

    ``code`` is the reply's name in the question's closed set, empty for readings and history.
    ``start_logmar`` is the line at which a reading began, None for the top.
    """

    number: int
    question: str
    asked: str
    reply: str
    code: str = ""
    manner: str = ""
    rows: tuple[tuple[float, str, str, bool], ...] = ()
    start_logmar: float | None = None
    why: str = field(default="", repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """The station of a circuit that an exam's attempt is, of how many, and when its bell rings."""

    circuit_id: str
    number: int
    of: int
    bell: datetime

    @classmethod
    def from_body(cls, body: Body) -> Self:
        """Return the station that a log names."""
        return cls(**{**body, "bell": datetime.fromisoformat(body["bell"])})


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """Everything that is so after an event.

    ``before`` is what the eyes looked through before the last change of it; ``clock_s`` the
    patient's time.
    """

    number: int = 0
    mode: str = "teaching"
    frame: TrialFrame = field(default_factory=TrialFrame)
    hand: Hand | None = None
    before: TrialFrame | None = None
    clock_s: float = 0.0
    memory: Mapping[tuple[EyeSide, Place], PlacedLens] = field(default_factory=dict)
    wall: WallState = field(default_factory=WallState)
    fit: Fit = field(default_factory=Fit)
    talk: tuple[Said, ...] = ()
    read: tuple[tuple[float, str, str, bool], ...] = ()
    record: Mapping[str, str] = field(default_factory=dict)
    picture_open: bool = True
    undoable: bool = False
    guided: bool = False
    copied_from: str = ""
    station: Station | None = None
    finished: bool = False

    @property
    def seen_through(self) -> TrialFrame:
        """The frame with what is held before it now."""
        return self.frame if self.hand is None else self.hand.before(self.frame)


def state_of(events: Iterable[Event]) -> State:
    """Return the state after events; undone ones count for nothing but their number."""
    events = tuple(events)
    state = State()
    for event in _effective(events):
        state = folded(state, event)
    return replace(state, number=events[-1].number if events else 0)


def folded(state: State, event: Event) -> State:
    """Return the state after one more event, which must not be an undo."""
    after = FOLDS[event.kind](state, event)
    changed = after.seen_through != state.seen_through
    if after.hand is not None and after.frame != state.frame:  # both faces must be shown anew
        after = replace(after, hand=replace(after.hand, shown=frozenset()))
    return replace(
        after,
        number=event.number,
        before=state.seen_through if changed else state.before,
        clock_s=state.clock_s + seconds_of(event.kind, event.body),
        undoable=state.undoable or event.kind in UNDOABLE,
    )


def state_since(known: State, events: tuple[Event, ...]) -> State:
    """Return the state after all events, from a state known after some of them."""
    since = events[known.number :]
    if any(event.kind == "undo" for event in since):
        return state_of(events)
    for event in since:
        known = folded(known, event)
    return known


def running_states(events: Iterable[Event]) -> Iterator[tuple[Event, State]]:
    """Yield each event with the state after it, folding once but where something is undone."""
    seen: list[Event] = []
    state = State()
    for event in events:
        seen.append(event)
        state = state_of(seen) if event.kind == "undo" else folded(state, event)
        yield event, state


def _effective(events: tuple[Event, ...]) -> list[Event]:
    kept: list[Event] = []
    for event in events:
        if event.kind != "undo":
            kept.append(event)
            continue
        for index in range(len(kept) - 1, -1, -1):
            if kept[index].kind in UNDOABLE:  # what was shown since was shown with it
                kept[index:] = [one for one in kept[index + 1 :] if one.kind != "show"]
                break
    return kept


def as_copy(begin: Event, attempt_id: str) -> Event:
    """Return the first event of a copy of an attempt: taught, and of no circuit."""
    own = {"mode": "teaching", "guided": False, "copied_from": attempt_id}
    return replace(begin, body=begin.body | own)


def _begin(state: State, event: Event) -> State:
    mode = str(event.body["mode"])
    begun = replace(
        state,
        mode=mode,
        picture_open=mode == "teaching",
        guided=bool(event.body.get("guided")),
        copied_from=str(event.body.get("copied_from", "")),
        station=Station.from_body(event.body["station"]) if mode == "exam" else None,
    )
    return _with_letters(_with_fit(begun, event.body.get("fit", {})), event.body)


def _with_letters(state: State, body: Body) -> State:
    if "letters" not in body:
        return state
    rows = tuple(Row(size_logmar=size, letters=letters) for size, letters in body["letters"])
    return replace(state, wall=replace(state.wall, rows=rows), read=())


def spot(body: Body, side: str = "side", place: str = "place") -> tuple[EyeSide, Place]:
    """Return the place before an eye that an event speaks of."""
    return EyeSide(body[side]), Place(body[place])


def _lens(body: Body) -> PlacedLens:
    lens = full_set().lens(body["lens"])
    return PlacedLens(lens=lens, direction_deg=float(body["direction"]))


def _remembering(state: State, at: tuple[EyeSide, Place], frame: TrialFrame) -> State:
    placed = state.frame.at(*at)
    memory = dict(state.memory) | ({at: placed} if placed else {})
    return replace(state, frame=frame, memory=memory)


def _place(state: State, event: Event) -> State:
    at = spot(event.body)
    return _with_letters(
        replace(state, frame=state.frame.with_lens(*at, _lens(event.body))), event.body
    )


def lens_out(state: State, body: Body) -> State:
    """Return the state with the lens out of the place that an event speaks of.

    So an exchange leaves the eye for a moment: the old lens comes out before the new one goes in.
    """
    at = spot(body)
    return _remembering(state, at, state.frame.without(*at))


def _step(state: State, event: Event) -> State:
    at, state = spot(event.body), lens_out(state, event.body)
    if event.body["lens"] is None:
        return state
    return replace(state, frame=state.frame.with_lens(*at, _lens(event.body)))


def _turn(state: State, event: Event) -> State:
    turned = state.frame.turned(*spot(event.body), float(event.body["direction"]))
    return replace(state, frame=turned)


def _move(state: State, event: Event) -> State:
    at = spot(event.body)
    placed = state.frame.at(*at)
    frame = state.frame.without(*at)
    if placed is not None:
        frame = frame.with_lens(*spot(event.body, "to_side", "to_place"), placed)
    return _with_letters(_remembering(state, at, frame), event.body)


def _wall(state: State, event: Event) -> State:
    wall = replace(
        state.wall,
        **{name: event.body[name] for name in WALL_FACTS if name in event.body},
    )
    return _with_letters(replace(state, wall=wall), event.body)


def _with_fit(state: State, settings: Body) -> State:
    """Return the state with the frame set; what an older event does not name stays at its start."""
    fit = Fit(**settings)
    shift = fit.vertex_mm - state.frame.vertex_mm[0]
    vertices = tuple(vertex + shift for vertex in state.frame.vertex_mm)
    return replace(state, fit=fit, frame=replace(state.frame, vertex_mm=vertices))


def _hold(state: State, event: Event) -> State:
    body = event.body
    hand = Hand(
        tool=Tool(body["tool"]),
        side=EyeSide(body["side"]),
        power_d=float(body["power"]),
        aim=Aim(body["aim"]),
        set_deg=float(body["set"]),
    )
    return replace(state, hand=hand)


def _aim(state: State, event: Event) -> State:
    if state.hand is None:
        return state
    aim, set_deg = Aim(event.body["aim"]), float(event.body["set"])
    return replace(
        state, hand=replace(state.hand, aim=aim, set_deg=set_deg, face=0, shown=frozenset())
    )


def _show(state: State, event: Event) -> State:
    if state.hand is None:  # what was held has been taken back since
        return state
    face = int(event.body["face"])
    return replace(
        state, hand=replace(state.hand, face=face, shown=state.hand.shown | {face} - {0})
    )


def _swap(state: State, _: Event) -> State:
    if state.hand is None:
        return state
    swapped = not state.hand.swapped
    return replace(state, hand=replace(state.hand, swapped=swapped, face=0, shown=frozenset()))


def _ask(state: State, event: Event) -> State:
    body = event.body
    rows = tuple((float(s), str(shown), str(said), bool(t)) for s, shown, said, t in body["rows"])
    said = Said(
        number=event.number,
        question=body["question"],
        asked=body["asked"],
        reply=body["reply"],
        code=body.get("code", ""),
        manner=body.get("manner", ""),
        rows=rows,
        start_logmar=body.get("start"),
        why=body.get("why", ""),
    )
    hung = {(row.size_logmar, row.letters) for row in state.wall.rows}  # others, after an undo
    return replace(state, talk=(*state.talk, said), read=tuple(r for r in rows if r[:2] in hung))


def _record(state: State, event: Event) -> State:
    return replace(state, record=dict(state.record) | dict(event.body["fields"]))


FOLDS: Mapping[str, Callable[[State, Event], State]] = {
    "begin": _begin,
    "place": _place,
    "exchange": lambda state, event: _place(lens_out(state, event.body), event),
    "take": lambda state, event: _with_letters(lens_out(state, event.body), event.body),
    "step": _step,
    "turn": _turn,
    "move": _move,
    "wall": _wall,
    "letters": lambda state, event: _with_letters(state, event.body),
    "fit": lambda state, event: _with_fit(state, event.body["fit"]),
    "hold": _hold,
    "aim": _aim,
    "show": _show,
    "swap": _swap,
    "away": lambda state, _: replace(state, hand=None),
    "ask": _ask,
    "record": _record,
    "picture": lambda state, _: replace(state, picture_open=True),
    "dismiss": lambda state, _: replace(state, guided=False),
    "finish": lambda state, _: replace(state, finished=True),
}


def shown_lines(wall: WallState) -> tuple[float, ...]:
    """Return the sizes of the lines that a wall view shows; none where no letters hang."""
    if wall.view in FIGURE_VIEWS:
        return ()
    return CHART_LINES_LOGMAR if wall.view == "chart" else (wall.line_logmar,)


def starting_kind(place: Place) -> LensKind:
    """Return the kind of lens that an empty place is stepped with."""
    return LensKind.CYLINDER if place is Place.CELL_3 else LensKind.SPHERE
