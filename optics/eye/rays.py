"""What a pupil's rays tell beforehand about the image of a point: how wide, how sharp, where.

Rays are taken on a coarse grid of the pupil; through a pupil point light goes by the gradient
of the wavefront, in mrad, and a wavefront bends by its second derivatives, in D.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from optics.eye.wavefront import Wavefront, defocus_path
from optics.eye.zernike import derivative, evaluate_on_grid
from optics.light.beam import Stop
from optics.units import DEG_PER_RAD, FloatArray

ACROSS = 33
LEAST_OPENING_MM = 0.5
STRAIGHT_EDGES = 2.7  # they need more samples: their errors add up along them
NARROWED = 1.35  # by trial: a slit's blur to 0.002 in pupils to 8 mm, in fields not too large
SHARPEST = 0.1  # share of the pupil that may stand for a sharp part


@dataclass(frozen=True, slots=True, kw_only=True)
class Rays:
    """A point's image by its rays.

    ``opening_mm`` is four times area over perimeter: a disc's diameter; three times for a slit:
    about one and a half of its width. ``width_deg`` is the extent about the eye's axis that
    holds the rays, ``sharp_deg`` that which the sharpest part of the pupil alone would have as a
    whole pupil, behind a slit less, since its blur is narrow across. ``mean_d`` is the defocus
    that fits all rays best, ``rest_mrad`` the extent without it.
    """

    radius_mm: float
    opening_mm: float
    width_deg: float
    sharp_deg: float
    mean_d: float
    rest_mrad: float


def rays_of(wavefront: Wavefront, colour_d: float = 0.0) -> Rays | None:
    """Return what the rays of a wavefront tell, or None where no light passes.

    ``colour_d`` is the defocus that the light's colour adds.
    """
    pupil = _pupil(wavefront.pupil_mm, wavefront.stops)
    if pupil is None:
        return None
    path = wavefront.path + defocus_path((colour_d, 0.0, 0.0))
    slope_x, slope_y, bend_xx, bend_xy, bend_yy = evaluate_on_grid(
        np.stack([derivative(path, *by) for by in ((1, 0), (0, 1), (2, 0), (1, 1), (0, 2))]),
        pupil.across,
        pupil.upward,
    )[:, pupil.keep]
    x, y, reach = pupil.x, pupil.y, pupil.radius_mm
    mean_d = float(slope_x @ x + slope_y @ y) / pupil.spread
    bend_d = np.abs(np.abs(bend_xx + bend_yy) - np.hypot(bend_xx - bend_yy, 2.0 * bend_xy)) / 2.0
    sharp = int(SHARPEST * len(bend_d))
    sharpest_d = float(np.partition(bend_d, sharp)[sharp])
    return Rays(
        radius_mm=reach,
        opening_mm=pupil.opening_mm,
        width_deg=2e-3 * DEG_PER_RAD * float(np.hypot(slope_x, slope_y).max()),
        sharp_deg=2e-3 * DEG_PER_RAD * _narrowed_mm(pupil) * sharpest_d,
        mean_d=mean_d,
        rest_mrad=2.0 * float(np.hypot(slope_x - mean_d * x, slope_y - mean_d * y).max()),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pupil:
    """What does not depend on the wavefront: the grid's axes and its open points, kept.

    ``x`` and ``y`` are the open points from the middle of the light, ``spread`` the sum of
    their squares.
    """

    radius_mm: float
    opening_mm: float
    across: FloatArray
    upward: FloatArray
    keep: np.ndarray
    x: FloatArray
    y: FloatArray
    spread: float


def _narrowed_mm(pupil: _Pupil) -> float:
    """Return a pupil's radius, between its length and width if it is narrow."""
    return min(pupil.radius_mm, math.sqrt(NARROWED * pupil.opening_mm * pupil.radius_mm))


@lru_cache(maxsize=64)
def _pupil(pupil_mm: float, stops: tuple[Stop, ...]) -> _Pupil | None:
    """Return a pupil, or None where no light passes."""
    shape = Wavefront(path=defocus_path((0.0, 0.0, 0.0)), pupil_mm=pupil_mm, stops=stops)
    reach = shape.radius_mm()
    if reach <= 0.0:
        return None
    steps = np.linspace(-reach, reach, ACROSS)
    step_mm = float(steps[1] - steps[0])
    across, upward = (middle + steps for middle in shape.centre_mm())
    open_part = shape.inside(*np.meshgrid(across, upward), step_mm)
    keep = open_part >= 0.5
    if not keep.any():
        return None
    x, y = (axis[keep] for axis in np.meshgrid(steps, steps))
    return _Pupil(
        radius_mm=reach,
        opening_mm=_opening_mm(shape, open_part, step_mm),
        across=across,
        upward=upward,
        keep=keep,
        x=x,
        y=y,
        spread=max(float(x @ x + y @ y), 1e-12),
    )


def _opening_mm(wavefront: Wavefront, open_part: np.ndarray, step_mm: float) -> float:
    if not wavefront.stops:
        return wavefront.pupil_mm
    framed = np.pad(open_part, 1)
    perimeter = float(np.hypot(*np.gradient(framed, step_mm)).sum())
    sides = 4.0 if all(stop.round for stop in wavefront.stops) else STRAIGHT_EDGES
    opening_mm = max(sides * float(framed.sum()) / perimeter, LEAST_OPENING_MM)
    return min(opening_mm, 2.0 * wavefront.radius_mm())
