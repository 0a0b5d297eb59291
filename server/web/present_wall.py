"""The wall as the examiner sees it, and the picture of it as an eye sees it."""

from optics.light.frame import SIDE_NAMES
from optics.light.lens import EyeSide
from optics.patient.questions import Question
from optics.sight.canvas import Canvas, canvas_for, canvas_on, parts_of
from optics.sight.targets import CHART_LINES_LOGMAR, Row
from server.attempts.service import Attempt
from server.attempts.state import LETTER_VIEWS, State
from server.web.contexts import (
    PictureView,
    WallLetter,
    WallRow,
    WallView,
)
from server.web.contexts_parts import Option
from server.web.contexts_wall import FigureDrawing
from server.web.notation import Notation
from server.web.present_figure import figure_drawing

DISTANCES_M = ("6", "4", "3")
VIEWS = {
    "chart": "Whole chart",
    "line": "One line",
    "letter": "One letter",
    "rings": "Rings",
    "fan": "Fan",
    "block": "Blocks",
    "duochrome": "Red and green",
    "dots": "Dots",
    "spotlight": "Spotlight",
}
SIZED_VIEWS = ("line", "letter", "rings", "duochrome", "dots")
WHAT = {
    "chart": "the letter chart",
    "line": "one line of letters",
    "letter": "one letter",
    "rings": "rings with a gap",
    "fan": "the fan of lines",
    "block": "two blocks of lines",
    "duochrome": "letters on red and green",
    "dots": "a cluster of dots",
    "spotlight": "a small bright light",
}


def wall_view(state: State, notation: Notation) -> WallView:
    """Return the wall, letters ticked as they were last read."""
    wall = state.wall
    read = {size: (said, tried) for size, _, said, tried in state.read}
    return WallView(
        view=wall.view,
        views=tuple(
            Option(value=value, label=label, chosen=value == wall.view)
            for value, label in VIEWS.items()
        ),
        lines=tuple(
            Option(
                value=f"{line:.1f}",
                label=notation.acuity_text(line),
                chosen=abs(line - wall.line_logmar) < 0.01,
            )
            for line in CHART_LINES_LOGMAR
        ),
        distances=tuple(
            Option(value=metres, label=f"{metres} m", chosen=float(metres) == wall.distance_m)
            for metres in DISTANCES_M
        ),
        sized=wall.view in SIZED_VIEWS,
        lettered=wall.view in LETTER_VIEWS,
        block=f"{wall.block_deg:.0f}" if wall.view == "block" else "",
        figure=_figure(state),
        lit=wall.lit,
        rows=tuple(
            _row(row, read.get(row.size_logmar), notation, starts=wall.view == "chart")
            for row in wall.rows
        ),
    )


def _figure(state: State) -> FigureDrawing | None:
    """Return what hangs there if it is no letters; the line last called blackest is marked."""
    figure = state.wall.scene.figure
    if figure is None:
        return None
    last = state.talk[-1] if state.talk else None
    told = last is not None and last.question == Question.LINES and last.code[:1].isdigit()
    return figure_drawing(figure, (float(last.code),) if last is not None and told else ())


def _row(row: Row, read: tuple[str, bool] | None, notation: Notation, *, starts: bool) -> WallRow:
    said, tried = read if read else ("", False)
    marks = [
        ("yes" if letter == other else "no") if tried else "not"
        for letter, other in zip(row.letters, said.ljust(len(row.letters)), strict=True)
    ]
    right = marks.count("yes")
    score = f"{right}/{len(row.letters)}" if tried else ("–" if read else "")
    return WallRow(
        start=f"{row.size_logmar:.1f}" if starts else "",
        size=notation.acuity_text(row.size_logmar),
        scale=f"{min(1.55, max(0.75, 10 ** (row.size_logmar * 0.34) * 0.85)):.2f}",
        letters=tuple(
            WallLetter(letter=letter, read=mark)
            for letter, mark in zip(row.letters, marks, strict=True)
        ),
        score=score,
    )


def picture_view(
    attempt: Attempt, side: EyeSide, notation: Notation, nonce: str, look: int
) -> PictureView:
    """Return where the picture of an eye is; the address says nothing but which event and part."""
    state = attempt.state
    name = SIDE_NAMES[side]
    shown = state.picture_open
    parts = _parts(state, notation)
    look = look if look <= len(parts) else 0
    lowest = notation.acuity_text(state.wall.rows[-1].size_logmar) if state.wall.rows else ""
    named = f"{WHAT[state.wall.view]}{f' ({lowest} lowest)' if lowest else ''}"
    seen = parts[look - 1][0] if look else named
    return PictureView(
        shown=shown,
        address=f"/attempts/{attempt.row.id}/pictures/{state.number}-{side.value}-{nonce}.png"
        + (f"?look={look}" if look else "")
        if shown
        else "",
        eye=name,
        alt=f"{seen[0].upper()}{seen[1:]}, as the {name} eye forms it now",
        note=scale_words(canvas_on(state.wall.scene, look)),
        parts=tuple(
            (str(number), label, spot, number == look)
            for number, (label, spot) in enumerate((("whole", ""), *parts))
        )
        if parts
        else (),
    )


def _parts(state: State, notation: Notation) -> tuple[tuple[str, str], ...]:
    """Return what can be looked at closer: its words, and where it lies in percent."""
    rows, scene = state.wall.rows, state.wall.scene
    whole = canvas_for(scene)
    across, tall = (side * whole.arcmin_per_pixel for side in (whole.width, whole.height))
    found = []
    for number, letters in enumerate(parts_of(scene)):
        line = f"{notation.acuity_text(rows[number].size_logmar)} line" if len(rows) > 1 else ""
        x = (letters[0].x_arcmin + letters[-1].x_arcmin) / 2.0
        spot = f"{50 + 100 * x / across:.1f} {50 - 100 * letters[0].y_arcmin / tall:.1f}"
        found.append((line or f"letter {number + 1}", spot))
    return tuple(found)


def scale_words(canvas: Canvas) -> str:
    """Return how large a picture is at the eye."""
    across_deg = canvas.width * canvas.arcmin_per_pixel / 60.0
    wide = f"{across_deg:.1f}" if across_deg >= 1.0 else f"{across_deg:.2f}"
    each = canvas.arcmin_per_pixel
    pixel = f"{each:.2f}" if each >= 0.1 else f"{each:.3f}"
    return f"{wide}° wide; 1 pixel = {pixel} minutes of arc"
