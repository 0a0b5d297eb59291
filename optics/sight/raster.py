"""Light on a wall as a raster, and the same raster after an eye's blur.

A pattern is light that differs from its surround. Its spectrum is multiplied by the transfer
function on a field wide enough that no blur comes back from the other side: by fast transforms
where that field is not much larger than the picture, else by plain sums over the few
frequencies that so large a blur lets pass.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from optics.eye.grid import TransferFunction, fast_size
from optics.sight.canvas import Canvas
from optics.sight.letters import letter_ink
from optics.sight.targets import LaidLetter, Row, laid_out
from optics.units import ComplexArray, FloatArray

INK_LUMINANCE = 0.02  # of the paper's; ISO 10938 allows up to 0.15
REACH_SD = 3.0  # a point's image reaches so many standard deviations; a disc's edge lies at 2
LEAST_MARGIN = 12  # pixels
MARGIN_STEPS = 8  # margins in eighths of the picture, so that spectra can be kept
LARGEST_FIELD = 3.0  # in pictures, for fast transforms
FINE = 160  # samples across a letter


@dataclass(frozen=True, slots=True, kw_only=True)
class Pattern:
    """Rows of letters on paper without an end; or on a lit panel in the dark, in its middle.

    ``panel`` is (left, bottom, right, top) in minutes of arc from the middle of the wall.
    """

    rows: tuple[Row, ...] = ()
    panel: tuple[float, float, float, float] | None = None

    @property
    def surround(self) -> float:
        """The light far from everything."""
        return 1.0 if self.panel is None else 0.0

    def letters(self) -> Iterator[LaidLetter]:
        """Yield each letter in its place on the wall."""
        if self.panel is None:
            yield from laid_out(self.rows)
            return
        left, bottom, right, top = self.panel
        for one in laid_out(self.rows):
            yield LaidLetter(
                letter=one.letter,
                x_arcmin=one.x_arcmin + (left + right) / 2.0,
                y_arcmin=one.y_arcmin + (bottom + top) / 2.0,
                height_arcmin=one.height_arcmin,
            )


def raster(pattern: Pattern, canvas: Canvas) -> FloatArray:
    """Return the light of each pixel without an eye, shape (height, width), linear."""
    return pattern.surround + _differing(pattern, canvas, canvas.height, canvas.width)


def blurred(pattern: Pattern, canvas: Canvas, transfer: TransferFunction) -> FloatArray:
    """Return the light of each pixel as an eye forms it, shape (height, width), linear."""
    tall, wide = field_size(pattern, canvas, transfer)
    if tall * wide <= LARGEST_FIELD * canvas.width * canvas.height:
        seen = _by_fast_transform(pattern, canvas, transfer, fast_size(tall), fast_size(wide))
    else:
        seen = _by_sums(pattern, canvas, transfer, tall, wide)
    seen += np.float32(pattern.surround)
    return seen


def field_size(pattern: Pattern, canvas: Canvas, transfer: TransferFunction) -> tuple[int, int]:
    """Return the height and width in pixels of a field on which no blur wraps into the picture.

    Blur leaving on one side must not reach the picture from the other; where the pattern goes
    on beyond the picture, what lies there blurs into it too and needs its own margin.
    """
    sides = 1.0 if pattern.panel is None and canvas.holds(pattern.rows) else 2.0
    across, upward = reach_arcmin(transfer)
    return (
        _with_margin(canvas.height, sides * upward / canvas.arcmin_per_pixel),
        _with_margin(canvas.width, sides * across / canvas.arcmin_per_pixel),
    )


def _with_margin(side: int, reach_pixels: float) -> int:
    step = side / MARGIN_STEPS
    return side + round(math.ceil((reach_pixels + LEAST_MARGIN) / step) * step)


def reach_arcmin(transfer: TransferFunction) -> tuple[float, float]:
    """Return how far a point's light goes to the sides and up or down, in minutes of arc.

    From the transfer function next to zero: its phase gives the light's middle, its fall the
    standard deviation.
    """
    step_cpd = transfer.step_cpd / 2.0
    beside = transfer.at(np.array([step_cpd, 0.0]), np.array([0.0, step_cpd]))
    turn = 2.0 * math.pi * step_cpd
    across, upward = (
        60.0
        * (
            abs(float(np.angle(value)))
            + REACH_SD * math.sqrt(max(0.0, -2.0 * math.log(max(abs(value), 1e-3))))
        )
        / turn
        for value in beside
    )
    return across, upward


def _by_fast_transform(
    pattern: Pattern, canvas: Canvas, transfer: TransferFunction, tall: int, wide: int
) -> FloatArray:
    spectrum = _fast_spectrum(pattern, canvas, tall, wide)
    degrees = canvas.arcmin_per_pixel / 60.0
    x_cpd = np.arange(spectrum.shape[1]) / (wide * degrees)
    y_cpd = -np.fft.fftfreq(tall, degrees)  # rows run down, frequencies up
    columns = int((x_cpd <= transfer.limit_cpd).sum())
    keep_y = np.flatnonzero(np.abs(y_cpd) <= transfer.limit_cpd)
    passed = np.zeros_like(spectrum)
    passed[keep_y, :columns] = spectrum[keep_y, :columns] * transfer.on_grid(
        x_cpd[:columns], y_cpd[keep_y]
    )
    light = np.fft.irfft2(passed, (tall, wide))
    top, left = (tall - canvas.height) // 2, (wide - canvas.width) // 2
    seen: FloatArray = light[top : top + canvas.height, left : left + canvas.width]
    return seen


@lru_cache(maxsize=24)
def _fast_spectrum(pattern: Pattern, canvas: Canvas, tall: int, wide: int) -> ComplexArray:
    spectrum = np.fft.rfft2(_differing(pattern, canvas, tall, wide))
    spectrum.setflags(write=False)
    return spectrum


def _differing(pattern: Pattern, canvas: Canvas, tall: int, wide: int) -> FloatArray:
    """Return how much each pixel differs from the surround, on a field about the canvas."""
    scale = canvas.arcmin_per_pixel
    light = np.zeros((tall, wide), np.float32)
    # the canvas lies at a whole pixel of the field
    x0 = (wide - canvas.width) // 2 + canvas.width / 2.0 - canvas.middle_arcmin[0] / scale
    y0 = (tall - canvas.height) // 2 + canvas.height / 2.0 + canvas.middle_arcmin[1] / scale
    if pattern.panel is not None:
        left, bottom, right, top = (edge / scale for edge in pattern.panel)
        _lay(
            light, np.ones((1, 1), np.float32), (x0 + left, y0 - top), (right - left, top - bottom)
        )
    for one in pattern.letters():
        pixels = one.height_arcmin / scale
        corner = (x0 + one.x_arcmin / scale - pixels / 2, y0 - one.y_arcmin / scale - pixels / 2)
        _lay(light, (INK_LUMINANCE - 1.0) * _fine_letter(one.letter), corner, (pixels, pixels))
    return light


def _lay(
    light: FloatArray, fine: FloatArray, corner: tuple[float, float], size: tuple[float, float]
) -> None:
    """Add a small raster at a place in fractions of a pixel; what lies outside is cut."""
    columns = _shares(corner[0], size[0], fine.shape[1], light.shape[1])
    rows = _shares(corner[1], size[1], fine.shape[0], light.shape[0])
    if columns is None or rows is None:
        return
    (first_column, across), (first_row, down) = columns, rows
    part = down @ fine @ across.T
    light[first_row : first_row + len(down), first_column : first_column + len(across)] += part


def _shares(start: float, length: float, count: int, limit: int) -> tuple[int, FloatArray] | None:
    """Return the first pixel and each pixel's share of ``count`` strips of an interval."""
    first, last = max(0, int(np.floor(start))), min(limit, int(np.ceil(start + length)))
    if last <= first:
        return None
    edges = start + np.arange(count + 1) * (length / count)
    pixels = np.arange(first, last)[:, np.newaxis]
    overlap = np.minimum(pixels + 1.0, edges[1:]) - np.maximum(pixels, edges[:-1])
    return first, np.maximum(overlap, 0.0).astype(np.float32)


