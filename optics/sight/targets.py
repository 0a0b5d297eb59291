"""What hangs on the wall: letter charts, and how they are laid out.

Sizes in logMAR; positions in minutes of arc, x to the patient's right, y up, from the
middle of the chart. Five letters a row, a letter's width between letters, rows apart by the
height of the lower one (Bailey & Lovie, Am J Optom Physiol Opt 1976;53:740-745).
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from optics.errors import TargetError
from optics.sight.letters import RINGS, SLOAN
from optics.units import letter_height_deg

LETTERS_A_ROW = 5
CHART_LINES_LOGMAR = tuple(round(1.0 - 0.1 * step, 1) for step in range(14))  # 6/60 to 6/3
STANDARD_LUMINANCE_CD_M2 = 120.0  # BS 4274 asks for at least 120
STANDARD_FIELD_DEG2 = 78.54  # a field of 10 degrees across
STANDARD_DISTANCE_M = 6.0
SMALLEST_LOGMAR, LARGEST_LOGMAR = -1.0, 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One line of Sloan letters or of Landolt rings of a size."""

    size_logmar: float
    letters: str

    def __post_init__(self) -> None:
        held = set(self.letters)
        if not held or (held - set(SLOAN) and held - set(RINGS)):
            raise TargetError(
                f"a row holds letters of {SLOAN} or rings of {RINGS}, got {self.letters[:20]!r}"
            )
        if not SMALLEST_LOGMAR <= self.size_logmar <= LARGEST_LOGMAR:
            raise TargetError(
                f"a row must be {SMALLEST_LOGMAR:g} to {LARGEST_LOGMAR:g} logMAR,"
                f" got {self.size_logmar!r}"
            )

    @property
    def alphabet(self) -> str:
        """The set of letters that it is drawn from: Sloan's, or the rings."""
        return RINGS if self.letters[0] in RINGS else SLOAN

    @property
    def height_arcmin(self) -> float:
        """The visual angle of its letters' height."""
        return 60.0 * letter_height_deg(self.size_logmar)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wall:
    """The chart, its distance from the cornea, its luminance and the lit field."""

    rows: tuple[Row, ...] = ()
    distance_m: float = STANDARD_DISTANCE_M
    luminance_cd_m2: float = STANDARD_LUMINANCE_CD_M2
    field_deg2: float = field(default=STANDARD_FIELD_DEG2)

    def __post_init__(self) -> None:
        if not self.distance_m > 0.0:
            raise TargetError(f"distance_m must be above 0, got {self.distance_m!r}")
        for name, value in (("luminance", self.luminance_cd_m2), ("field", self.field_deg2)):
            if not 0.0 < value < math.inf:
                raise TargetError(f"the wall's {name} must be above 0, got {value!r}")


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidLetter:
    """A letter and where its middle lies."""

    letter: str
    x_arcmin: float
    y_arcmin: float
    height_arcmin: float

    def moved(self, right_arcmin: float, up_arcmin: float) -> "LaidLetter":
        """Return it moved on the wall."""
        return replace(
            self, x_arcmin=self.x_arcmin + right_arcmin, y_arcmin=self.y_arcmin + up_arcmin
        )


def laid_out(rows: tuple[Row, ...]) -> Iterator[LaidLetter]:
    """Yield each letter of a chart in its place, the whole centred on (0, 0)."""
    _, tall = chart_size_arcmin(rows)
    top = tall / 2.0
    for index, row in enumerate(rows):
        height = row.height_arcmin
        top -= height if index else 0.0  # the gap above equals this row's height
        for place, letter in enumerate(row.letters):
            yield LaidLetter(
                letter=letter,
                x_arcmin=(2 * place - len(row.letters) + 1) * height,
                y_arcmin=top - height / 2.0,
                height_arcmin=height,
            )
        top -= height


def chart_size_arcmin(rows: tuple[Row, ...]) -> tuple[float, float]:
    """Return a chart's width and height in minutes of arc."""
    wide = max(((2 * len(row.letters) - 1) * row.height_arcmin for row in rows), default=0.0)
    tall = sum(row.height_arcmin * (2.0 if index else 1.0) for index, row in enumerate(rows))
    return wide, tall
