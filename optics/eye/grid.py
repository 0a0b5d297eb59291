"""Transfer functions at any frequency, from the point image on a square grid.

Frequencies in cycles per degree in the chart frame: x to the patient's right, y up. The point
image is kept as its four parts, even or odd in y and x, on one quadrant: the cosine and sine
transforms that they need are products of small matrices, exact at every frequency.
"""

import math
from dataclasses import dataclass
from dataclasses import field as hidden
from functools import lru_cache

import numpy as np

from optics.eye.media import YOUNG, Media
from optics.units import ComplexArray, FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """The field of a point image: ``size`` samples (odd) over 1 / ``step_cpd`` degrees.

    Steps of frequency by ``step_cpd`` see the field exactly. Between them the image of a hard
    edged pupil cannot be told from its neighbours a field away: within ``core`` (a share of
    the field's half) it belongs to the point, beyond ``halo`` it is the slow fall of a hard
    edge, whose transfer runs straight from step to step; between the two it is shared out.
    """

    size: int
    step_cpd: float
    core: float
    halo: float

    def waves(self, frequency_cpd: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return cosines and sines over half the field, each (frequencies, size // 2 + 1)."""
        half = self.size // 2
        place = np.arange(half + 1)
        part = np.clip((place / half - self.core) / (self.halo - self.core), 0.0, 1.0)
        own = (0.5 + 0.5 * np.cos(math.pi * part)).astype(np.float32)
        turn = np.exp((2j * math.pi / self.size) * np.arange(self.size)).astype(np.complex64)
        steps = np.asarray(frequency_cpd, float) / self.step_cpd
        whole = np.floor(steps)
        rest = (steps - whole).astype(np.float32)[:, np.newaxis]
        angle = rest * (place * (2.0 * math.pi / self.size)).astype(np.float32)
        between = (1.0 - own) * (1.0 - rest + rest * turn[: half + 1])
        between.real += own * np.cos(angle)
        between.imag += own * np.sin(angle)
        between *= turn[whole.astype(int)[:, np.newaxis] * place % self.size]
        between[:, 1:] *= 2.0  # for the two sides of the field
        return between.real.copy(), between.imag.copy()

    def sum_of(self, even: FloatArray) -> float:
        """Return the sum over the whole field of a part that is even in both x and y."""
        sides = np.where(np.arange(len(even)), 2.0, 1.0)
        return float(sides @ even @ sides)


@dataclass(frozen=True, slots=True, kw_only=True)
class TransferFunction:
    """A complex transfer function, 1 at zero frequency, zero beyond its limit.

    ``parts`` has shape (4, n, n), single precision: the point image even in both y and x, odd
    in x, odd in y, odd in both, at n = size // 2 + 1 places from the middle outwards, rows
    in y; ``open_mm2`` is the area of the pupil that lets light through. The straylight of the
    media lowers what is read.
    """

    field: Field
    parts: FloatArray = hidden(repr=False)
    limit_cpd: float
    open_mm2: float
    media: Media = YOUNG

    @property
    def step_cpd(self) -> float:
        """The step of frequency that sees the whole field."""
        return self.field.step_cpd

    def at(self, x_cpd: FloatArray, y_cpd: FloatArray) -> ComplexArray:
        """Return values at any points, the shape of x and y."""
        x, y = np.broadcast_arrays(np.asarray(x_cpd, float), np.asarray(y_cpd, float))
        cos_x, sin_x = self.field.waves(x.ravel())
        cos_y, sin_y = self.field.waves(y.ravel())
        even, odd_x, odd_y, odd = (
            np.einsum("pm,pm->p", in_y @ part, in_x)
            for part, in_y, in_x in zip(
                self.parts, (cos_y, cos_y, sin_y, sin_y), (cos_x, sin_x, cos_x, sin_x), strict=True
            )
        )
        values = (even - odd) - 1j * (odd_x + odd_y)
        left = left_of(np.hypot(x, y).ravel(), self.limit_cpd, self.media)
        seen: ComplexArray = (values * left).astype(np.complex64).reshape(x.shape)
        return seen

    def on_grid(self, x_cpd: FloatArray, y_cpd: FloatArray) -> ComplexArray:
        """Return values on the grid of x and y, shape (len(y), len(x))."""
        upward, row = np.unique(np.abs(y_cpd), return_inverse=True)
        even, odd_x, odd_y, odd = self.in_parts(self.field.waves(x_cpd), self.field.waves(upward))
        above, below = np.empty((2, *even.shape), np.complex64)
        above.real, above.imag = even - odd, -(odd_x + odd_y)
        below.real, below.imag = even + odd, odd_y - odd_x
        left = left_of(np.hypot(x_cpd, upward[:, np.newaxis]), self.limit_cpd, self.media)
        values: ComplexArray = np.stack([above * left, below * left])[(y_cpd < 0) * 1, row]
        return values

    def in_parts(
        self, waves_x: tuple[FloatArray, FloatArray], waves_y: tuple[FloatArray, FloatArray]
    ) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
        """Return the four parts' transforms from waves (..., n), shape (..., y, x).

        The value is even - odd - i (odd_x + odd_y); a change of sign of x turns odd and odd_x.
        """
        (cos_x, sin_x), (cos_y, sin_y) = waves_x, waves_y
        across = cos_x, sin_x, cos_x, sin_x
        even, odd_x, odd_y, odd = (
            # flat, so that the first product is a large one
            (up.reshape(-1, len(part)) @ part).reshape(up.shape) @ np.swapaxes(wave, -1, -2)
            for up, part, wave in zip((cos_y, cos_y, sin_y, sin_y), self.parts, across, strict=True)
        )
        return even, odd_x, odd_y, odd


def left_of(frequency_cpd: FloatArray, limit_cpd: float, media: Media) -> FloatArray:
    """Return what straylight leaves of frequencies to a limit, and nothing beyond; any shape."""
    within = (frequency_cpd <= limit_cpd).astype(np.float32)
    if not media.clear:
        within *= media.transfer(frequency_cpd)
    return within


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
