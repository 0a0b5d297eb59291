"""An attempt made ready to be shown: state in, contexts of plain values out."""

from optics.light.frame import SIDE_NAMES, Place, place_name
from optics.light.lens import EyeSide, LensKind, PlacedLens
from optics.light.lens_case import full_set
from optics.patient.traits import Manner
from server.attempts.acts import STEPPED, step_leads_to
from server.attempts.readings import began_too_low, note_of
from server.attempts.service import Attempt
from server.attempts.state import State
from server.attempts.talk import HISTORY
from server.errors import Refused
from server.web.contexts import (
    CaseDrawer,
    Cell,
    Controls,
    Rail,
    Room,
    Slot,
    TalkLine,
)
from server.web.contexts_parts import Option
from server.web.guidance import guidance
from server.web.notation import Notation
from server.web.present_face import face_eyes, fit_effects, fit_fields
from server.web.present_hand import FACE_NAMES, ask_view, hand_view
from server.web.present_wall import picture_view, wall_view

EYE_NAMES = {side: name.capitalize() for side, name in SIDE_NAMES.items()}
RAIL_ORDER = (Place.HAND, Place.CELL_4, Place.CELL_3, Place.CELL_2, Place.CELL_1)
DRAWERS = {
    "sphere": "Spheres",
    "cylinder": "Cylinders",
    "prism": "Prisms",
    "disc": "Discs",
}
DISC_NAMES = {
    LensKind.OCCLUDER: "Occluder",
    LensKind.PINHOLE: "Pinhole",
    LensKind.SLIT: "Slit",
    LensKind.PLANO: "Plano",
    LensKind.RED: "Red filter",
    LensKind.GREEN: "Green filter",
    LensKind.ROD: "Rod",
    LensKind.NEUTRAL: "Neutral filter",
}
DISCS = tuple(DISC_NAMES)
TALK_SHOWN = 24  # the review has them all
A_ROW = 11  # lenses in a row of a drawer
FIRST_AT = "R.2"


def parse_at(at: str) -> tuple[EyeSide, Place]:
    """Return the place that a page's ``R.2`` or ``L.hand`` means.

    Raises
    ------
    Refused
        If there is no such place.
    """
    side, _, place = at.partition(".")
    if side not in ("R", "L") or place not in {one.value for one in Place}:
        raise Refused(
            f"The place must be R or L, a point and 1 to 4 or hand, got {at[:20]!r}", "at"
        )
    return EyeSide(side), Place(place)


def room(
    attempt: Attempt,
    at: str,
    kind: str,
    notation: Notation,
    nonce: str,
    notice: str = "",
    look: int = 0,
    manner: Manner = Manner.OFFERED,
) -> Room:
    """Return the room as it stands: a place selected, a drawer open, a part looked at closer."""
    state = attempt.state
    kind = kind if kind in DRAWERS else "sphere"
    return Room(
        attempt_id=attempt.row.id,
        number=state.number,
        mode=state.mode,
        at=at,
        kind=kind,
        notice=notice,
        status=status_words(attempt),
        face=face_eyes(attempt.case, state),
        pd=f"{state.fit.pd_right_mm + state.fit.pd_left_mm:g}",
        fit=fit_fields(state.fit),
        fit_effects=fit_effects(attempt.case, state, notation) if state.mode == "teaching" else (),
        rails=tuple(_rail(state, side, at) for side in EyeSide),
        controls=_controls(state, at),
        drawer=_drawer(state, kind, parse_at(at)),
        wall=wall_view(state, notation),
        picture=picture_view(attempt, parse_at(at)[0], notation, nonce, look),
        hand=hand_view(state),
        ask=ask_view(state, manner),
        talk=_talk(state, notation),
        history=_history(state),
        undoable=state.undoable and state.mode == "teaching",
        # a new address each time: a room swapped in asks again even if nothing has happened
        adds_address=f"/attempts/{attempt.row.id}/adds/{state.number}?{nonce}"
        if state.mode == "teaching"
        else "",
        prompts=guidance(attempt) if state.guided else (),
    )


def _rail(state: State, side: EyeSide, at: str) -> Rail:
    vertices = dict(zip(Place, state.frame.vertex_mm, strict=True))
    cells = tuple(
        _cell(state.seen_through.at(side, place), side, place, vertices[place], at)
        for place in RAIL_ORDER
    )
    dark = any(cell.kind == "occluder" for cell in cells)
    return Rail(side=side.value, name=EYE_NAMES[side], cells=cells, dark=dark)


