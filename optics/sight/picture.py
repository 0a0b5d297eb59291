"""The picture: what hangs on the wall as an eye forms it, in grey or in colour.

Pixels are square; rows run downward, columns to the patient's right. Work is done in linear
light, white paper 1; the display value (sRGB, IEC 61966-2-1) is taken once at the end.
"""

from dataclasses import dataclass, field

import numpy as np

from optics.eye.colour import LUMINANCE_OF_RGB
from optics.eye.grid import TransferFunction
from optics.sight.canvas import Canvas
from optics.sight.raster import Pattern, blurred, raster
from optics.sight.targets import Row
from optics.units import FloatArray

BRIGHTNESS_EXPONENT = 0.33  # of a field in the dark; Stevens 1957, from memory


@dataclass(frozen=True, slots=True, kw_only=True)
class Light:
    """Light of one kind as an eye forms it.

    ``levels`` are the linear red, green and blue of white paper in it: (1, 1, 1) for white
    light through an open pupil. ``transfers`` are the transfer functions of the three, None
    where a level is 0.
    """

    levels: tuple[float, float, float]
    transfers: tuple[TransferFunction | None, ...] = field(repr=False)

    @property
    def luminance(self) -> float:
        """The luminance of white paper in it, 1 for white light through an open pupil."""
        return sum(
            level * share for level, share in zip(self.levels, LUMINANCE_OF_RGB, strict=True)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Layer:
    """A part of what hangs on the wall, in a light of its own; lights of several add up."""

    pattern: Pattern
    light: Light


def brightness(luminance: float) -> float:
    """Return what share of the display's light shows paper of a luminance, 1 for the open pupil.

    The eye adapts: less light looks dimmer, but by the cube root only. So a picture through a
    pinhole is darker than without, and its letters can still be judged.
    """
    return float(min(1.0, max(0.0, luminance)) ** BRIGHTNESS_EXPONENT)


def sharp_picture(rows: tuple[Row, ...], canvas: Canvas) -> np.ndarray:
    """Return the chart itself, shape (height, width), 8-bit."""
    return displayed(raster(Pattern(rows=rows), canvas))


def dark_picture(canvas: Canvas) -> np.ndarray:
    """Return what an eye without light sees, shape (height, width), 8-bit."""
    return np.zeros((canvas.height, canvas.width), np.uint8)


def blurred_picture(
    rows: tuple[Row, ...],
    canvas: Canvas,
    transfer: TransferFunction | None,
    *,
    luminance: float = 1.0,
) -> np.ndarray:
    """Return the chart in white light as an eye forms it, (height, width), 8-bit grey.

    ``transfer`` is None in the dark; ``luminance`` is that of Light.
    """
    if transfer is None:
        return dark_picture(canvas)
    seen = blurred(Pattern(rows=rows), canvas, transfer)
    seen *= np.float32(brightness(luminance))
    return displayed(seen)


def coloured_picture(layers: tuple[Layer, ...], canvas: Canvas) -> np.ndarray:
    """Return layers of light as an eye forms them together, (height, width, 3), 8-bit.

    The brightest layer's strongest part gets the display value of its brightness; the others
    keep their ratio to it.
    """
    strongest = max((max(layer.light.levels) for layer in layers), default=0.0)
    brightest = max((layer.light.luminance for layer in layers), default=0.0)
    exposure = brightness(brightest) / strongest if strongest > 0.0 else 0.0
    seen = np.zeros((canvas.height, canvas.width, 3), np.float32)
    for layer in layers:
        formed: dict[int, FloatArray] = {}
        for part, transfer in enumerate(layer.light.transfers):
            if transfer is None:
                continue
            if id(transfer) not in formed:
                formed[id(transfer)] = blurred(layer.pattern, canvas, transfer)
            level = np.float32(exposure * layer.light.levels[part])
            seen[:, :, part] += level * formed[id(transfer)]
    return displayed(seen)


def _display_table() -> np.ndarray:
    linear = np.linspace(0.0, 1.0, 4097)
    curved = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    return np.round(255.0 * curved).astype(np.uint8)


DISPLAY_TABLE = _display_table()


def displayed(linear: FloatArray) -> np.ndarray:
    """Return linear light 0 to 1 as 8-bit sRGB, any shape."""
    index = np.clip(linear * np.float32(4096.0) + np.float32(0.5), 0, 4096).astype(np.int32)
    shown: np.ndarray = DISPLAY_TABLE[index]
    return shown
