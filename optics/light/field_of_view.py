"""How much of the field the rims of trial lenses leave, seen from the entrance pupil."""

import math
from collections.abc import Sequence

import numpy as np

from optics.light.frame import Point
from optics.light.lens import CLEAR, COLOURS, LensKind, PlacedLens
from optics.units import FloatArray

ENTRANCE_PUPIL_M = 0.003  # behind the cornea; common practice, no source
GLASS = CLEAR | set(COLOURS) | {LensKind.NEUTRAL}


def field_half_deg(
    stack: Sequence[tuple[float, PlacedLens]], powers: Sequence[FloatArray], centre_mm: Point
) -> float:
    """Return the half-angle, as the eye sees it, of the clear circle about straight ahead.

    ``stack`` is what stands before the eye, outermost first, ``powers`` their matrices (2, 2)
    in D; a rim is seen through the lenses behind it. Where lenses are astigmatic or off their
    centres the circle is the largest that is surely clear. 90 without a lens, 0 where a rim
    lies before the pupil's centre.
    """
    height_mm, slope = np.zeros((2, 2)), np.eye(2)  # of rays that leave the pupil outwards
    at_mm, widest = -1000.0 * ENTRANCE_PUPIL_M, 90.0
    for (vertex_mm, placed), power in zip(reversed(stack), reversed(powers), strict=True):
        height_mm = height_mm + (vertex_mm - at_mm) * slope
        at_mm = vertex_mm
        slope = slope - power @ height_mm / 1000.0
        if placed.lens.kind in GLASS:
            open_mm = max(0.0, placed.lens.rim_mm / 2.0 - math.hypot(*centre_mm))
            farthest = math.degrees(math.atan2(open_mm, _longest(height_mm)))
            widest = min(widest, farthest)
    return widest


def _longest(matrix: FloatArray) -> float:
    """Return the greater singular value of a matrix (2, 2)."""
    (a, b), (c, d) = matrix.tolist()
    return (math.hypot(a + d, b - c) + math.hypot(a - d, b + c)) / 2.0