def _cell(
    placed: PlacedLens | None, side: EyeSide, place: Place, vertex_mm: float, at: str
) -> Cell:
    spot = f"{side.value}.{place.value}"
    where = "held in front" if place is Place.HAND else f"cell {place.value}"
    holds = lens_words(placed) if placed else "empty"
    return Cell(
        at=spot,
        name="held" if place is Place.HAND else place.value,
        vertex=f"{vertex_mm:g}",
        full=placed is not None,
        engraving=short_engraving(placed) if placed else "",
        kind=placed.lens.kind.value if placed else "",
        sign=sign_of(placed) if placed else "",
        direction=f"{placed.direction_deg:.0f}" if placed and placed.lens.turns else "",
        label=f"{EYE_NAMES[side]} eye, {where}, {vertex_mm:g} mm: {holds}",
        chosen=spot == at,
    )


def lens_words(placed: PlacedLens) -> str:
    """Return a lens in words: −1.00 cylinder at axis 90."""
    lens = placed.lens
    if lens.kind in (LensKind.SPHERE, LensKind.CYLINDER):
        words = f"{lens.engraving} {lens.kind.value}"
    elif lens.kind is LensKind.PRISM:
        words = f"{lens.power_d:g} prism dioptres"
    elif lens.kind is LensKind.CROSS_CYLINDER:
        words = f"{lens.engraving} cross cylinder, minus"
    else:
        words = DISC_NAMES.get(lens.kind, lens.kind.value).lower()
    if not lens.turns:
        return words
    name = "base" if lens.kind is LensKind.PRISM else "axis"
    gap = " " if lens.kind is LensKind.CROSS_CYLINDER else ", "
    return f"{words}{gap}{name} {placed.direction_deg:.0f}"


def short_engraving(placed: PlacedLens) -> str:
    """Return what is drawn on a lens in a cell."""
    return placed.lens.engraving if placed.lens.kind not in DISCS else ""


def sign_of(placed: PlacedLens) -> str:
    """Return plus, minus or nothing: how a rim is drawn."""
    if placed.lens.kind not in (LensKind.SPHERE, LensKind.CYLINDER):
        return ""
    return "plus" if placed.lens.power_d > 0 else "minus"


def _controls(state: State, at: str) -> Controls:
    side, place = parse_at(at)
    placed = state.frame.at(side, place)
    where = "held" if place is Place.HAND else f"cell {place.value}"
    turns = placed is not None and placed.lens.turns
    widest = placed.lens.widest_deg if placed else 180
    return Controls(
        title=f"{EYE_NAMES[side]}, {where}",
        holds=lens_words(placed) if placed else "empty",
        sign=sign_of(placed) if placed else "",
        plus_label=_leads_to(state, side, place, upwards=True),
        minus_label=_leads_to(state, side, place, upwards=False),
        eighths=_eighths(state, side, place),
        no_step="none left" if placed is None or placed.lens.kind in STEPPED else "no power",
        turns=turns,
        direction=f"{placed.direction_deg:.0f}" if placed and turns else "",
        widest=str(widest),
        direction_name="base" if widest == 360 else "axis",
        moves=_moves(state, side, place) if placed else (),
    )


def _leads_to(
    state: State, side: EyeSide, place: Place, *, upwards: bool, eighth: bool = False
) -> str:
    try:
        lens, _ = step_leads_to(state, (side, place), upwards, eighth=eighth)
    except Refused:
        return ""
    return lens.engraving if lens else "plano"


def _eighths(state: State, side: EyeSide, place: Place) -> tuple[tuple[str, str, str], ...]:
    """Return the steps of an eighth that lead elsewhere than an ordinary step does."""
    found = []
    for value, way, upwards in (
        ("minus-eighth", "more minus", False),
        ("plus-eighth", "more plus", True),
    ):
        label = _leads_to(state, side, place, upwards=upwards, eighth=True)
        if label != _leads_to(state, side, place, upwards=upwards):
            found.append((value, way, label))
    return tuple(found)


def _moves(state: State, side: EyeSide, place: Place) -> tuple[Option, ...]:
    return tuple(
        Option(
            value=f"{to_side.value}.{to.value}",
            label=f"{EYE_NAMES[to_side]}, {'held' if to is Place.HAND else f'cell {to.value}'}",
        )
        for to_side in (side, *(other for other in EyeSide if other is not side))
        for to in Place
        if state.frame.at(to_side, to) is None and (to_side, to) != (side, place)
    )


