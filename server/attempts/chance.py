"""What is left to chance, drawn from an attempt's secret in separate streams."""

import hashlib
import random
from collections.abc import Sequence

from optics.sight.letters import SLOAN


def stream(seed: bytes, name: str, number: int) -> random.Random:
    """Return the stream of a name for one event: the same event always draws the same."""
    key = hashlib.sha256(seed + name.encode() + number.to_bytes(8, "big")).digest()
    return random.Random(key)


def fresh_letters(
    seed: bytes, number: int, sizes: Sequence[float], a_row: int, of: str = SLOAN
) -> list[tuple[float, str]]:
    """Return new rows of letters, none twice in a row of letters."""
    dice = stream(seed, "letters", number)
    return [(size, "".join(dice.sample(of, a_row))) for size in sizes]


def drawn(dice: random.Random, chances: Sequence[float]) -> int:
    """Return an index with those chances."""
    return dice.choices(range(len(chances)), weights=chances)[0]
