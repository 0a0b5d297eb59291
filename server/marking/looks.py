"""One eye's part of an attempt: every question asked of it, with the lenses that it had then."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from optics.light.beam import Vector
from optics.light.frame import TrialFrame
from optics.light.lens import EyeSide, LensKind, PlacedLens
from optics.light.power import SpheroCylinder, from_vector, power_vector
from optics.patient.questions import READING, Question
from server.attempts.hand import Tool
from server.attempts.readings import acuity_of, began_too_low
from server.marking.steps import Step

NO_LETTERS_LOGMAR = 1.3  # only from nearer; common practice, no source
ABOUT_CHANGE = {Question.BETTER, Question.SMALLER, Question.MORE}
ABOUT_LINES = {Question.LINES, Question.BLOCKS}  # what the fan and the blocks are asked
ONE_EYE_ALONE = ABOUT_CHANGE | ABOUT_LINES | {Question.WHICH, Question.COLOUR}
LEAST_D = 0.1  # a change of lenses that is one; half the smallest step of the set
POWERED = (LensKind.SPHERE, LensKind.CYLINDER)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lenses:
    """What stands before one eye, as engraved: powers in D, axis in minus form."""

    spheres: tuple[float, ...] = ()
    cylinders: tuple[PlacedLens, ...] = ()
    stops: tuple[LensKind, ...] = ()

    @property
    def sphere_d(self) -> float:
        """The sum of the spheres."""
        return sum(self.spheres)

    @property
    def vector(self) -> Vector:
        """Spheres and cylinders as one power vector."""
        m, j0, j45 = power_vector(self.lens).tolist()
        return (m, j0, j45)

    @property
    def mean_d(self) -> float:
        """The mean sphere of all."""
        return self.lens.spherical_equivalent_d

    @property
    def cylinder_d(self) -> float:
        """The cylinder of all, as a size."""
        return 0.0 - self.lens.cylinder_d

    @property
    def axis_deg(self) -> float:
        """The minus axis of all."""
        return self.lens.axis_deg

    @property
    def lens(self) -> SpheroCylinder:
        """All as one lens, in minus form."""
        parts = [power_vector(one.power) for one in self.cylinders]
        return from_vector(sum(parts, power_vector(SpheroCylinder(sphere_d=self.sphere_d))))

    @property
    def count(self) -> int:
        """How many lenses with a power."""
        return len(self.spheres) + len(self.cylinders)


def lenses_before(frame: TrialFrame, side: EyeSide) -> Lenses:
    """Return what stands before an eye, what a tool holds there left out."""
    placed = [one.placed for one in frame.fitted if one.side is side]
    return Lenses(
        spheres=tuple(one.lens.power_d for one in placed if one.lens.kind is LensKind.SPHERE),
        cylinders=tuple(one for one in placed if one.lens.kind is LensKind.CYLINDER),
        stops=tuple(one.lens.kind for one in placed if one.lens.kind not in POWERED),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """A question asked while the eye was open.

    ``error`` is what the lenses in the frame leave (see `Step`). ``read_logmar`` is what was read
    letter by letter, if letters were; ``too_low`` that reading began at a line that was not read
    whole. ``alone`` says that the other eye was covered.
    """

    step: Step = field(repr=False)
    side: EyeSide
    lenses: Lenses
    error: Vector = field(repr=False)
    alone: bool
    read_logmar: float | None
    too_low: bool = False

    @property
    def acuity_logmar(self) -> float | None:
        """The acuity that was found; none where reading began too low."""
        return None if self.too_low else self.read_logmar

    @property
    def number(self) -> int:
        """The number of the event."""
        return self.step.number

    @property
    def question(self) -> str:
        """What was asked."""
        return self.step.said.question if self.step.said else ""

    @property
    def code(self) -> str:
        """The reply's name."""
        return self.step.said.code if self.step.said else ""

    @property
    def crossed(self) -> bool:
        """Whether the two faces of a cross cylinder were compared."""
        return self._held(Tool.CROSS)

    @property
    def paired(self) -> bool:
        """Whether two spheres, or a lens over, were compared."""
        return self._held(Tool.PAIR) or self._held(Tool.OVER)

    @property
    def pinhole(self) -> bool:
        """Whether the eye looked through a pinhole."""
        return LensKind.PINHOLE in self.lenses.stops

    def _held(self, tool: Tool) -> bool:
        hand = self.step.state.hand
        return self.question == Question.WHICH and hand is not None and hand.tool is tool


