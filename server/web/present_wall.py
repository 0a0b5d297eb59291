"""The wall as the examiner sees it, and the picture of it as an eye sees it."""

from optics.light.lens import EyeSide
from optics.sight.picture import canvas_for
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


def picture_view(attempt: Attempt, side: EyeSide, notation: Notation, nonce: str) -> PictureView:
    """Return where the picture of an eye is; the address says nothing but which event."""
    state = attempt.state
    name = "right" if side is EyeSide.RIGHT else "left"
    shown = state.picture_open
    what = {"chart": "the letter chart", "line": "one line of letters", "letter": "one letter"}
    canvas = canvas_for(state.wall.rows)
    across_deg = canvas.width * canvas.arcmin_per_pixel / 60.0
    return PictureView(
        shown=shown,
        address=f"/attempts/{attempt.row.id}/pictures/{state.number}-{side.value}-{nonce}.png"
        if shown
        else "",
        eye=name,
        alt=f"{what[state.wall.view].capitalize()} as the {name} eye forms it now"
        f" ({notation.acuity_text(state.wall.rows[-1].size_logmar) if state.wall.rows else ''}"
        " lowest)",
        note=f"{across_deg:.1f}° across",
    )
