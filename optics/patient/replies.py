"""Reading aloud: for each letter of a chart the probabilities of what it is called.

Nothing here draws: who asks draws one reply with a secret stream and keeps it.
"""

from dataclasses import dataclass, replace

from optics.sight.letters import RINGS
from optics.sight.reader import Reading
from optics.sight.targets import Row
from optics.sight.view import EyeView, View

GIVES_UP_BELOW = 0.3  # of a line's letters; common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class RowReply:
    """The answers to one row: for each letter the chances of the names it may get.

    ``tried`` is False where the patient does not try; the chances are those of a guess that
    is asked for all the same.
    """

    row: Row
    tried: bool
    chances: tuple[tuple[float, ...], ...]


def read_rows(
    view: View, rows: tuple[Row, ...], owned_logmar: float | None = None
) -> tuple[RowReply, ...]:
    """Return the answers to rows read from the top, to the first that is not tried.

    The better open eye reads. In the dark the first row is not tried, nor is one smaller than
    the acuity that the person owns up to.
    """
    reader = view.better
    replies: list[RowReply] = []
    for row in rows:
        reply = _row_reply(_reading(reader, row), row)
        if owned_logmar is not None and row.size_logmar < owned_logmar - 0.01:
            reply = replace(reply, tried=False)
        replies.append(reply)
        if not replies[-1].tried:
            break
    return tuple(replies)


def _reading(eye: EyeView | None, row: Row) -> Reading | None:
    if eye is None:
        return None
    return eye.reading_rings if row.alphabet == RINGS else eye.reading


def _row_reply(reading: Reading | None, row: Row) -> RowReply:
    if reading is None:
        even = (1.0 / len(row.alphabet),) * len(row.alphabet)
        return RowReply(row=row, tried=False, chances=(even,) * len(row.letters))
    chances = tuple(
        tuple(float(chance) for chance in reading.named(letter, row.size_logmar))
        for letter in row.letters
    )
    tried = reading.of_line(row.size_logmar) >= GIVES_UP_BELOW
    return RowReply(row=row, tried=tried, chances=chances)
