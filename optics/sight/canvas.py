"""Where a picture looks: how large it is, what one pixel spans, and which part of the wall."""

from dataclasses import dataclass

from optics.errors import TargetError
from optics.sight.targets import LaidLetter, Row, chart_size_arcmin, laid_out

WIDTH, HEIGHT = 640, 480
MOST_PIXELS = 2_000_000
FILLED = 0.86  # of the picture by the chart
LETTER_FILLS = 0.4  # of the picture's height, at most
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

    def holds(self, rows: tuple[Row, ...]) -> bool:
        """Return whether a chart lies wholly on the canvas."""
        wide, tall = chart_size_arcmin(rows)
        x, y = self.middle_arcmin
        return (
            wide / 2.0 + abs(x) <= self.width * self.arcmin_per_pixel / 2.0
            and tall / 2.0 + abs(y) <= self.height * self.arcmin_per_pixel / 2.0
        )


def canvas_for(rows: tuple[Row, ...], width: int = WIDTH, height: int = HEIGHT) -> Canvas:
    """Return the canvas on which a chart fills the picture, letters at most 40 % of it."""
    wide, tall = chart_size_arcmin(rows)
    largest = max((row.height_arcmin for row in rows), default=1.0)
    return Canvas(
        width=width,
        height=height,
        arcmin_per_pixel=_scale(wide, tall, largest, width, height),
    )


def parts_of(rows: tuple[Row, ...]) -> tuple[tuple[LaidLetter, ...], ...]:
    """Return what can be looked at closer: the lines of a chart, or the letters of its one line.

    A single letter has no parts.
    """
    letters = tuple(laid_out(rows))
    if len(rows) > 1:
        tops = dict.fromkeys(one.y_arcmin for one in letters)
        return tuple(tuple(one for one in letters if one.y_arcmin == top) for top in tops)
    return tuple((one,) for one in letters) if len(letters) > 1 else ()


def canvas_on(rows: tuple[Row, ...], part: int, width: int = WIDTH, height: int = HEIGHT) -> Canvas:
    """Return the canvas that one part fills, counted from 1; 0, or no such part, is the whole."""
    parts = parts_of(rows)
    if not 1 <= part <= len(parts):
        return canvas_for(rows, width, height)
    letters = parts[part - 1]
    largest = letters[0].height_arcmin
    wide = letters[-1].x_arcmin - letters[0].x_arcmin + largest
    return Canvas(
        width=width,
        height=height,
        arcmin_per_pixel=_scale(wide, largest, largest, width, height),
        middle_arcmin=((letters[0].x_arcmin + letters[-1].x_arcmin) / 2.0, letters[0].y_arcmin),
    )


def _scale(wide: float, tall: float, letter: float, width: int, height: int) -> float:
    """Return the minutes of arc that a pixel spans when a thing of a size fills the picture."""
    fitting = max(wide / width, tall / height, 1e-3) / FILLED
    return max(fitting, letter / (LETTER_FILLS * height))
