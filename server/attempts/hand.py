"""What the student holds before an eye: a cross cylinder, a pair of spheres, a lens over.

Each has two faces, shown one after the other; between times it is held away. A cross cylinder
has its handle midway between its axes: one face has the minus axis 45 degrees on from it, the
other 45 degrees back.
"""

from dataclasses import dataclass
from enum import StrEnum

from optics.light.frame import Place, TrialFrame
from optics.light.lens import EyeSide, LensKind, PlacedLens, TrialLens

WHOLE_TURN_DEG = 180.0
FIRST_HANDLE_DEG = 45.0  # no cylinder yet: minus axis at 90, then at 180


class Tool(StrEnum):
    """What is held."""

    CROSS = "cross"
    PAIR = "pair"
    OVER = "over"
    PLANO = "plano"


class Aim(StrEnum):
    """How a cross cylinder's handle lies: along the cylinder's axis, 45 degrees off, or as set."""

    AXIS = "axis"
    POWER = "power"
    SET = "set"


POWERS_D = {
    Tool.CROSS: (0.25, 0.50, 1.00),
    Tool.PAIR: (0.12, 0.25, 0.50, 0.75, 1.00),
    Tool.OVER: (1.00,),
    Tool.PLANO: (0.0,),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Hand:
    """A tool before an eye: which face is up (0: held away) and which have been shown.

    ``swapped`` calls the second face the first.
    """

    tool: Tool
    side: EyeSide
    power_d: float
    aim: Aim = Aim.SET
    set_deg: float = FIRST_HANDLE_DEG
    swapped: bool = False
    face: int = 0
    shown: frozenset[int] = frozenset()

    @property
    def at(self) -> tuple[EyeSide, Place]:
        """The place where it is held."""
        return self.side, Place.HAND

    def handle_deg(self, frame: TrialFrame) -> float:
        """Return where the handle lies, 1 to 180."""
        if self.aim is Aim.SET:
            return self.set_deg
        along = cylinder_axis_deg(frame, self.side)
        return along if self.aim is Aim.AXIS else _turned(along, 45.0)

    def minus_axis_deg(self, frame: TrialFrame, face: int) -> float:
        """Return where a cross cylinder's minus axis lies with a face up."""
        on = (face == 1) != self.swapped
        return _turned(self.handle_deg(frame), 45.0 if on else -45.0)

    def lens(self, frame: TrialFrame, face: int) -> PlacedLens | None:
        """Return what a face holds before the eye; None for nothing."""
        second = (face == 2) != self.swapped
        if face == 0 or (self.tool is Tool.OVER and not second):
            return None
        if self.tool is Tool.CROSS:
            cross = TrialLens(kind=LensKind.CROSS_CYLINDER, power_d=self.power_d)
            return PlacedLens(lens=cross, direction_deg=self.minus_axis_deg(frame, face))
        if self.tool is Tool.PLANO:
            return PlacedLens(lens=TrialLens(kind=LensKind.PLANO))
        signed_d = -self.power_d if self.tool is Tool.PAIR and second else self.power_d
        return PlacedLens(lens=TrialLens(kind=LensKind.SPHERE, power_d=signed_d))

    def before(self, frame: TrialFrame, face: int | None = None) -> TrialFrame:
        """Return the frame with a face (the one that is up) held before the eye."""
        lens = self.lens(frame, self.face if face is None else face)
        return frame if lens is None else frame.with_lens(*self.at, lens)


def cylinder_axis_deg(frame: TrialFrame, side: EyeSide) -> float:
    """Return the axis of the outermost cylinder before an eye, 180 if there is none."""
    axes = [
        placed.direction_deg
        for _, placed in frame.before(side)
        if placed.lens.kind is LensKind.CYLINDER
    ]
    return axes[0] if axes else WHOLE_TURN_DEG


def _turned(direction_deg: float, by_deg: float) -> float:
    return (direction_deg + by_deg) % WHOLE_TURN_DEG or WHOLE_TURN_DEG
