"""The wall as the examiner sees it, and the picture of it as an eye sees it."""

from optics.light.lens import EyeSide
from optics.sight.canvas import Canvas, canvas_for, canvas_on, parts_of
from optics.sight.targets import CHART_LINES_LOGMAR, Row
from server.attempts.service import Attempt
from server.attempts.state import State
from server.web.contexts import Option, PictureView, WallLetter, WallRow, WallView
from server.web.notation import Notation

DISTANCES_M = ("6", "4", "3")
VIEWS = {"chart": "Whole chart", "line": "One line", "letter": "One letter"}


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
        lit=wall.lit,
        rows=tuple(_row(row, read.get(row.size_logmar), notation) for row in wall.rows),
    )


def _row(row: Row, read: tuple[str, bool] | None, notation: Notation) -> WallRow:
    said, tried = read if read else ("", False)
    marks = [
        ("yes" if letter == other else "no") if tried else "not"
        for letter, other in zip(row.letters, said.ljust(len(row.letters)), strict=True)
    ]
    right = marks.count("yes")
    score = f"{right}/{len(row.letters)}" if tried else ("–" if read else "")
    return WallRow(
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
    name = "right" if side is EyeSide.RIGHT else "left"
    shown = state.picture_open
    parts = _parts(state, notation)
    look = look if look <= len(parts) else 0
    what = {"chart": "the letter chart", "line": "one line of letters", "letter": "one letter"}
    lowest = notation.acuity_text(state.wall.rows[-1].size_logmar) if state.wall.rows else ""
    seen = parts[look - 1][0] if look else f"{what[state.wall.view]} ({lowest} lowest)"
    return PictureView(
        shown=shown,
        address=f"/attempts/{attempt.row.id}/pictures/{state.number}-{side.value}-{nonce}.png"
        + (f"?look={look}" if look else "")
        if shown
        else "",
        eye=name,
        alt=f"{seen[0].upper()}{seen[1:]}, as the {name} eye forms it now",
        note=scale_words(canvas_on(state.wall.rows, look)),
        parts=tuple(
            (str(number), label, spot, number == look)
            for number, (label, spot) in enumerate((("whole", ""), *parts))
        )
        if parts
        else (),
    )


def _parts(state: State, notation: Notation) -> tuple[tuple[str, str], ...]:
    """Return what can be looked at closer: its words, and where it lies in percent."""
    rows = state.wall.rows
    whole = canvas_for(rows)
    across, tall = (side * whole.arcmin_per_pixel for side in (whole.width, whole.height))
    found = []
    for number, letters in enumerate(parts_of(rows)):
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
