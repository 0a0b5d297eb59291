"""Light on a wall as a raster, and the same raster after an eye's blur.

A pattern is light that differs from its surround. Its spectrum is multiplied by the transfer
function on a field wide enough that no blur comes back from the other side: by fast transforms,
or by plain sums where few frequencies pass, as in strong blur or on a small part of the wall.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from optics.eye.grid import TransferFunction, fast_size
from optics.sight.canvas import Canvas
from optics.sight.figures import Figure, extent_arcmin, figure_patch
from optics.sight.letters import letter_ink
from optics.sight.scene import Box
from optics.sight.targets import LaidLetter, Row, chart_size_arcmin, laid_out
from optics.units import ComplexArray, FloatArray

INK_LUMINANCE = 0.02  # of the paper's; ISO 10938 allows up to 0.15
LAMP_LUMINANCE = 20.0  # of the paper's; no source: a frosted bulb has a thousand
REACH_SD = 3.0  # a point's image reaches so many standard deviations; a disc's edge lies at 2
LEAST_MARGIN = 12  # pixels
MARGIN_STEPS = 8  # margins in eighths of the picture, so that spectra can be kept
LARGEST_FIELD = 4.0  # in pictures, for fast transforms
SAMPLES_A_FREQUENCY = 200.0  # that fast transforms take in the time of one frequency's sums
FINE = 160  # samples across a letter


@dataclass(frozen=True, slots=True, kw_only=True)
class Pattern:
    """Rows of letters on paper without an end, or on a lit panel in the dark, in its middle.

    ``panel`` is measured from the middle of the wall. Or a figure: ink on paper without an end,
    or a light in the dark.
    """

    rows: tuple[Row, ...] = ()
    panel: Box | None = None
    figure: Figure | None = None

    @property
    def surround(self) -> float:
        """The light far from everything."""
        shines = self.figure is not None and self.figure.shines
        return 1.0 if self.panel is None and not shines else 0.0

    @property
    def size_arcmin(self) -> tuple[float, float]:
        """The width and height about the wall's middle outside of which all is surround."""
        if self.panel is not None:
            left, bottom, right, top = self.panel
            return 2.0 * max(-left, right), 2.0 * max(-bottom, top)
        return chart_size_arcmin(self.rows) if self.figure is None else extent_arcmin(self.figure)

    def letters(self) -> Iterator[LaidLetter]:
        """Yield each letter in its place on the wall."""
        left, bottom, right, top = self.panel or (0.0, 0.0, 0.0, 0.0)
        for one in laid_out(self.rows):
            yield one.moved((left + right) / 2.0, (bottom + top) / 2.0)


def raster(pattern: Pattern, canvas: Canvas) -> FloatArray:
    """Return the light of each pixel without an eye, shape (height, width), linear."""
    return pattern.surround + _differing(pattern, canvas, canvas.height, canvas.width)


def blurred(pattern: Pattern, canvas: Canvas, transfer: TransferFunction) -> FloatArray:
    """Return the light of each pixel as an eye forms it, shape (height, width), linear."""
    tall, wide = field_size(pattern, canvas, transfer)
    degrees = canvas.arcmin_per_pixel / 60.0
    passing = 2.0 * min(transfer.limit_cpd, 0.5 / degrees) ** 2 * tall * wide * degrees**2
    most = min(LARGEST_FIELD * canvas.width * canvas.height, SAMPLES_A_FREQUENCY * passing)
    if tall * wide <= most:
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
    sides = 1.0 if canvas.holds(pattern.size_arcmin) else 2.0
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
    moved, spread = _moments(transfer)
    across, upward = (abs(one) + REACH_SD * sd for one, sd in zip(moved, spread, strict=True))
    return across, upward


def _moments(transfer: TransferFunction) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return where a point's light has its middle, x and y, and its standard deviations, arcmin."""
    step_cpd = transfer.step_cpd / 2.0
    beside = transfer.at(np.array([step_cpd, 0.0]), np.array([0.0, step_cpd]))
    to_arcmin = 60.0 / (2.0 * math.pi * step_cpd)
    right, up = (to_arcmin * float(np.angle(value)) for value in beside)
    wide, tall = (
        to_arcmin * math.sqrt(max(0.0, -2.0 * math.log(max(abs(value), 1e-3)))) for value in beside
    )
    return (right, up), (wide, tall)


