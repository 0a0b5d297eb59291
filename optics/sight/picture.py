"""The picture: a chart as an eye forms it, in grey.

Pixels are square; rows run downward, columns to the patient's right. Work is done in linear
light, paper 1 and ink 0; the display value (sRGB, IEC 61966-2-1) is taken once at the end.
"""

from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np

from optics.eye.grid import TransferFunction, fast_size
from optics.sight.letters import letter_ink
from optics.sight.targets import Row, chart_size_arcmin, laid_out
from optics.units import ComplexArray, FloatArray

INK_LUMINANCE = 0.02  # of the paper's; ISO 10938 allows up to 0.15
FILLED = 0.86  # of the picture by the chart
LEAST_PAD_DEG = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Canvas:
    """A picture's size in pixels and what one pixel spans."""

    width: int = 640
    height: int = 480
    arcmin_per_pixel: float = field(default=1.0)


def canvas_for(rows: tuple[Row, ...], width: int = 640, height: int = 480) -> Canvas:
    """Return the canvas on which a chart fills the picture, letters at most 40 % of it."""
    wide, tall = chart_size_arcmin(rows)
    scale = max(wide / width, tall / height, 1e-3) / FILLED
    largest = max((row.height_arcmin for row in rows), default=1.0)
    return Canvas(
        width=width,
        height=height,
        arcmin_per_pixel=max(scale, largest / (0.4 * height)),
    )


def sharp_picture(rows: tuple[Row, ...], canvas: Canvas) -> np.ndarray:
    """Return the chart itself, shape (height, width), 8-bit."""
    return displayed(INK_LUMINANCE + (1.0 - INK_LUMINANCE) * (1.0 - _ink(rows, canvas)))


def blurred_picture(
    rows: tuple[Row, ...], canvas: Canvas, transfer: TransferFunction | None
) -> np.ndarray:
    """Return the chart as the eye forms it, shape (height, width), 8-bit; black in the dark."""
    if transfer is None:
        return np.zeros((canvas.height, canvas.width), np.uint8)
    spectrum, tall, wide = _ink_spectrum(rows, canvas)
    degrees = canvas.arcmin_per_pixel / 60.0
    x_cpd = np.arange(spectrum.shape[1]) / (wide * degrees)
    y_cpd = -np.fft.fftfreq(tall, degrees)  # rows run down, frequencies up
    keep_x = x_cpd <= transfer.limit_cpd
    keep_y = np.flatnonzero(np.abs(y_cpd) <= transfer.limit_cpd)
    passed = np.zeros_like(spectrum)
    columns = int(keep_x.sum())
    passed[keep_y, :columns] = spectrum[keep_y, :columns] * transfer.on_grid(
        x_cpd[:columns], y_cpd[keep_y]
    )
    ink = np.fft.irfft2(passed, (tall, wide))
    top, left = (tall - canvas.height) // 2, (wide - canvas.width) // 2
    seen = ink[top : top + canvas.height, left : left + canvas.width]
    return displayed(1.0 - (1.0 - INK_LUMINANCE) * seen)


@lru_cache(maxsize=24)
def _ink_spectrum(rows: tuple[Row, ...], canvas: Canvas) -> tuple[ComplexArray, int, int]:
    """Return the padded chart's spectrum (complex64), and the padded height and width."""
    pad = int(60.0 * LEAST_PAD_DEG / canvas.arcmin_per_pixel)
    tall = fast_size(canvas.height + max(pad, canvas.height // 4))
    wide = fast_size(canvas.width + max(pad, canvas.width // 4))
    ink = np.zeros((tall, wide), np.float32)
    top, left = (tall - canvas.height) // 2, (wide - canvas.width) // 2
    ink[top : top + canvas.height, left : left + canvas.width] = _ink(rows, canvas)
    spectrum = np.fft.rfft2(ink)
    spectrum.setflags(write=False)
    return spectrum, tall, wide


def _ink(rows: tuple[Row, ...], canvas: Canvas) -> FloatArray:
    """Return how much ink each pixel holds, shape (height, width)."""
    ink = np.zeros((canvas.height, canvas.width), np.float32)
    for one in laid_out(rows):
        pixels = one.height_arcmin / canvas.arcmin_per_pixel
        left = canvas.width / 2.0 + one.x_arcmin / canvas.arcmin_per_pixel - pixels / 2.0
        top = canvas.height / 2.0 - one.y_arcmin / canvas.arcmin_per_pixel - pixels / 2.0
        _lay(ink, one.letter, left, top, pixels)
    return ink


def _lay(ink: FloatArray, letter: str, left: float, top: float, pixels: float) -> None:
    """Add a letter to the ink at a place in fractions of a pixel; what lies outside is cut."""
    fine = _fine_letter(letter)
    columns = _shares(left, pixels, len(fine), ink.shape[1])
    rows = _shares(top, pixels, len(fine), ink.shape[0])
    if columns is None or rows is None:
        return
    (first_column, across), (first_row, down) = columns, rows
    part = down @ fine @ across.T
    ink[first_row : first_row + len(down), first_column : first_column + len(across)] += part


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
    return letter_ink(letter, 160).astype(np.float32)


@lru_cache(maxsize=1)
def _display_table() -> np.ndarray:
    linear = np.linspace(0.0, 1.0, 4097)
    curved = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    return np.round(255.0 * curved).astype(np.uint8)


def displayed(linear: FloatArray) -> np.ndarray:
    """Return linear light 0 to 1 as 8-bit sRGB grey, any shape."""
    index = np.clip(linear * np.float32(4096.0) + np.float32(0.5), 0, 4096).astype(np.int32)
    shown: np.ndarray = _display_table()[index]
    return shown