def _drawer(state: State, kind: str, at: tuple[EyeSide, Place]) -> CaseDrawer:
    left = full_set().left(state.frame.lenses())
    placed = state.frame.at(*at)
    goes, holds = _goes(state, at), placed.lens.code if placed else ""
    kinds = tuple(
        Option(value=value, label=label, chosen=value == kind) for value, label in DRAWERS.items()
    )
    if kind == "disc":
        return CaseDrawer(kinds=kinds, goes=goes, holds=holds, rows=(_slots(left, DISCS),))
    if kind == "prism":
        prisms = _slots(left, (LensKind.PRISM,))
        return CaseDrawer(kinds=kinds, goes=goes, holds=holds, rows=(prisms,))
    lenses = _slots(left, (LensKind(kind),))
    plus = [slot for slot in lenses if slot.sign == "plus"]
    minus = [slot for slot in lenses if slot.sign == "minus"]
    rows = [
        signed[start : start + A_ROW]
        for signed in (plus, minus)
        for start in range(0, len(signed), A_ROW)
    ]
    return CaseDrawer(kinds=kinds, goes=goes, holds=holds, rows=tuple(tuple(row) for row in rows))


def _goes(state: State, at: tuple[EyeSide, Place]) -> str:
    """Return where a lens from the case goes, and what comes out for it."""
    placed = state.frame.at(*at)
    if state.hand is not None and state.hand.at == at:
        return "lay away what you hold before that eye first"
    if placed is None:
        return f"into {place_name(*at)}"
    return f"exchange for {lens_words(placed)}"


def _slots(left: dict[str, int], kinds: tuple[LensKind, ...]) -> tuple[Slot, ...]:
    slots = []
    for code, lens in full_set().lenses.items():
        if lens.kind not in kinds:
            continue
        placed = PlacedLens(lens=lens)
        words = DISC_NAMES.get(lens.kind) or f"{lens.engraving} {lens.kind.value}"
        name = words.removesuffix(" filter") if lens.kind in DISCS else lens.engraving
        in_use = full_set().counts[code] - left[code]
        gone = ", none left" if not left[code] else ", one in use" if in_use else ""
        slots.append(
            Slot(
                code=code,
                engraving=name,
                sign=sign_of(placed),
                left=left[code],
                in_use=in_use,
                label=f"{words}{gone}" if gone or name != lens.engraving else "",
            )
        )
    return tuple(slots)


def _talk(state: State, notation: Notation) -> tuple[TalkLine, ...]:
    teaching = state.mode == "teaching"
    return tuple(
        TalkLine(
            number=said.number,
            asked=notation.in_words(said.asked),
            reply=said.reply,
            note=notation.in_words(note_of(said)),
            low=began_too_low(said),
            code=said.code,
            explained=teaching and bool(said.why),
        )
        for said in state.talk[: -TALK_SHOWN - 1 : -1]
    )


def _history(state: State) -> tuple[Option, ...]:
    asked = {said.question for said in state.talk}
    return tuple(
        Option(value=topic, label=words, chosen=f"history-{topic}" in asked)
        for topic, words in HISTORY.items()
    )


def status_words(attempt: Attempt) -> str:
    """Return what the last act did, for those who hear the page."""
    if not attempt.events:
        return ""
    event, state = attempt.events[-1], attempt.state
    if event.kind in ("place", "exchange", "take", "step", "turn", "move"):
        side, place = EyeSide(event.body["side"]), Place(event.body["place"])
        if event.kind == "move":
            side, place = EyeSide(event.body["to_side"]), Place(event.body["to_place"])
        placed = state.frame.at(side, place)
        where = "held lens" if place is Place.HAND else f"cell {place.value}"
        holds = lens_words(placed) if placed else "empty"
        if event.kind == "exchange":
            out = full_set().lens(event.body["out"])
            was = PlacedLens(lens=out, direction_deg=float(event.body["out_direction"]))
            holds += f", in exchange for {lens_words(was)}"
        return f"{EYE_NAMES[side]} {where}: {holds}."
    if event.kind == "show" and state.hand is not None:
        return "Held away." if state.hand.face == 0 else f"Shown: {FACE_NAMES[state.hand.face]}."
    return _OTHER_ACTS.get(event.kind, "")


_OTHER_ACTS = {
    "hold": "Taken in hand, held away from the eye.",
    "aim": "The handle has been turned.",
    "swap": "First and second are exchanged.",
    "away": "Laid away.",
    "wall": "The wall has changed.",
    "letters": "New letters.",
    "fit": "The frame has been set.",
    "undo": "Taken back.",
    "picture": "The picture is open.",
}
