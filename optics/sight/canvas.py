"""Where a picture looks: how large it is, what one pixel spans, and which part of the wall."""

from dataclasses import dataclass

from optics.errors import TargetError
from optics.sight.scene import Scene
from optics.sight.targets import LaidLetter, laid_out

WIDTH, HEIGHT = 640, 480
MOST_PIXELS = 2_000_000
FILLED = 0.86  # of the picture by the chart
LETTER_FILLS = 0.4  # of the picture's height, at most
LIGHT_FILLS = 0.05  # likewise, so that there is room for its blur
MOST_PARTS = 20  # that a wall has to look at closer


@dataclass(frozen=True, slots=True, kw_only=True)
class Canvas:
    """A picture's size in pixels, what one pixel spans, and the point of the wall in its middle.

    The middle is in minutes of arc from the chart's, x to the patient's right, y up.
    """

    width: int = WIDTH
    height: int = HEIGHT
    arcmin_per_pixel: float = 1.0
    middle_arcmin: tuple[float, float] = (0.0, 0.0)

    def __post_init__(self) -> None:
        if not (self.width > 0 and 0 < self.width * self.height <= MOST_PIXELS):
            raise TargetError(
                f"a picture must have 1 to {MOST_PIXELS} pixels, got {self.width} x {self.height}"
            )
        if not 1e-4 <= self.arcmin_per_pixel <= 1e3:
            raise TargetError(
                f"arcmin_per_pixel must be 0.0001 to 1000, got {self.arcmin_per_pixel!r}"
            )

    def holds(self, size_arcmin: tuple[float, float]) -> bool:
        """Return whether what has this size about the wall's middle lies wholly on it."""
        wide, tall = size_arcmin
        x, y = self.middle_arcmin
        return (
            wide / 2.0 + abs(x) <= self.width * self.arcmin_per_pixel / 2.0
            and tall / 2.0 + abs(y) <= self.height * self.arcmin_per_pixel / 2.0
        )


def canvas_for(scene: Scene, width: int = WIDTH, height: int = HEIGHT) -> Canvas:
    """Return the canvas that a scene fills: its letters at most 40 % of it, a light 5 %."""
    wide, tall = scene.size_arcmin
    single, fills = scene.largest_arcmin, LETTER_FILLS
    if scene.figure is not None:
        single, fills = (tall, LIGHT_FILLS) if scene.figure.shines else (0.0, LETTER_FILLS)
    return Canvas(
        width=width,
        height=height,
        arcmin_per_pixel=max(_scale(wide, tall, width, height), single / (fills * height)),
    )


def parts_of(scene: Scene) -> tuple[tuple[LaidLetter, ...], ...]:
    """Return what can be looked at closer: the lines of a chart, or the letters of its one line.

    The two panels of a duochrome wall; a single letter and a figure have no parts.
    """
    letters = tuple(laid_out(scene.rows))
    if scene.duochrome:
        return tuple(
            tuple(one.moved((left + right) / 2.0, 0.0) for one in letters)
            for _, (left, _, right, _) in scene.panels
        )
    if len(scene.rows) > 1:
        tops = dict.fromkeys(one.y_arcmin for one in letters)
        return tuple(tuple(one for one in letters if one.y_arcmin == top) for top in tops)
    return tuple((one,) for one in letters) if len(letters) > 1 else ()


def canvas_on(scene: Scene, part: int, width: int = WIDTH, height: int = HEIGHT) -> Canvas:
    """Return the canvas that one part fills, counted from 1; 0, or no such part, is the whole."""
    parts = parts_of(scene)
    if not 1 <= part <= len(parts):
        return canvas_for(scene, width, height)
    largest, letters = scene.largest_arcmin, parts[part - 1]
    if scene.duochrome:
        left, bottom, right, top = scene.panels[part - 1][1]
    else:
        largest = letters[0].height_arcmin
        left, right = letters[0].x_arcmin - largest / 2.0, letters[-1].x_arcmin + largest / 2.0
        bottom, top = letters[0].y_arcmin - largest / 2.0, letters[0].y_arcmin + largest / 2.0
    return Canvas(
        width=width,
        height=height,
        arcmin_per_pixel=max(
            _scale(right - left, top - bottom, width, height), largest / (LETTER_FILLS * height)
        ),
        middle_arcmin=((left + right) / 2.0, (bottom + top) / 2.0),
    )


def _scale(wide: float, tall: float, width: int, height: int) -> float:
    """Return the minutes of arc that a pixel spans when a thing of a size fills the picture."""
    return max(wide / width, tall / height, 1e-3) / FILLED
