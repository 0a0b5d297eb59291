"""The picture: what hangs on the wall as an eye forms it, in grey or in colour.

Pixels are square; rows run downward, columns to the patient's right. Work is done in linear
light, white paper 1; the display value (sRGB, IEC 61966-2-1) is taken once at the end.
"""

from dataclasses import dataclass, field

import numpy as np

from optics.eye.colour import LUMINANCE_OF_RGB, shown_rgb
from optics.eye.grid import TransferFunction
from optics.sight.canvas import Canvas
from optics.sight.raster import Pattern, blurred, mean_light, raster
from optics.sight.scene import Scene
from optics.sight.streak import Streak, streaked
from optics.units import FloatArray

FAINTEST = 1e-4  # of white paper: darker lights stay dark
BRIGHTNESS_EXPONENT = 0.33  # of a field in the dark; Stevens 1957, from memory
Levels = tuple[float, float, float]  # linear red, green and blue
Transfer = TransferFunction | Streak  # of an eye, or of an eye behind a rod


def luminance_of(levels: Levels) -> float:
    """Return the luminance of linear red, green and blue, 1 for white."""
    return sum(level * share for level, share in zip(levels, LUMINANCE_OF_RGB, strict=True))


@dataclass(frozen=True, slots=True, kw_only=True)
class Light:
    """Light of one kind as an eye forms it.

    ``levels`` are the linear red, green and blue of white paper in it: (1, 1, 1) for white
    light through an open pupil. ``transfers`` are those of the three, None where a level
    is 0.
    """

    levels: Levels
    transfers: tuple[Transfer | None, ...] = field(repr=False)

    @property
    def luminance(self) -> float:
        """The luminance of white paper in it, 1 for white light through an open pupil."""
        return luminance_of(self.levels)


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


def adapted(pattern: Pattern, transfer: Transfer, peak: float) -> float:
    """Return by how much a light in the dark looks brighter than its luminance, 1 or more.

    Nothing else is in view, so that the eye adapts to the light itself: its brightest place
    looks as bright as a field of its luminance, by the cube root, and the rest keeps its ratio to
    that. ``peak`` is the most that the picture holds, paper 1; where the light has gone off the
    picture, what it has at least elsewhere counts.
    """
    figure = pattern.figure
    if figure is None or not figure.shines:
        return 1.0
    if isinstance(transfer, TransferFunction):
        peak = max(peak, mean_light(figure, transfer))
    peak = min(1.0, max(peak, FAINTEST))
    return brightness(peak) / peak


def sharp_picture(scene: Scene, canvas: Canvas) -> np.ndarray:
    """Return a scene itself, 8-bit: grey (height, width), a duochrome one (height, width, 3)."""
    if not scene.duochrome:
        return displayed(raster(pattern_of(scene), canvas))
    panels = [(panel, shown_rgb((name,))) for name, panel in scene.panels]
    exposure = _exposure([levels for _, levels in panels])
    seen = np.zeros((canvas.height, canvas.width, 3), np.float32)
    for panel, levels in panels:
        light = raster(Pattern(rows=scene.rows, panel=panel), canvas)
        seen += light[:, :, np.newaxis] * np.float32(exposure * np.array(levels))
    return displayed(seen)


def pattern_of(scene: Scene) -> Pattern:
    """Return what a scene in white light is as a pattern."""
    return Pattern(rows=scene.rows, figure=scene.figure)


def dark_picture(canvas: Canvas) -> np.ndarray:
    """Return what an eye without light sees, shape (height, width), 8-bit."""
    return np.zeros((canvas.height, canvas.width), np.uint8)


def blurred_picture(
    pattern: Pattern,
    canvas: Canvas,
    transfer: Transfer | None,
    *,
    luminance: float = 1.0,
) -> np.ndarray:
    """Return a pattern in white light as an eye forms it, (height, width), 8-bit grey.

    ``transfer`` is None in the dark; ``luminance`` is that of Light.
    """
    if transfer is None:
        return dark_picture(canvas)
    seen = formed(pattern, canvas, transfer)
    seen *= np.float32(brightness(luminance) * adapted(pattern, transfer, float(seen.max())))
    return displayed(seen)


def formed(pattern: Pattern, canvas: Canvas, transfer: Transfer) -> FloatArray:
    """Return the light of each pixel of a pattern, shape (height, width), linear."""
    if isinstance(transfer, Streak):
        return streaked(pattern, canvas, transfer)
    return blurred(pattern, canvas, transfer)


def coloured_picture(layers: tuple[Layer, ...], canvas: Canvas) -> np.ndarray:
    """Return layers of light as an eye forms them together, (height, width, 3), 8-bit.

    The brightest layer's strongest part gets the display value of its brightness; the others
    keep their ratio to it.
    """
    exposure = _exposure([layer.light.levels for layer in layers])
    seen = np.zeros((canvas.height, canvas.width, 3), np.float32)
    for layer in layers:
        seen += _in_colour(layer, canvas, exposure)
    return displayed(seen)


def _in_colour(layer: Layer, canvas: Canvas, exposure: float) -> FloatArray:
    """Return a layer's linear red, green and blue, shape (height, width, 3)."""
    light = layer.light
    done = {
        id(one): formed(layer.pattern, canvas, one) for one in light.transfers if one is not None
    }
    strongest = light.transfers[int(np.argmax(light.levels))]
    seen = np.zeros((canvas.height, canvas.width, 3), np.float32)
    if strongest is None:
        return seen
    exposure *= adapted(layer.pattern, strongest, float(done[id(strongest)].max()))
    for part, (transfer, level) in enumerate(zip(light.transfers, light.levels, strict=True)):
        if transfer is not None:
            seen[:, :, part] = np.float32(exposure * level) * done[id(transfer)]
    return seen


def _exposure(lights: list[Levels]) -> float:
    """Return the display's light for a level of 1, so that the brightest looks as it should."""
    strongest = max((max(levels) for levels in lights), default=0.0)
    brightest = max((luminance_of(levels) for levels in lights), default=0.0)
    return brightness(brightest) / strongest if strongest > 0.0 else 0.0


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
