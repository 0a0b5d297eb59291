"""What hangs on the wall at one moment: letters, a figure, or letters on red and green panels."""

from dataclasses import dataclass

from optics.errors import TargetError
from optics.sight.figures import Figure, extent_arcmin
from optics.sight.targets import Row, chart_size_arcmin

Box = tuple[float, float, float, float]  # left, bottom, right, top in minutes of arc
RED_PANEL, GREEN_PANEL = "red-panel", "green-panel"  # as the eye's filters are called
PANEL_RIM, BETWEEN_PANELS = 1.0, 0.5  # of the largest letter's height


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """Rows of letters or rings, or one figure, on white paper or in the dark.

    ``duochrome``: the rows hang twice, on a red panel left and a green one right, all else dark.
    """

    rows: tuple[Row, ...] = ()
    figure: Figure | None = None
    duochrome: bool = False

    def __post_init__(self) -> None:
        if self.figure is not None and (self.rows or self.duochrome):
            raise TargetError(
                f"a figure hangs alone: rows must be empty and duochrome false,"
                f" got {len(self.rows)} rows and duochrome {self.duochrome!r}"
            )

    @property
    def largest_arcmin(self) -> float:
        """The height of its largest letter, 1 where there is none."""
        return max((row.height_arcmin for row in self.rows), default=1.0)

    @property
    def size_arcmin(self) -> tuple[float, float]:
        """The width and height of all of it, panels included."""
        if self.duochrome:
            _, bottom, right, top = self.panels[-1][1]
            return 2.0 * right, top - bottom
        return chart_size_arcmin(self.rows) if self.figure is None else extent_arcmin(self.figure)

    @property
    def panels(self) -> tuple[tuple[str, Box], ...]:
        """The filter and the place of each panel, from the left; none on white paper."""
        if not self.duochrome:
            return ()
        letter = self.largest_arcmin
        wide, tall = (side + 2.0 * PANEL_RIM * letter for side in chart_size_arcmin(self.rows))
        near, half = BETWEEN_PANELS * letter / 2.0, tall / 2.0
        return (
            (RED_PANEL, (-near - wide, -half, -near, half)),
            (GREEN_PANEL, (near, -half, near + wide, half)),
        )
