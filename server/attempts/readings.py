"""What is read aloud: from which line on, how many letters rightly, and what acuity that shows."""

from collections.abc import Sequence

from optics.sight.targets import Row
from server.attempts.state import Said, WallState
from server.attempts.words import acuity_mark
from server.errors import Refused

LINE_STEP_LOGMAR = 0.1
SAME_LOGMAR = 1e-6
RowsRead = Sequence[tuple[float, str, str, bool]]


def rows_from(wall: WallState, start_logmar: float | None) -> tuple[Row, ...]:
    """Return the rows on the wall from a line down, all of them if none is named.

    Raises
    ------
    Refused
        If a line is named and no whole chart hangs there, or the chart has no such line.
    """
    if start_logmar is None:
        return wall.rows
    sizes = [row.size_logmar for row in wall.rows]
    if wall.view != "chart":
        raise Refused("Reading begins at a line only where the whole chart hangs", "start")
    if all(abs(size - start_logmar) > SAME_LOGMAR for size in sizes):
        raise Refused(
            f"start must be a line of the chart, {sizes[0]:g} to {sizes[-1]:g} logMAR by"
            f" {LINE_STEP_LOGMAR:g}, got {start_logmar:g}",
            "start",
        )
    return tuple(row for row in wall.rows if row.size_logmar < start_logmar + SAME_LOGMAR)


def right_letters(rows: RowsRead) -> int:
    """Return how many letters were named rightly in the rows that were tried."""
    return sum(
        one == other
        for _, shown, said, tried in rows
        if tried
        for one, other in zip(shown, said, strict=False)
    )


def acuity_of(rows: RowsRead) -> float | None:
    """Return the acuity letter by letter: each is worth its share of a line, from the first row.

    Rows above the first count as read; see `began_too_low`.
    """
    if not rows:
        return None
    share = LINE_STEP_LOGMAR / max(len(rows[0][1]), 1)
    return rows[0][0] + LINE_STEP_LOGMAR - share * right_letters(rows)


def began_too_low(said: Said) -> bool:
    """Say whether a reading began at a line that was not read whole.

    Then the lines above may not be read either, and the acuity is at best what the letters make
    it; common practice, no source.
    """
    if said.start_logmar is None or not said.rows:
        return False
    return right_letters(said.rows[:1]) < len(said.rows[0][1])


def note_of(said: Said) -> str:
    """Return what a reading from a line down says of the lines above; nothing of another."""
    acuity_logmar = acuity_of(said.rows)
    if said.start_logmar is None or acuity_logmar is None:
        return ""
    line = acuity_mark(said.start_logmar)
    if not began_too_low(said):
        return f"{line} was read whole: the lines above count as read."
    return (
        f"This began too low: {line} was not read whole, so the acuity is at best"
        f" {acuity_mark(acuity_logmar)}. Begin higher."
    )
