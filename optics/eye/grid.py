"""Transfer functions on a square frequency grid, and reading them between its points.

Frequencies in cycles per degree in the chart frame: x to the patient's right, y up. Rows of
an array run upwards in y. Only half of the plane is kept, since the image is real.
"""

from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np

from optics.units import ComplexArray, FloatArray

PAD = 2  # rows and columns beyond the grid that cubic reading touches


@dataclass(frozen=True, slots=True, kw_only=True)
class TransferFunction:
    """A complex transfer function, 1 at zero frequency, zero beyond its limit.

    ``values`` has shape (2 K + 5, K + 5): y from -K - 2 to K + 2, x from -2 to K + 2 steps;
    ``open_mm2`` is the area of the pupil that lets light through.
    """

    step_cpd: float
    values: ComplexArray = field(repr=False)
    open_mm2: float

    @property
    def reach(self) -> int:
        """K, the number of steps to the limit."""
        return int(self.values.shape[1]) - 1 - 2 * PAD

    @property
    def limit_cpd(self) -> float:
        """The highest frequency kept."""
        return self.reach * self.step_cpd

    def at(self, x_cpd: FloatArray, y_cpd: FloatArray) -> ComplexArray:
        """Return values at any points, the shape of x and y."""
        x, y = np.broadcast_arrays(np.asarray(x_cpd, float), np.asarray(y_cpd, float))
        reader = make_reader(self.step_cpd, self.reach, x.ravel(), y.ravel())
        return reader.read(self).reshape(x.shape)

    def on_grid(self, x_cpd: FloatArray, y_cpd: FloatArray) -> ComplexArray:
        """Return values on the grid of x (not negative) and y, shape (len(y), len(x))."""
        rows, row_weights = _taps(y_cpd / self.step_cpd + self.reach + PAD, len(self.values))
        columns, column_weights = _taps(x_cpd / self.step_cpd + PAD, self.values.shape[1])
        tall = sum(row_weights[:, tap, np.newaxis] * self.values[rows[:, tap]] for tap in range(4))
        wide: ComplexArray = np.zeros((len(y_cpd), len(x_cpd)), np.complex64)
        for tap in range(4):
            wide += tall[:, columns[:, tap]] * column_weights[:, tap]
        return wide


@dataclass(frozen=True, slots=True, kw_only=True)
class Reader:
    """Fixed points of a grid: sixteen neighbours and their weights for each."""

    index: np.ndarray = field(repr=False)
    weight: FloatArray = field(repr=False)
    flipped: np.ndarray = field(repr=False)

    def read(self, transfer: TransferFunction) -> ComplexArray:
        """Return the transfer function at the points, shape (n,)."""
        near = transfer.values.ravel()[self.index]
        values: ComplexArray = np.einsum("nk,nk->n", near, self.weight)
        return np.where(self.flipped, values.conj(), values)


def make_reader(step_cpd: float, reach: int, x_cpd: FloatArray, y_cpd: FloatArray) -> Reader:
    """Return a reader for points (n,) of every transfer function with that step and reach."""
    flipped = x_cpd < 0.0
    sign = np.where(flipped, -1.0, 1.0)
    rows, row_weights = _taps(sign * y_cpd / step_cpd + reach + PAD, 2 * reach + 1 + 2 * PAD)
    columns, column_weights = _taps(sign * x_cpd / step_cpd + PAD, reach + 1 + 2 * PAD)
    width = reach + 1 + 2 * PAD
    index = (rows[:, :, np.newaxis] * width + columns[:, np.newaxis, :]).reshape(-1, 16)
    weight = (row_weights[:, :, np.newaxis] * column_weights[:, np.newaxis, :]).reshape(-1, 16)
    return Reader(index=index.astype(np.int32), weight=weight.astype(np.float32), flipped=flipped)


def _taps(position: FloatArray, size: int) -> tuple[np.ndarray, FloatArray]:
    """Return four neighbours and weights of cubic convolution for each position.

    Keys RG. IEEE Trans Acoust Speech Signal Process 1981;29:1153-1160 (a = -1/2). Positions
    off the grid get weight zero.
    """
    base = np.floor(position).astype(np.int64)
    t = np.round(position - base, 9)[:, np.newaxis]  # weights never below what single holds
    weights = np.concatenate(
        [
            ((-0.5 * t + 1.0) * t - 0.5) * t,
            (1.5 * t - 2.5) * t * t + 1.0,
            ((-1.5 * t + 2.0) * t + 0.5) * t,
            (0.5 * t - 0.5) * t * t,
        ],
        axis=1,
    )
    taps = base[:, np.newaxis] + np.arange(-1, 3)
    weights = np.where((taps >= 0) & (taps < size), weights, 0.0)
    return np.clip(taps, 0, size - 1), weights.astype(np.float32)


@lru_cache(maxsize=64)
def fast_size(at_least: int) -> int:
    """Return the next even size whose Fourier transform is quick (factors 2, 3 and 5)."""
    size = max(16, at_least + at_least % 2)
    while _rest(size) != 1:
        size += 2
    return size


def _rest(size: int) -> int:
    for factor in (2, 3, 5):
        while size % factor == 0:
            size //= factor
    return size
