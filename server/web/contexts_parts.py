"""The smallest parts of what templates may see."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """One choice of a list."""

    value: str
    label: str
    chosen: bool = False
