"""The patient's words: one reply drawn from its chances, and how it is said."""

from collections.abc import Sequence
from dataclasses import dataclass

from optics.patient.replies import RowReply
from optics.sight.letters import RINGS
from server.attempts.chance import drawn, stream

HISTORY = {
    "onset": "Since when?",
    "which_eye": "One eye or both?",
    "pain": "Any pain?",
    "flashes": "Flashes, floaters, distortion?",
    "health": "Health and medicines?",
    "spectacles": "Present spectacles?",
}
DARK = "It is all dark. I can't see anything."
NOTHING = "I can't make out any letters."
TOO_SMALL = "After that they are too small."
SURE = 0.7
RING_NAMES = dict(
    zip(
        RINGS,
        (
            *("right", "up right", "up", "up left"),
            *("left", "down left", "down", "down right"),
        ),
        strict=True,
    )
)
SPOKEN_ROWS = 2

RowSaid = tuple[float, str, str, bool]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reply:
    """What was said: the words, and row by row (size, shown, said, tried)."""

    words: str
    rows: tuple[RowSaid, ...]


def reading_reply(replies: Sequence[RowReply], dark: bool, seed: bytes, number: int) -> Reply:
    """Return the reply to a reading question, drawn from the noise stream of an event."""
    dice = stream(seed, "noise", number)
    rows: list[RowSaid] = []
    spoken: list[str] = []
    for reply in replies:
        said = "".join(reply.row.alphabet[drawn(dice, chances)] for chances in reply.chances)
        rows.append((reply.row.size_logmar, reply.row.letters, said, reply.tried))
        if reply.tried:
            spoken.append(_spoken(said, reply))
    if dark:
        return Reply(words=DARK, rows=tuple(rows))
    if not spoken:
        return Reply(words=NOTHING, rows=tuple(rows))
    words = ". ".join(spoken[-SPOKEN_ROWS:]) + "."
    if not replies[-1].tried:
        words += f" {TOO_SMALL}"
    return Reply(words=words, rows=tuple(rows))


def _spoken(said: str, reply: RowReply) -> str:
    """Return a row as it is read aloud; letters that are guessed at sound so."""
    parts = []
    for letter, chances in zip(said, reply.chances, strict=True):
        unsure = chances[reply.row.alphabet.index(letter)] < SURE
        name = RING_NAMES.get(letter, letter)
        parts.append(f"{name}?" if unsure else name)
    return ", ".join(parts)