@lru_cache(maxsize=16)
def _fine_letter(letter: str) -> FloatArray:
    return letter_ink(letter, FINE).astype(np.float32)


def _by_sums(
    pattern: Pattern, canvas: Canvas, transfer: TransferFunction, tall: int, wide: int
) -> FloatArray:
    """Return the blurred light from its Fourier series on a field of any size."""
    degrees = canvas.arcmin_per_pixel / 60.0
    highest = min(transfer.limit_cpd, 0.5 / degrees)
    across, upward = (int(highest * size * degrees) for size in (wide, tall))
    spectrum = _series(pattern, canvas, tall, wide, upward, across)
    x_cpd = np.arange(across + 1) / (wide * degrees)
    y_cpd = np.arange(-upward, upward + 1) / (tall * degrees)
    passed = spectrum * transfer.on_grid(x_cpd, y_cpd)
    passed[:, 1:] *= 2.0  # each stands for its mirror image too
    x_deg = (np.arange(canvas.width) + 0.5 - canvas.width / 2.0) * degrees
    y_deg = (canvas.height / 2.0 - np.arange(canvas.height) - 0.5) * degrees
    by_row = _wave(y_deg, y_cpd).conj() @ passed
    columns = _wave(x_cpd, x_deg).conj()
    # the real part alone: two products of reals instead of four
    seen: FloatArray = np.hstack([by_row.real, -by_row.imag]) @ np.vstack(
        [columns.real, columns.imag]
    )
    return seen


