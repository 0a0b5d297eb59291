"""The trial frame: numbered cells before each eye, and what is held in front.

Cells are numbered from the eye outwards; vertex distances in mm from the cornea to the
plane of each lens. Any lens may go into any cell; a cell takes one lens. How the frame sits
is stated in the facing frame: x to the examiner's right, y up.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from enum import StrEnum
from itertools import pairwise

from optics.errors import FrameError, LensError
from optics.light.lens import EyeSide, PlacedLens, TrialLens


class Place(StrEnum):
    """Where a lens can stand before an eye, from the eye outwards."""

    CELL_1 = "1"
    CELL_2 = "2"
    CELL_3 = "3"
    CELL_4 = "4"
    HAND = "hand"


# common practice, no source: the back planes of four cells, and a lens held in front
DEFAULT_VERTEX_MM = (12.0, 15.5, 19.0, 22.5, 28.0)
Point = tuple[float, float]
FARTHEST_MM, STEEPEST_DEG = 30.0, 45.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitted:
    """One lens in one place before one eye."""

    side: EyeSide
    place: Place
    placed: PlacedLens


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialFrame:
    """What stands before both eyes.

    ``vertex_mm`` gives the distance of each place from the cornea, from the eye outwards.
    ``centre_right_mm`` and ``centre_left_mm`` say where the centres of an eye's lenses stand,
    seen from the centre of its pupil. ``tilt_deg`` is pantoscopic (positive: lower edges to the
    cheeks), ``wrap_deg`` the face form (positive: outer edges to the temples). What is held in
    front is held parallel to the frame, over its centres.
    """

    fitted: tuple[Fitted, ...] = ()
    vertex_mm: tuple[float, ...] = field(default=DEFAULT_VERTEX_MM)
    centre_right_mm: Point = (0.0, 0.0)
    centre_left_mm: Point = (0.0, 0.0)
    tilt_deg: float = 0.0
    wrap_deg: float = 0.0

    def __post_init__(self) -> None:
        rising = all(near <= far for near, far in pairwise((0.0, *self.vertex_mm, math.inf)))
        if len(self.vertex_mm) != len(Place) or not rising or math.inf in self.vertex_mm:
            raise FrameError(f"vertex_mm must rise through five places, got {self.vertex_mm!r}")
        for name in ("centre_right_mm", "centre_left_mm"):
            if not all(abs(part) <= FARTHEST_MM for part in getattr(self, name)):
                raise FrameError(
                    f"{name} must lie within {FARTHEST_MM:g} mm, got {getattr(self, name)!r}"
                )
        for name in ("tilt_deg", "wrap_deg"):
            if not abs(getattr(self, name)) <= STEEPEST_DEG:
                raise FrameError(
                    f"{name} must lie within {STEEPEST_DEG:g} degrees, got {getattr(self, name)!r}"
                )

    def centre_mm(self, side: EyeSide) -> Point:
        """Return where the centres of an eye's lenses stand, seen from its pupil's centre."""
        return self.centre_right_mm if side is EyeSide.RIGHT else self.centre_left_mm

    def turn_deg(self, side: EyeSide) -> float:
        """Return how far wrap turns an eye's lenses: positive faces the examiner's right."""
        return -self.wrap_deg if side is EyeSide.RIGHT else self.wrap_deg

    def at(self, side: EyeSide, place: Place) -> PlacedLens | None:
        """Return what stands in a place, or None."""
        return next(
            (one.placed for one in self.fitted if one.side is side and one.place is place), None
        )

    def before(self, side: EyeSide) -> Iterator[tuple[float, PlacedLens]]:
        """Yield (vertex distance in mm, lens) before an eye, outermost first."""
        for place, vertex_mm in sorted(
            zip(Place, self.vertex_mm, strict=True), key=lambda pair: -pair[1]
        ):
            placed = self.at(side, place)
            if placed is not None:
                yield vertex_mm, placed

    def lenses(self) -> list[TrialLens]:
        """Return every lens that stands anywhere in the frame."""
        return [one.placed.lens for one in self.fitted]

    def with_lens(self, side: EyeSide, place: Place, placed: PlacedLens) -> "TrialFrame":
        """Return the frame with a lens put into an empty place.

        Raises
        ------
        FrameError
            If the place already holds a lens.
        """
        if self.at(side, place) is not None:
            raise FrameError(f"{place_name(side, place)} already holds a lens")
        return replace(self, fitted=(*self.fitted, Fitted(side=side, place=place, placed=placed)))

    def without(self, side: EyeSide, place: Place) -> "TrialFrame":
        """Return the frame with a place emptied; an empty place stays empty."""
        rest = tuple(one for one in self.fitted if (one.side, one.place) != (side, place))
        return replace(self, fitted=rest)

    def turned(self, side: EyeSide, place: Place, direction_deg: float) -> "TrialFrame":
        """Return the frame with the lens in a place turned to a direction.

        Raises
        ------
        LensError
            If nothing that turns stands there, or the direction is out of range.
        """
        placed = self.at(side, place)
        if placed is None or not placed.lens.turns:
            raise LensError("there is no lens with an axis in that place")
        turned = PlacedLens(lens=placed.lens, direction_deg=direction_deg)
        return self.without(side, place).with_lens(side, place, turned)


SIDE_NAMES = {EyeSide.RIGHT: "right", EyeSide.LEFT: "left"}


def place_name(side: EyeSide, place: Place) -> str:
    """Return a place in words: cell 2 before the right eye."""
    where = "the held place" if place is Place.HAND else f"cell {place.value}"
    return f"{where} before the {SIDE_NAMES[side]} eye"
