"""What a fault is: its name, how heavy it is, where it shows, why it matters, what to do."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property
from typing import Any

from optics.light.beam import Vector
from optics.light.lens import EyeSide
from server.casebook import Case
from server.marking.looks import EyeWork, Look
from server.marking.steps import Step, Truths

PLAIN_D = 0.06  # below this no error is spoken of


class Weight(StrEnum):
    """How heavy a fault is."""

    MINOR = "minor"
    MAJOR = "major"
    CRITICAL = "critical"


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """Where a fault shows: the event, the eye, what happened there, the engine's numbers.

    ``error`` is what the lenses in the frame left at the cornea against the end point, (M, J0,
    J45) in D, M above zero too much minus; ``accommodation_d`` what the eye must add to see
    clearly with it; ``size`` the number that the reason speaks of.
    """

    number: int
    side: str
    words: str
    error: Vector | None = field(default=None, repr=False)
    accommodation_d: float | None = field(default=None, repr=False)
    size: float = field(default=0.0, repr=False)

    @classmethod
    def from_body(cls, body: Mapping[str, Any]) -> "Evidence":
        """Return what was stored."""
        error = body["error"]
        return cls(**dict(body) | {"error": None if error is None else tuple(error)})


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """A fault found, what it costs (points before scaling), and where it shows, in that order.

    ``part`` is the key of the part of the mark that it is charged in.
    """

    key: str
    title: str
    weight: str
    charge: float
    part: str
    evidence: tuple[Evidence, ...]
    why: str
    instead: str

    @classmethod
    def from_body(cls, body: Mapping[str, Any]) -> "Fault":
        """Return what was stored."""
        evidence = tuple(Evidence.from_body(one) for one in body["evidence"])
        return cls(**dict(body) | {"evidence": evidence})


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """A kind of fault; ``why`` has a place for the largest size of its evidence."""

    key: str
    title: str
    weight: Weight
    why: str
    instead: str
    part: str = "procedure"

    def shown(self, evidence: Sequence[Evidence], charge: float) -> Fault:
        """Return the fault that evidence shows."""
        size = max(one.size for one in evidence)
        return Fault(
            key=self.key,
            title=self.title,
            weight=self.weight.value,
            charge=charge,
            part=self.part,
            evidence=tuple(sorted(evidence, key=lambda one: one.number)),
            why=self.why.format(size=size),
            instead=self.instead,
        )


@dataclass(frozen=True, kw_only=True)
class Scene:
    """Everything that a fault is looked for in."""

    case: Case = field(repr=False)
    steps: tuple[Step, ...] = field(repr=False)
    record: Mapping[str, str] = field(repr=False)
    truths: Truths = field(repr=False)
    work: Mapping[EyeSide, EyeWork] = field(repr=False)

    @cached_property
    def worked(self) -> tuple[EyeWork, ...]:
        """The eyes that got a lens with a power."""
        return tuple(one for one in self.work.values() if one.first_lens is not None)

    @property
    def end(self) -> Step:
        """The last step."""
        return self.steps[-1]


def at_look(look: Look, words: str, size: float = 0.0) -> Evidence:
    """Return evidence at a question, with the error that the lenses left."""
    return Evidence(
        number=look.number,
        side=look.side.value,
        words=f"{words} {error_words(look.error)}",
        error=look.error,
        accommodation_d=effort_d(look.error),
        size=size,
    )


def at_step(step: Step, side: EyeSide, words: str, size: float = 0.0) -> Evidence:
    """Return evidence at any step, with the error that the lenses left."""
    error = step.in_frame[side]
    return Evidence(
        number=step.number,
        side=side.value,
        words=words if error is None else f"{words} {error_words(error)}",
        error=error,
        accommodation_d=None if error is None else effort_d(error),
        size=size,
    )


def effort_d(error: Vector) -> float | None:
    """Return what an eye must accommodate for too much minus, None for none."""
    return error[0] if error[0] > PLAIN_D else None


def cylinder_left_d(error: Vector) -> float:
    """Return the cylinder of an error, as a size."""
    return 2.0 * math.hypot(*error[1:])


def error_words(error: Vector) -> str:
    """Return an error left in words."""
    m, cylinder_d = error[0], cylinder_left_d(error)
    sphere = f"{abs(m):.2f} D too much {'minus' if m > 0.0 else 'plus'}"
    parts = [sphere] if abs(m) > PLAIN_D else []
    parts += [f"{cylinder_d:.2f} D of cylinder"] if cylinder_d > 2.0 * PLAIN_D else []
    return f"Left then: {' and '.join(parts)}." if parts else "Next to no error was left then."
