"""The focus that a view takes up: how far the person accommodates.

The least accommodation between floor and amplitude whose clarity, averaged over three chart
lines of the better open eye, lies within a quarter of the comparison noise of the best. The
clarity is known at fixed steps of mean defocus and kept, since a sphere only shifts it: the
search takes the aberrations of the relaxed eye.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np

from optics.eye.chromatic import Filters
from optics.eye.eye import Eye
from optics.eye.transfer import Accuracy, transfer_function
from optics.eye.wavefront import Wavefront, aberration_path, defocus_path
from optics.eye.zernike import mirrored
from optics.light.beam import Stop, Vector
from optics.light.power import vector_matrix
from optics.sight.clarity import COMPARISON_SD, clarity
from optics.sight.sampling import Sizes
from optics.units import FloatArray

DRIVE_LINES_LOGMAR: Sizes = (0.0, 0.5, 1.0)  # 6/6, 6/19, 6/60
CONTENT = 0.25 * COMPARISON_SD  # a lag of about 0.14 D at best focus
STEP_D = 0.125
COARSE = 2  # steps between the nodes looked at first
MARGIN_D = 0.75  # how far from the interval of Sturm the clearest focus may lie
FINE_D = 0.005
ROUGH = 0.02  # of clarity: how far the curve through every second node may be off
DRIFT_BELOW = 0.1  # clarity; with less and less to see the eyes drift to their tonic level


@dataclass(frozen=True, slots=True, kw_only=True)
class Focusing:
    """An open eye that may focus: its pupil, stops and filters before it, the lens it needs."""

    eye: Eye
    pupil_mm: float
    stops: tuple[Stop, ...]
    over_refraction: Vector = field(repr=False)
    filters: Filters = ()

    def sturm_d(self) -> tuple[float, float]:
        """Return the accommodations that focus the two principal meridians, low first."""
        low, high = np.linalg.eigvalsh(vector_matrix(np.array(self.over_refraction)))
        return float(low), float(high)

    def drive_at(self, node: int) -> float:
        """Return the clarity with the mean defocus at a node, in steps of 0.125 D."""
        _, j0, j45 = self.over_refraction
        drive = _drive(self.eye, self.pupil_mm, self.stops, self.filters, -j0, -j45, node)
        return float(drive)


@lru_cache(maxsize=8192)
def _drive(
    eye: Eye,
    pupil_mm: float,
    stops: tuple[Stop, ...],
    filters: Filters,
    j0_d: float,
    j45_d: float,
    node: int,
) -> float:
    path = mirrored(aberration_path(eye) + defocus_path((node * STEP_D, j0_d, j45_d)))
    wave = Wavefront(path=path, pupil_mm=pupil_mm, stops=stops, media=eye.media)
    transfer = transfer_function(wave, Accuracy.QUICK, filters=filters)
    if transfer is None:
        return 0.0
    return float(np.mean(clarity(transfer, DRIVE_LINES_LOGMAR, eye.nerve)))


def focus_d(
    eyes: Sequence[Focusing],
    floor_d: float,
    amplitude_d: float,
    *,
    tonic_d: float | None = None,
    lag: float = 0.0,
) -> float:
    """Return the accommodation in D that both open eyes take up.

    Where nothing is seen: the tonic level, if one is stated and it is above the floor.
    """
    rest_d = floor_d if tonic_d is None else min(max(tonic_d, floor_d), amplitude_d)
    if not eyes or amplitude_d - floor_d < 1e-6:
        return rest_d
    low_d, high_d = _interval(eyes, floor_d, amplitude_d)
    if tonic_d is None and high_d - low_d < 1e-6:
        return floor_d + (low_d - floor_d) * (1.0 - lag)  # no choice, so nothing to look at
    wanted_d, clearest = _wanted(eyes, low_d, high_d)
    made_d = floor_d + (wanted_d - floor_d) * (1.0 - lag)
    if tonic_d is None:
        return made_d
    # between nodes an all but lost clarity may come out just below zero
    drawn = math.pow(
        min(max(clearest / DRIFT_BELOW, 0.0), 1.0), 1.0 / 3.0
    )  # as discriminability falls
    return rest_d + (made_d - rest_d) * drawn


def _interval(eyes: Sequence[Focusing], floor_d: float, amplitude_d: float) -> tuple[float, float]:
    """Return the accommodations between which the clearest focus must lie."""
    intervals = [eye.sturm_d() for eye in eyes]
    low = min(max(min(near for near, _ in intervals) - MARGIN_D, floor_d), amplitude_d)
    high = min(max(max(far for _, far in intervals) + MARGIN_D, floor_d), amplitude_d)
    return low, high


def _wanted(eyes: Sequence[Focusing], low: float, high: float) -> tuple[float, float]:
    """Return the least accommodation that contents the better eye, and the best clarity."""
    trials = np.append(np.arange(low, high, FINE_D), high)
    rough = _clearest(eyes, trials, COARSE)
    near = np.flatnonzero(rough >= rough.max() - CONTENT - ROUGH)
    fine = trials[near[0] : near[-1] + 1]
    clear = _clearest(eyes, fine, 1)
    return _least_content(fine, clear), float(clear.max())


def _clearest(eyes: Sequence[Focusing], trials_d: FloatArray, every: int) -> FloatArray:
    """Return the clarity of the better eye at accommodations (n,), from nodes ``every`` apart."""
    curves = [_curve(eye, trials_d - eye.over_refraction[0], every) for eye in eyes]
    best: FloatArray = np.max(curves, axis=0)
    return best


def _curve(eye: Focusing, defocus_d: FloatArray, every: int) -> FloatArray:
    """Return the clarity at mean defocuses (n,) by cubic convolution between nodes (Keys 1981)."""
    place = defocus_d / (STEP_D * every)
    base = np.floor(place).astype(int)
    first = int(base.min()) - 1
    nodes = range(first + 1, int(base.max()) + 2)
    known = [eye.drive_at(node * every) for node in nodes]
    values = np.array([_before(known), *known, _before(known[::-1])])
    t = place - base
    a, b, c, d = (values[base - first + k] for k in (-1, 0, 1, 2))
    curve: FloatArray = b + 0.5 * t * (
        c - a + t * (2 * a - 5 * b + 4 * c - d + t * (3 * (b - c) + d - a))
    )
    return curve


def _before(known: list[float]) -> float:
    """Return the value before the first by the boundary rule of the same source."""
    if len(known) < 3:
        return 2.0 * known[0] - known[1]
    return 3.0 * (known[0] - known[1]) + known[2]


def _least_content(trials_d: FloatArray, clear: FloatArray) -> float:
    """Return the first trial within the tolerance of the best, placed between two trials."""
    wanted = float(clear.max()) - CONTENT
    first = int(np.argmax(clear >= wanted))
    if first == 0:
        return float(trials_d[0])
    rise = clear[first] - clear[first - 1]
    part = (wanted - clear[first - 1]) / rise if rise > 0 else 1.0
    return float(trials_d[first - 1] + part * (trials_d[first] - trials_d[first - 1]))
