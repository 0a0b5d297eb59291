"""The focus that a view takes up: how far the person accommodates.

The least accommodation between floor and amplitude whose clarity, averaged over three chart
lines of the better open eye, lies within a quarter of the comparison noise of the best.
"""

from collections.abc import Callable, Sequence

import numpy as np

from optics.eye.transfer import Accuracy, transfer_function
from optics.eye.wavefront import Wavefront
from optics.sight.clarity import COMPARISON_SD, clarity
from optics.sight.sampling import Sizes
from optics.units import FloatArray

DRIVE_LINES_LOGMAR: Sizes = (0.0, 0.3, 0.6)  # 6/6, 6/12, 6/24
CONTENT = 0.25 * COMPARISON_SD
STEP_D = 0.125
MARGIN_D = 0.875  # how far from the interval of Sturm the clearest focus may lie

Focused = Callable[[float], Wavefront]


def drive(wave: Wavefront) -> float:
    """Return the clarity that a focus is judged by."""
    transfer = transfer_function(wave, Accuracy.QUICK)
    return 0.0 if transfer is None else float(clarity(transfer, DRIVE_LINES_LOGMAR).mean())


def focus_d(
    eyes: Sequence[tuple[Focused, tuple[float, float]]], floor_d: float, amplitude_d: float
) -> float:
    """Return the accommodation in D that both eyes take up.

    ``eyes`` holds, for each open eye, its wavefront as a function of accommodation and the
    accommodations that would focus its two principal meridians, low first.
    """
    if not eyes or amplitude_d - floor_d < 1e-6:
        return floor_d
    low = min(max(min(near for _, (near, _) in eyes) - MARGIN_D, floor_d), amplitude_d)
    high = min(max(max(far for _, (_, far) in eyes) + MARGIN_D, floor_d), amplitude_d)
    if high - low < 1e-6:
        return low
    count = max(4, int(np.ceil((high - low) / STEP_D)) + 1)
    trials = np.linspace(low, high, count)
    clear = np.array([max(drive(wave(float(trial))) for wave, _ in eyes) for trial in trials])
    if len(eyes) == 1 or np.ptp(clear) > 0:
        fine = np.linspace(low, high, 40 * (count - 1) + 1)
        values = cubic_through(trials, clear, fine)
        return _least_content(fine, values)
    return low


def _least_content(trials: FloatArray, values: FloatArray) -> float:
    """Return the first trial within the tolerance of the best, placed between two steps."""
    wanted = float(values.max()) - CONTENT
    first = int(np.argmax(values >= wanted))
    if first == 0:
        return float(trials[0])
    rise = values[first] - values[first - 1]
    part = (wanted - values[first - 1]) / rise if rise > 0 else 1.0
    return float(trials[first - 1] + part * (trials[first] - trials[first - 1]))


def cubic_through(x: FloatArray, y: FloatArray, at: FloatArray) -> FloatArray:
    """Return the values (k,) of a smooth curve through equally spaced points (n,), n >= 4.

    Cubic convolution with the ends continued as parabolas (Keys 1981).
    """
    padded = np.concatenate([[3 * y[0] - 3 * y[1] + y[2]], y, [3 * y[-1] - 3 * y[-2] + y[-3]]])
    place = np.clip((at - x[0]) / (x[1] - x[0]), 0.0, len(x) - 1.0)
    base = np.minimum(place.astype(int), len(x) - 2)
    t = place - base
    a, b, c, d = (padded[base + k] for k in range(4))
    curve: FloatArray = b + 0.5 * t * (
        c - a + t * (2 * a - 5 * b + 4 * c - d + t * (3 * (b - c) + d - a))
    )
    return curve
