"""What templates may see: frozen, plain values; nothing hidden before an attempt has ended."""

from dataclasses import dataclass
from typing import ClassVar

from server.web.contexts_hand import AskView, HandView
from server.web.contexts_parts import Option
from server.web.contexts_wall import FigureDrawing


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One place of a rail and what stands in it."""

    at: str
    name: str
    vertex: str
    full: bool
    engraving: str
    kind: str
    sign: str
    direction: str
    label: str
    chosen: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Rail:
    """The light's way to one eye: held place first, then cells 4 to 1."""

    side: str
    name: str
    cells: tuple[Cell, ...]
    dark: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class AxisLine:
    """A line drawn over a degree scale."""

    kind: str
    direction: str
    x1: str
    y1: str
    x2: str
    y2: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceEye:
    """One eye behind the frame, from the examiner's side; lengths in the drawing's units."""

    side: str
    name: str
    pupil_x: str
    centre_x: str
    centre_y: str
    covered: bool
    blocked: str
    lines: tuple[AxisLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FitField:
    """One setting of the frame."""

    name: str
    label: str
    value: str
    unit: str
    step: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Controls:
    """What can be done with the selected place; ``eighths`` are (value, way, leads to)."""

    title: str
    holds: str
    sign: str
    plus_label: str
    minus_label: str
    eighths: tuple[tuple[str, str, str], ...]
    no_step: str
    turns: bool
    direction: str
    widest: str
    direction_name: str
    moves: tuple[Option, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Slot:
    """One lens of the case: how many lie in it; no label where the engraving says all."""

    code: str
    engraving: str
    sign: str
    left: int
    in_use: int
    label: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseDrawer:
    """The kind of lens that is looked through, in rows; where one goes, and what it holds now."""

    kinds: tuple[Option, ...]
    goes: str
    holds: str
    rows: tuple[tuple[Slot, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class WallLetter:
    """A letter on the wall and whether it was last read: yes, no or not."""

    letter: str
    read: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WallRow:
    """A line of the wall as the examiner sees it; ``start`` where reading can begin at it."""

    start: str
    size: str
    scale: str
    letters: tuple[WallLetter, ...]
    score: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WallView:
    """The wall, as the examiner sees it, and what can be changed."""

    view: str
    views: tuple[Option, ...]
    lines: tuple[Option, ...]
    distances: tuple[Option, ...]
    sized: bool
    lettered: bool
    block: str
    figure: FigureDrawing | None
    lit: bool
    rows: tuple[WallRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureView:
    """The picture of what an eye sees: where it is, whose eye, its text alternative."""

    shown: bool
    address: str
    eye: str
    alt: str
    note: str
    parts: tuple[tuple[str, str, str, bool], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TalkLine:
    """A question and its answer; ``note`` says how far a reading from a line down counts.

    ``low``: not at all, it began too low.
    """

    number: int
    asked: str
    reply: str
    note: str
    low: bool
    code: str
    explained: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class CardField:
    """One field of the record card."""

    name: str
    label: str
    value: str
    hint: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SavedField:
    """The answer to one field that was written."""

    template: ClassVar[str] = "room/_saved.html"
    name: str
    value: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CardRow:
    """The fields of one eye."""

    name: str
    fields: tuple[CardField, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """The record card."""

    template: ClassVar[str] = "room/_card.html"
    attempt_id: str
    rows: tuple[CardRow, ...]
    shared: tuple[CardField, ...]
    prescribe: tuple[Option, ...]
    refer: tuple[Option, ...]
    start: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Prompt:
    """One step of the first patient's guidance."""

    words: str
    done: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """Everything in the room that an act may change."""

    template: ClassVar[str] = "room/_room.html"
    attempt_id: str
    number: int
    mode: str
    at: str
    kind: str
    notice: str
    status: str
    face: tuple[FaceEye, ...]
    pd: str
    fit: tuple[FitField, ...]
    fit_effects: tuple[str, ...]
    rails: tuple[Rail, ...]
    controls: Controls
    drawer: CaseDrawer
    wall: WallView
    picture: PictureView
    hand: HandView
    ask: AskView
    talk: tuple[TalkLine, ...]
    history: tuple[Option, ...]
    undoable: bool
    adds_address: str
    prompts: tuple[Prompt, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Bell:
    """The time left at a station or between two, and where it leads."""

    words: str
    left_s: int
    left: str
    leads_to: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomPage:
    """The whole page of an attempt; level 0 is not shown."""

    template: ClassVar[str] = "room/room.html"
    attempt_id: str
    age: int
    who: str
    complaint: str
    level: int
    copied: bool
    room: Room
    card: Card
    checklist: tuple[str, ...]
    bell: Bell | None
    symbols: tuple[tuple[str, tuple[tuple[str, bool], ...]], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Adds:
    """What the eye adds by accommodating, in teaching mode."""

    template: ClassVar[str] = "room/_adds.html"
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Why:
    """Why the patient answered so."""

    template: ClassVar[str] = "room/_why.html"
    number: int
    words: str
