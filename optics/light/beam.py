"""From a trial frame and a viewing distance to the light at each cornea.

Facing frame: x to the examiner's right, y up, axes TABO. Vergence in D, negative when
diverging; distances in mm and m. Light is followed from the front lens towards the eye, as
rays from a point straight before the pupil; lenses are thin.
"""

import math
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np

from optics.errors import FrameError
from optics.light.field_of_view import ENTRANCE_PUPIL_M, field_half_deg
from optics.light.frame import Point, TrialFrame
from optics.light.lens import (
    COLOURS,
    SLIT_LENGTH_MM,
    SLIT_WIDTH_MM,
    STOPS,
    EyeSide,
    LensKind,
    PlacedLens,
)
from optics.light.power import SpheroCylinder, from_vector, matrix_vector, power_matrix, spread
from optics.light.tilt import tilted
from optics.units import FloatArray

Vector = tuple[float, float, float]
Rows = tuple[float, float, float, float]  # a matrix (2, 2) by rows
NEAREST_M = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """A hole in a disc before the eye, as it lies over the pupil.

    ``from_pupil`` (2 x 2, by rows) takes a point of the pupil to the plane of the disc: a ray
    crosses the two at different heights when lenses stand between. ``centre_mm`` is the hole's
    middle in that plane, from where the ray to the pupil's centre crosses it. A slit is
    ``half_length_mm`` long along ``direction_deg``; a round hole has equal halves.
    """

    round: bool
    half_width_mm: float
    half_length_mm: float
    direction_deg: float
    from_pupil: Rows
    centre_mm: Point = (0.0, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Beam:
    """The light that reaches one cornea, and how the world looks through what it passed.

    ``vergence`` (M, J0, J45) leaves out the rod, whose grooves lie along ``rod_deg``.
    ``prism_pd`` (base to the examiner's right, base up) is the sum of the prisms placed and of
    Prentice's rule at each lens. ``image_shift_pd`` is where a point straight ahead is seen
    from the entrance pupil, in cm per m: about -prism_pd, as lenses and a near object change it.
    ``magnification`` (2 x 2 by rows) takes directions without lenses to those with them, seen
    from the entrance pupil; lenses are thin, so the shape factor is neglected.
    ``transmittance`` leaves out the colours named in ``filters``. ``field_half_deg`` is the
    field inside the rims as the eye sees it, 90 without a lens; in the object, divide its
    tangent by the magnification.
    """

    vergence: Vector
    stops: tuple[Stop, ...]
    prism_pd: Point
    image_shift_pd: Point
    magnification: Rows
    transmittance: float
    filters: tuple[str, ...]
    field_half_deg: float
    rod_deg: float | None
    dark: bool

    @property
    def mean_magnification(self) -> float:
        """The magnification of lengths, the mean (geometric) over the two principal meridians."""
        a, b, c, d = self.magnification
        return math.sqrt(abs(a * d - b * c))

    def beyond(self, other: "Beam") -> SpheroCylinder:
        """Return the power at the cornea by which its vergence exceeds another beam's."""
        return from_vector(np.subtract(self.vergence, other.vergence))


def beam_at_cornea(frame: TrialFrame, side: EyeSide, distance_m: float) -> Beam:
    """Return the beam from an object ``distance_m`` before the cornea through what stands there.

    Raises
    ------
    FrameError
        If the object stands nearer than 0.1 m; infinity is allowed.
    PowerError
        If a focal line falls exactly on a lens, the cornea or the entrance pupil.
    """
    if math.isnan(distance_m) or distance_m < NEAREST_M:
        raise FrameError(f"the distance must be at least {NEAREST_M} m, got {distance_m!r}")
    stack = list(frame.before(side))
    turn_deg = frame.turn_deg(side)
    powers = [_power(placed, frame.tilt_deg, turn_deg) for _, placed in stack]
    centre_m = np.array(frame.centre_mm(side)) / 1000.0
    first_m = stack[0][0] / 1000.0 if stack else 0.0
    rays = _Rays(vergence=-np.eye(2) / (distance_m - first_m))
    deviation = np.zeros(2)
    for index, ((vertex_mm, placed), power) in enumerate(zip(stack, powers, strict=True)):
        bent = np.array(placed.prism_pd) / 100.0 + power @ centre_m
        deviation = deviation + bent
        rays.bend(power, bent)
        if placed.lens.kind in STOPS:
            rays.crossings.append((placed, np.eye(2), np.zeros(2)))
        next_mm = stack[index + 1][0] if index + 1 < len(stack) else 0.0
        rays.step((vertex_mm - next_mm) / 1000.0)
    m, j0, j45 = (float(part) for part in matrix_vector(rays.vergence))
    stops = tuple(_stop(*crossing, centre_m) for crossing in rays.crossings)
    rays.step(ENTRANCE_PUPIL_M)
    nearer = 1.0
    if math.isfinite(distance_m):
        nearer = (distance_m + ENTRANCE_PUPIL_M) / (distance_m - first_m)
    kinds = [placed.lens.kind for _, placed in stack]
    return Beam(
        vergence=(m, j0, j45),
        stops=stops,
        prism_pd=_pair(100.0 * deviation),
        image_shift_pd=_pair(-100.0 * rays.lean),
        magnification=_rows(rays.enlarged * nearer),
        transmittance=math.prod(placed.lens.transmittance for _, placed in stack),
        filters=tuple(COLOURS[kind] for kind in kinds if kind in COLOURS),
        field_half_deg=field_half_deg(stack, powers, frame.centre_mm(side)),
        rod_deg=next(
            (one.direction_deg for _, one in stack if one.lens.kind is LensKind.ROD), None
        ),
        dark=LensKind.OCCLUDER in kinds,
    )


@lru_cache(maxsize=512)
def _power(placed: PlacedLens, tilt_deg: float, turn_deg: float) -> FloatArray:
    power = tilted(power_matrix(placed.power), tilt_deg, turn_deg)
    power.setflags(write=False)
    return power


@dataclass(slots=True, kw_only=True)
class _Rays:
    """Rays on their way from one point: at height q their slope is -vergence q + lean.

    ``enlarged`` is how much a slope of the object's side grows in ``lean``. A crossing says
    where a ray that is now at height q crossed a disc: matrix q + shift, in metres.
    """

    vergence: FloatArray
    lean: FloatArray = field(default_factory=lambda: np.zeros(2))
    enlarged: FloatArray = field(default_factory=lambda: np.eye(2))
    crossings: list[tuple[PlacedLens, FloatArray, FloatArray]] = field(default_factory=list)

    def bend(self, power: FloatArray, bent: FloatArray) -> None:
        """Cross a lens; ``bent`` is its prism at the line of sight, towards the base."""
        self.vergence = self.vergence + power
        self.lean = self.lean + bent

    def step(self, distance_m: float) -> None:
        """Go on towards the eye."""
        back = spread(self.vergence, distance_m)
        self.crossings = [
            (placed, matrix @ back, shift - distance_m * (matrix @ (back @ self.lean)))
            for placed, matrix, shift in self.crossings
        ]
        self.vergence = self.vergence @ back
        self.lean = back @ self.lean
        self.enlarged = back @ self.enlarged


def _stop(
    placed: PlacedLens, matrix: FloatArray, shift_m: FloatArray, centre_m: FloatArray
) -> Stop:
    is_round = placed.lens.kind is LensKind.PINHOLE
    return Stop(
        round=is_round,
        half_width_mm=(placed.lens.aperture_mm if is_round else SLIT_WIDTH_MM) / 2.0,
        half_length_mm=(placed.lens.aperture_mm if is_round else SLIT_LENGTH_MM) / 2.0,
        direction_deg=placed.direction_deg,
        from_pupil=_rows(matrix),
        centre_mm=_pair(1000.0 * (centre_m - shift_m)),
    )


def _pair(vector: FloatArray) -> Point:
    x, y = vector.tolist()
    return (x + 0.0, y + 0.0)


def _rows(matrix: FloatArray) -> Rows:
    (a, b), (c, d) = matrix.tolist()
    return (a, b, c, d)
