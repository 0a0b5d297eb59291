"""The patient's time: how many seconds each act takes; common practice, no source."""

from collections.abc import Mapping
from typing import Any

OUT_S, IN_S = 3.0, 5.0  # a lens
SECONDS = {
    "place": IN_S,
    "exchange": OUT_S + IN_S,
    "take": OUT_S,
    "step": 4.0,
    "turn": 2.0,
    "move": 4.0,
    "wall": 3.0,
    "letters": 2.0,
    "fit": 8.0,
    "hold": 3.0,
    "aim": 2.0,
    "show": 2.0,
    "swap": 1.0,
    "away": 1.0,
    "record": 4.0,
}
ANSWER_S, LETTER_S, WAIT_S = 3.0, 0.6, 30.0


def seconds_of(kind: str, body: Mapping[str, Any]) -> float:
    """Return how long an act of a kind takes; reading aloud by its letters."""
    if kind != "ask":
        return SECONDS.get(kind, 0.0)
    letters = sum(len(said) for _, _, said, _ in body["rows"])
    waited = WAIT_S if body["question"] == "wait" else 0.0
    return ANSWER_S + LETTER_S * letters + waited


def clock_text(seconds: float) -> str:
    """Return seconds as minutes and seconds, 4:05."""
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes}:{rest:02d}"
