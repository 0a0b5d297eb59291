"""What a student does at the bench: each act, applied to a state, becomes an event's facts.

Acts are checked here, once; a refusal names the field, what came and what is allowed.
"""

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any

from optics.errors import OpticsError
from optics.light.frame import Place, TrialFrame, place_name
from optics.light.lens import EyeSide, LensKind, PlacedLens, TrialLens
from optics.light.lens_case import full_set, next_power
from optics.sight.letters import RINGS, SLOAN
from optics.sight.targets import LETTERS_A_ROW
from server.attempts.chance import fresh_letters
from server.attempts.state import WALL_FACTS, Fit, State, shown_lines, starting_kind
from server.errors import AttemptClosed, NotFound, Refused

At = tuple[EyeSide, Place]
STEPPED = (LensKind.SPHERE, LensKind.CYLINDER, LensKind.PRISM)  # kinds of many powers
LIMITS_OF_FIT = {
    "pd_right_mm": (24.0, 40.0, "the right half PD", "mm"),
    "pd_left_mm": (24.0, 40.0, "the left half PD", "mm"),
    "height_mm": (-6.0, 6.0, "the height", "mm"),
    "tilt_deg": (-5.0, 20.0, "the tilt", "degrees"),
    "wrap_deg": (-5.0, 15.0, "the wrap", "degrees"),
    "vertex_mm": (8.0, 20.0, "the vertex distance", "mm"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """The kind and facts of the event that an act becomes."""

    kind: str
    body: Mapping[str, Any]


Act = Callable[[State, bytes], Done]


def guarded(act: Act) -> Act:
    """Return an act that is refused after the attempt has ended, its faults said as refusals."""

    def run(state: State, seed: bytes) -> Done:
        if state.finished:
            raise AttemptClosed
        try:
            return act(state, seed)
        except OpticsError as fault:
            raise Refused(f"{str(fault)[0].upper()}{str(fault)[1:]}", "lens") from None

    return run


def place(at: At, code: str, direction_deg: float | None = None) -> Act:
    """Put a lens from the case into a place, in exchange for what stands there."""

    def act(state: State, seed: bytes) -> Done:
        lens, out = full_set().lens(code), state.frame.at(*at)
        if out is not None and out.lens == lens:
            raise Refused(f"That lens stands in {place_name(*at)} already", "lens")
        if full_set().left(state.frame.lenses())[code] <= 0:
            raise Refused(f"No {lens.engraving} is left in the case; all are in the frame", "lens")
        direction = direction_deg or _direction(state, at, lens)
        placed = PlacedLens(lens=lens, direction_deg=min(direction, lens.widest_deg))
        if state.hand is not None and at == state.hand.at:
            raise Refused("Lay away what you hold before that eye first", "place")
        frame = state.frame.without(*at).with_lens(*at, placed)
        facts: dict[str, Any] = {"lens": code, "direction": placed.direction_deg}
        if out is not None:
            facts |= {"out": out.lens.code, "out_direction": out.direction_deg}
        body = _facts(at) | facts | _letters(state, frame, seed)
        return Done(kind="place" if out is None else "exchange", body=body)

    return act


def _direction(state: State, at: At, lens: TrialLens) -> float:
    """Return the direction a lens is put in with: what turned there last, else 180."""
    before = state.frame.at(*at) or state.memory.get(at)
    return before.direction_deg if before is not None and before.lens.turns and lens.turns else 180


def take(at: At) -> Act:
    """Take out what stands in a place."""

    def act(state: State, seed: bytes) -> Done:
        if state.frame.at(*at) is None:
            raise Refused(f"There is no lens in {place_name(*at)}", "place")
        frame = state.frame.without(*at)
        return Done(kind="take", body=_facts(at) | _letters(state, frame, seed))

    return act


def step(at: At, upwards: bool, *, eighth: bool = False) -> Act:
    """Change the power by one step of the set, through plano; by an eighth only if so wished."""

    def act(state: State, _: bytes) -> Done:
        if state.hand is not None and at == state.hand.at:
            raise Refused("Lay away what you hold before that eye first", "step")
        lens, direction = step_leads_to(state, at, upwards, eighth=eighth)
        return Done(
            kind="step",
            body=_facts(at)
            | {"up": upwards, "lens": lens.code if lens else None, "direction": direction},
        )

    return act


def step_leads_to(
    state: State, at: At, upwards: bool, *, eighth: bool = False
) -> tuple[TrialLens | None, float]:
    """Return the lens (None for plano) and direction that one step leads to.

    Raises
    ------
    Refused
        At the end of the set, or where no lens with a power stands.
    """
    placed = state.frame.at(*at)
    before = placed or state.memory.get(at)
    kind = before.lens.kind if before else starting_kind(at[1])
    if kind not in STEPPED:
        if placed:
            raise Refused(f"What stands in {place_name(*at)} has no power to step", "step")
        kind = starting_kind(at[1])
    others = state.frame.without(*at).lenses()
    from_d = placed.lens.power_d if placed else 0.0
    power_d = next_power(full_set(), others, kind, from_d, upwards, eighths=eighth)
    if power_d is None:
        raise Refused("The set holds no further lens in that direction", "step")
    direction = before.direction_deg if before and before.lens.turns else 180.0
    if power_d == 0.0:
        return None, direction
    return TrialLens(kind=kind, power_d=power_d), direction


def turn(at: At, by_deg: float | None = None, to_deg: float | None = None) -> Act:
    """Turn a lens by a relative step or to an absolute direction; a typed 0 is the widest."""

    def act(state: State, _: bytes) -> Done:
        placed = state.frame.at(*at)
        if placed is None or not placed.lens.turns:
            raise Refused(f"There is no lens with an axis in {place_name(*at)}", "axis")
        if by_deg is None and to_deg is None:
            raise Refused("Give a direction to turn to, or degrees to turn by", "axis")
        widest = placed.lens.widest_deg
        if to_deg is not None:
            direction = float(widest) if to_deg == 0 else to_deg
        else:
            direction = (placed.direction_deg + (by_deg or 0.0)) % widest or float(widest)
        turned = PlacedLens(lens=placed.lens, direction_deg=direction)
        return Done(kind="turn", body=_facts(at) | {"direction": turned.direction_deg})

    return act


def move(at: At, to: At) -> Act:
    """Move a lens to an empty place."""

    def act(state: State, seed: bytes) -> Done:
        placed = state.frame.at(*at)
        if placed is None:
            raise Refused(f"There is no lens in {place_name(*at)}", "place")
        if at == to:
            raise Refused(f"The lens stands in {place_name(*at)} already", "place")
        if state.hand is not None and to == state.hand.at:
            raise Refused("Lay away what you hold before that eye first", "to")
        frame = state.frame.without(*at).with_lens(*to, placed)
        facts = {"to_side": to[0].value, "to_place": to[1].value}
        return Done(kind="move", body=_facts(at) | facts | _letters(state, frame, seed))

    return act


def change_wall(**changes: Any) -> Act:
    """Change what hangs on the wall, its distance or the room light."""

    def act(state: State, seed: bytes) -> Done:
        if not changes:
            raise Refused(
                "Name what changes on the wall: view, line, distance, light or block", "wall"
            )
        wall = replace(state.wall, **changes)
        body: dict[str, Any] = {name: getattr(wall, name) for name in WALL_FACTS}
        if {"view", "line_logmar"} & set(changes):
            body["letters"] = letters_for(state, seed, wall.view, shown_lines(wall))
        return Done(kind="wall", body=body)

    return act


def new_letters() -> Act:
    """Draw the letters on the wall anew."""

    def act(state: State, seed: bytes) -> Done:
        letters = letters_for(state, seed, state.wall.view, shown_lines(state.wall))
        return Done(kind="letters", body={"letters": letters})

    return act


def letters_for(
    state: State, seed: bytes, view: str, lines: tuple[float, ...]
) -> list[tuple[float, str]]:
    """Return new letters, or rings, for the event that comes next."""
    a_row = 1 if view == "letter" else LETTERS_A_ROW
    return fresh_letters(seed, state.number + 1, lines, a_row, RINGS if view == "rings" else SLOAN)


def _letters(state: State, frame: TrialFrame, seed: bytes) -> dict[str, Any]:
    """Return new letters if other eyes see than before, nothing if the same do."""
    if open_eyes(state.frame) == open_eyes(frame):
        return {}
    return {"letters": letters_for(state, seed, state.wall.view, shown_lines(state.wall))}


def open_eyes(frame: TrialFrame) -> frozenset[EyeSide]:
    """Return the eyes that no occluder covers."""
    covered = {one.side for one in frame.fitted if one.placed.lens.kind is LensKind.OCCLUDER}
    return frozenset(EyeSide) - covered


def fit(**changes: float) -> Act:
    """Set how the frame sits."""

    def act(state: State, _: bytes) -> Done:
        for name, value in changes.items():
            least, most, said, unit = LIMITS_OF_FIT[name]
            if not least <= value <= most:
                raise Refused(
                    f"{said[0].upper()}{said[1:]} must be {least:g} to {most:g} {unit},"
                    f" got {value:g}",
                    name,
                )
        # a frame's scales are read to a hundredth at best
        read = {name: round(value, 2) for name, value in changes.items()}
        fitted: Fit = replace(state.fit, **read)
        return Done(kind="fit", body={"fit": asdict(fitted)})

    return act


def plainly(kind: str, body: Mapping[str, Any] | None = None) -> Act:
    """Return an act that becomes an event as it is."""
    return lambda _, __: Done(kind=kind, body=body or {})


def record(fields: Mapping[str, str]) -> Act:
    """Write on the record card; the fields have been checked as typed."""
    return plainly("record", {"fields": dict(fields)})


def open_picture() -> Act:
    """Open the picture of what the eye sees, which is noted; an exam has none."""

    def act(state: State, _: bytes) -> Done:
        if state.station is not None:
            raise NotFound
        return Done(kind="picture", body={})

    return act


def dismiss() -> Act:
    """Put the first patient's guidance away."""
    return plainly("dismiss")


def finish() -> Act:
    """End the attempt."""
    return plainly("finish")


def undo() -> Act:
    """Take back the last change of lenses, wall or frame; the log keeps both."""

    def act(state: State, _: bytes) -> Done:
        if state.mode != "teaching":
            raise Refused("Undo belongs to teaching mode", "undo")
        if not state.undoable:
            raise Refused("There is nothing to undo", "undo")
        return Done(kind="undo", body={})

    return act


def _facts(at: At) -> dict[str, Any]:
    return {"side": at[0].value, "place": at[1].value}