@lru_cache(maxsize=24)
def _series(
    pattern: Pattern, canvas: Canvas, tall: int, wide: int, upward: int, across: int
) -> ComplexArray:
    """Return the coefficients of the light that differs, y from -upward to upward, x from 0.

    Exact in place and size: no raster of the whole field is needed, however large it is.
    """
    degrees = canvas.arcmin_per_pixel / 60.0
    x_cpd = np.arange(across + 1) / (wide * degrees)
    y_cpd = np.arange(-upward, upward + 1) / (tall * degrees)
    total = np.zeros((len(y_cpd), len(x_cpd)), np.complex64)
    for light, x_deg, y_deg, step_x, step_y in _pieces(pattern, canvas):
        # what lies beyond the field would come back on its other side
        inner_x, inner_y = abs(x_deg) <= wide * degrees / 2, abs(y_deg) <= tall * degrees / 2
        light, x_deg, y_deg = light[np.ix_(inner_y, inner_x)], x_deg[inner_x], y_deg[inner_y]
        rows = _wave(y_cpd, y_deg) * np.sinc(y_cpd * step_y)[:, np.newaxis] * np.float32(step_y)
        columns = _wave(x_deg, x_cpd) * np.sinc(x_cpd * step_x) * np.float32(step_x)
        total += rows.astype(np.complex64) @ light @ columns.astype(np.complex64)
    total *= np.sinc(y_cpd * degrees)[:, np.newaxis] * np.sinc(x_cpd * degrees)
    total /= wide * degrees * tall * degrees
    total.setflags(write=False)
    return total


Piece = tuple[FloatArray, FloatArray, FloatArray, float, float]


def _pieces(pattern: Pattern, canvas: Canvas) -> Iterator[Piece]:
    """Yield small rasters with the places of their samples about the canvas's middle, in degrees.

    Letters of a row are one raster, side by side.
    """
    middle_x, middle_y = canvas.middle_arcmin
    within = (np.arange(FINE) + 0.5) / FINE - 0.5
    if pattern.panel is not None:
        left, bottom, right, top = pattern.panel
        x = ((left + right) / 2.0 - middle_x + (right - left) * within) / 60.0
        y = ((bottom + top) / 2.0 - middle_y - (top - bottom) * within) / 60.0
        steps = (right - left) / 60.0 / FINE, (top - bottom) / 60.0 / FINE
        yield np.ones((FINE, FINE), np.float32), x, y, *steps
    by_row: dict[float, list[LaidLetter]] = {}
    for one in pattern.letters():
        by_row.setdefault(one.y_arcmin, []).append(one)
    for row in by_row.values():
        height_deg = row[0].height_arcmin / 60.0
        light = np.hstack([(INK_LUMINANCE - 1.0) * _fine_letter(one.letter) for one in row])
        x = np.concatenate([(one.x_arcmin - middle_x) / 60.0 + height_deg * within for one in row])
        y = (row[0].y_arcmin - middle_y) / 60.0 - height_deg * within
        yield light, x, y, height_deg / FINE, height_deg / FINE


def _wave(at: FloatArray, other: FloatArray) -> ComplexArray:
    """Return exp(-2 pi i a b) for each a and b, shape (a, b), single precision."""
    phase = (2.0 * math.pi) * np.outer(at, other)
    wave = np.empty(phase.shape, np.complex64)
    wave.real, wave.imag = np.cos(phase), -np.sin(phase)
    return wave