def mean_light(figure: Figure, transfer: TransferFunction) -> float:
    """Return a spotlight's light, paper 1, if it were spread evenly over an ellipse of its blur.

    An even disc's radius is twice its standard deviation.
    """
    _, (wide, tall) = _moments(transfer)
    radius = figure.stroke_arcmin / 2.0
    spread = (radius**2 + 4.0 * wide**2) * (radius**2 + 4.0 * tall**2)
    return LAMP_LUMINANCE * radius**2 / math.sqrt(spread)


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
    if pattern.figure is not None:
        fine, step = _fine_figure(pattern.figure)
        tall_pixels, wide_pixels = (side * step / scale for side in fine.shape)
        corner = (x0 - wide_pixels / 2.0, y0 - tall_pixels / 2.0)
        _lay(light, fine, corner, (wide_pixels, tall_pixels))
    return light


def _lay(
    light: FloatArray, fine: FloatArray, corner: tuple[float, float], size: tuple[float, float]
) -> None:
    """Add a small raster at a place in fractions of a pixel; what lies outside is cut."""
    rows = _summed(fine, corner[1], size[1], light.shape[0])
    columns = _summed(rows[1].T, corner[0], size[0], light.shape[1])
    down, across = (slice(first, first + len(part)) for first, part in (rows, columns))
    light[down, across] += columns[1].T


def _summed(fine: FloatArray, start: float, length: float, limit: int) -> tuple[int, FloatArray]:
    """Return the first pixel and what each pixel holds of samples spread evenly over an interval.

    Samples (n, m) run along the interval; pixels (p, m), p is 0 where none lies on the field.
    """
    first, last = max(0, int(np.floor(start))), min(limit, int(np.ceil(start + length)))
    count = len(fine)
    edges = np.clip((np.arange(first, last + 1) - start) * (count / length), 0.0, count)
    whole = np.minimum(edges.astype(int), count - 1)
    before = np.cumsum(fine, axis=0, dtype=np.float64) - fine
    up_to = before[whole] + (edges - whole)[:, np.newaxis] * fine[whole]
    return first, np.diff(up_to, axis=0) * (length / count)


@lru_cache(maxsize=16)
def _fine_letter(letter: str) -> FloatArray:
    return letter_ink(letter, FINE).astype(np.float32)


def _fine_figure(figure: Figure) -> tuple[FloatArray, float]:
    """Return how a figure differs from its surround, and how many minutes a sample spans."""
    patch = figure_patch(figure)
    differing = LAMP_LUMINANCE if figure.shines else INK_LUMINANCE - 1.0
    return np.float32(differing) * patch.ink, patch.step_arcmin


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
    by_row = wave(y_deg, y_cpd).conj() @ passed
    columns = wave(x_cpd, x_deg).conj()
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
    for light, x_deg, y_deg, step_x, step_y in pieces(pattern, canvas):
        # what lies beyond the field would come back on its other side
        inner_x, inner_y = abs(x_deg) <= wide * degrees / 2, abs(y_deg) <= tall * degrees / 2
        light, x_deg, y_deg = light[np.ix_(inner_y, inner_x)], x_deg[inner_x], y_deg[inner_y]
        rows = wave(y_cpd, y_deg) * np.sinc(y_cpd * step_y)[:, np.newaxis] * np.float32(step_y)
        columns = wave(x_deg, x_cpd) * np.sinc(x_cpd * step_x) * np.float32(step_x)
        total += rows.astype(np.complex64) @ light @ columns.astype(np.complex64)
    total *= np.sinc(y_cpd * degrees)[:, np.newaxis] * np.sinc(x_cpd * degrees)
    total /= wide * degrees * tall * degrees
    total.setflags(write=False)
    return total


Piece = tuple[FloatArray, FloatArray, FloatArray, float, float]


def pieces(pattern: Pattern, canvas: Canvas) -> Iterator[Piece]:
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
    if pattern.figure is not None:
        light, step = _fine_figure(pattern.figure)
        tall, wide = light.shape
        x = ((np.arange(wide) + 0.5 - wide / 2.0) * step - middle_x) / 60.0
        y = ((tall / 2.0 - np.arange(tall) - 0.5) * step - middle_y) / 60.0
        yield light, x, y, step / 60.0, step / 60.0


def wave(at: FloatArray, other: FloatArray) -> ComplexArray:
    """Return exp(-2 pi i a b) for each a and b, shape (a, b), single precision."""
    phase = (2.0 * math.pi) * np.outer(at, other)
    wave = np.empty(phase.shape, np.complex64)
    wave.real, wave.imag = np.cos(phase), -np.sin(phase)
    return wave