@dataclass(frozen=True, kw_only=True)
class EyeWork:
    """All that was done with one eye."""

    side: EyeSide
    steps: tuple[Step, ...] = field(repr=False)
    looks: tuple[Look, ...] = field(repr=False)
    recorded: SpheroCylinder | None = field(repr=False)

    @cached_property
    def first_lens(self) -> Step | None:
        """The step that brought the first lens with a power."""
        return next((step for step in self.steps if self.lenses(step).count), None)

    @cached_property
    def last_lenses(self) -> Lenses:
        """What was asked through last that had a power, else nothing."""
        return next((one.lenses for one in reversed(self.looks) if one.lenses.count), Lenses())

    @cached_property
    def end_step(self) -> Step | None:
        """The last step at which the eye was open behind a lens with a power."""
        behind = (step for step in reversed(self.steps) if step.in_frame[self.side] is not None)
        return next((step for step in behind if self.lenses(step).count), None)

    @cached_property
    def settled(self) -> SpheroCylinder:
        """What the eye ends with: what was recorded, else what stands before it at the end."""
        return self.recorded or self.lenses(self.steps[-1]).lens

    def lenses(self, step: Step) -> Lenses:
        """Return what stands before the eye at a step."""
        return lenses_before(step.state.frame, self.side)

    def acuity_at(self, look: Look) -> float | None:
        """Return what was read last by this eye, up to a look, pinhole left out."""
        until = [one for one in self.looks if one.number <= look.number and not one.pinhole]
        read = [one.acuity_logmar for one in until if one.acuity_logmar is not None]
        return read[-1] if read else None

    @property
    def unaided(self) -> tuple[Look, ...]:
        """The readings by this eye alone before its first lens with a power, no stop before it."""
        until = self.first_lens.number if self.first_lens else math.inf
        return tuple(
            one
            for one in self.looks
            if one.acuity_logmar is not None and one.alone and one.number < until
            if not one.pinhole
        )


def work_of(
    steps: Sequence[Step], recorded: Mapping[EyeSide, SpheroCylinder | None]
) -> dict[EyeSide, EyeWork]:
    """Return what was done with each eye."""
    return {
        side: EyeWork(
            side=side,
            steps=tuple(steps),
            looks=_looks_at(steps, side),
            recorded=recorded[side],
        )
        for side in EyeSide
    }


def _looks_at(steps: Sequence[Step], side: EyeSide) -> tuple[Look, ...]:
    looks = [_look(step, side) for step in steps if _asked_of(step, side)]
    return tuple(look for look in looks if look is not None)


def _asked_of(step: Step, side: EyeSide) -> bool:
    if step.said is None or step.said.question.startswith("history-"):
        return False
    hand = step.state.hand
    return step.said.question != Question.WHICH or hand is None or hand.side is side


def _look(step: Step, side: EyeSide) -> Look | None:
    error, said = step.in_frame[side], step.said
    if error is None or said is None:
        return None
    read = acuity_of(said.rows) if said.question in READING else None
    if said.question == Question.NEARER:
        read = NO_LETTERS_LOGMAR
    return Look(
        step=step,
        side=side,
        lenses=lenses_before(step.state.frame, side),
        error=error,
        alone=step.error[side.other] is None,
        read_logmar=read,
        too_low=began_too_low(said),
    )
