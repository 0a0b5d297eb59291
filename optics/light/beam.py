"""From a trial frame and a viewing distance to the light at each cornea.

Facing frame: x to the examiner's right, y up, axes TABO. Vergence in D, negative when
diverging; distances in mm and m. Light is followed from the front lens towards the eye.
"""

import math
from dataclasses import dataclass

import numpy as np

from optics.errors import FrameError
from optics.light.frame import TrialFrame
from optics.light.lens import SLIT_LENGTH_MM, SLIT_WIDTH_MM, EyeSide, LensKind, PlacedLens
from optics.light.power import matrix_vector, power_matrix, stepped
from optics.units import FloatArray

Vector = tuple[float, float, float]
NEAREST_M = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """A hole in a disc before the eye, as it lies over the pupil.

    ``from_pupil`` (2 x 2, by rows) takes a point of the pupil to the plane of the disc: a ray
    crosses the two at different heights when lenses stand between. A slit is
    ``half_length_mm`` long along ``direction_deg``; a round hole has equal halves.
    """

    round: bool
    half_width_mm: float
    half_length_mm: float
    direction_deg: float
    from_pupil: tuple[float, float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Beam:
    """The light that reaches one cornea: vergence vector (M, J0, J45), stops, prism, filters."""

    vergence: Vector
    stops: tuple[Stop, ...]
    prism_pd: tuple[float, float]
    dark: bool
    filters: tuple[str, ...] = ()


def beam_at_cornea(frame: TrialFrame, side: EyeSide, distance_m: float) -> Beam:
    """Return the beam from an object ``distance_m`` before the cornea through what stands there.

    Raises
    ------
    FrameError
        If the object stands nearer than 0.1 m; infinity is allowed.
    PowerError
        If a focal line falls exactly on a lens or the cornea.
    """
    if math.isnan(distance_m) or distance_m < NEAREST_M:
        raise FrameError(f"the distance must be at least {NEAREST_M} m, got {distance_m!r}")
    stack = list(frame.before(side))
    at_mm = stack[0][0] if stack else 0.0
    vergence: FloatArray = -np.eye(2) / (distance_m - at_mm / 1000.0)
    stops: list[tuple[PlacedLens, FloatArray]] = []
    prism = np.zeros(2)
    for index, (vertex_mm, placed) in enumerate(stack):
        vergence = vergence + power_matrix(placed.power)
        prism = prism + placed.prism_pd
        next_mm = stack[index + 1][0] if index + 1 < len(stack) else 0.0
        step_m = (vertex_mm - next_mm) / 1000.0
        if placed.lens.kind in (LensKind.PINHOLE, LensKind.SLIT):
            stops.append((placed, np.eye(2)))
        heights = np.eye(2) - step_m * vergence
        stops = [(stop, heights @ carried) for stop, carried in stops]
        vergence = stepped(vergence, step_m)
    m, j0, j45 = (float(part) for part in matrix_vector(vergence))
    return Beam(
        vergence=(m, j0, j45),
        stops=tuple(_stop(placed, carried) for placed, carried in stops),
        prism_pd=(float(prism[0]), float(prism[1])),
        dark=any(placed.lens.kind is LensKind.OCCLUDER for _, placed in stack),
    )


def _stop(placed: PlacedLens, to_pupil: FloatArray) -> Stop:
    (a, b), (c, d) = np.linalg.inv(to_pupil)
    is_round = placed.lens.kind is LensKind.PINHOLE
    return Stop(
        round=is_round,
        half_width_mm=(placed.lens.aperture_mm if is_round else SLIT_WIDTH_MM) / 2.0,
        half_length_mm=(placed.lens.aperture_mm if is_round else SLIT_LENGTH_MM) / 2.0,
        direction_deg=placed.direction_deg,
        from_pupil=(float(a), float(b), float(c), float(d)),
    )
