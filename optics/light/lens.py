"""Trial lenses: what each kind is, and one lens as it stands in a cell.

Powers in D, prisms in prism dioptres, apertures in mm. Directions are TABO degrees: the
axis of a cylinder, the minus axis of a cross cylinder, the long side of a slit, the grooves of
a rod (1 to 180), the base of a prism (1 to 360).
"""

import math
from dataclasses import dataclass
from enum import StrEnum

from optics.errors import LensError
from optics.light.notation import power_text
from optics.light.power import PLANO, SpheroCylinder
from optics.light.tilt import CROWN_INDEX


class EyeSide(StrEnum):
    """The patient's right or left eye."""

    RIGHT = "R"
    LEFT = "L"

    @property
    def other(self) -> "EyeSide":
        """The other eye."""
        return EyeSide.LEFT if self is EyeSide.RIGHT else EyeSide.RIGHT


class LensKind(StrEnum):
    """What a round trial lens or disc is."""

    SPHERE = "sphere"
    CYLINDER = "cylinder"
    PRISM = "prism"
    CROSS_CYLINDER = "cross"
    PLANO = "plano"
    OCCLUDER = "occluder"
    PINHOLE = "pinhole"
    SLIT = "slit"
    RED = "red"
    GREEN = "green"
    ROD = "rod"
    NEUTRAL = "neutral"


TURNING = {LensKind.CYLINDER, LensKind.PRISM, LensKind.CROSS_CYLINDER, LensKind.SLIT, LensKind.ROD}
POWERED = {LensKind.SPHERE, LensKind.CYLINDER, LensKind.PRISM, LensKind.CROSS_CYLINDER}
CLEAR = POWERED | {LensKind.PLANO}  # colourless glass
STOPS = {LensKind.PINHOLE, LensKind.SLIT}
# colours by the names under which the eye's spectrum knows them; rods are made of red glass
COLOURS = {LensKind.RED: "red", LensKind.GREEN: "green", LensKind.ROD: "red"}
SLIT_WIDTH_MM, SLIT_LENGTH_MM = 1.0, 15.0  # common practice, no source
FULL_RIM_MM, REDUCED_RIM_MM = 38.0, 20.0  # clear width of a trial lens; common practice, no source
# two surfaces of crown glass, each reflecting ((n - 1) / (n + 1))^2 (Fresnel): 0.916
UNCOATED = (1.0 - ((CROWN_INDEX - 1.0) / (CROWN_INDEX + 1.0)) ** 2) ** 2
NEUTRAL_DENSITY = 0.6  # a quarter of the light; common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialLens:
    """One physical lens, as engraved.

    ``power_d`` is the sphere, the cylinder, half the difference of a cross cylinder's two
    powers, or a prism's strength in prism dioptres; ``aperture_mm`` a pinhole's diameter;
    ``density`` a neutral filter's, base 10; ``rim_mm`` the clear width inside the rim.
    """

    kind: LensKind
    power_d: float = 0.0
    aperture_mm: float = 0.0
    density: float = 0.0
    rim_mm: float = REDUCED_RIM_MM

    def __post_init__(self) -> None:
        numbers = (self.power_d, self.aperture_mm, self.density, self.rim_mm)
        if not all(math.isfinite(number) for number in numbers):
            raise LensError(f"a lens must have finite numbers, got {self!r}")
        if self.rim_mm <= 0.0:
            raise LensError(f"a rim must be wider than 0 mm, got {self.rim_mm!r}")
        if self.kind in POWERED and self.power_d == 0.0:
            raise LensError(f"a {self.kind.value} must have a power other than zero")
        if self.kind in (LensKind.PRISM, LensKind.CROSS_CYLINDER) and self.power_d < 0.0:
            raise LensError(f"a {self.kind.value} must be positive, got {self.power_d!r}")
        if self.kind is LensKind.PINHOLE and not 0.2 <= self.aperture_mm <= 8.0:
            raise LensError(f"a pinhole must be 0.2 to 8 mm wide, got {self.aperture_mm!r}")
        if self.kind is LensKind.NEUTRAL and not 0.0 < self.density <= 4.0:
            raise LensError(f"a neutral filter must have a density to 4, got {self.density!r}")

    @property
    def turns(self) -> bool:
        """Whether its direction in the cell matters."""
        return self.kind in TURNING

    @property
    def widest_deg(self) -> int:
        """The largest direction that it can have."""
        return 360 if self.kind is LensKind.PRISM else 180

    @property
    def code(self) -> str:
        """A short stable name: ``sphere-2.00``, ``prism4``, ``pinhole1.2``, ``red``."""
        if self.kind in (LensKind.SPHERE, LensKind.CYLINDER):
            return f"{self.kind.value}{self.power_d:+.2f}"
        if self.kind in POWERED:
            return f"{self.kind.value}{self.power_d:g}"
        if self.kind is LensKind.PINHOLE:
            return f"pinhole{self.aperture_mm:g}"
        if self.kind is LensKind.NEUTRAL:
            return f"neutral{self.density:g}"
        return self.kind.value

    @property
    def engraving(self) -> str:
        """What is engraved on its tab."""
        if self.kind in (LensKind.SPHERE, LensKind.CYLINDER):
            return power_text(self.power_d)
        if self.kind is LensKind.PRISM:
            return f"{self.power_d:g}Δ"
        if self.kind is LensKind.CROSS_CYLINDER:
            return f"±{self.power_d:.2f}"
        if self.kind is LensKind.PINHOLE:
            return f"{self.aperture_mm:g} mm"
        if self.kind is LensKind.NEUTRAL:
            return f"ND {self.density:g}"
        return self.kind.value

    @property
    def transmittance(self) -> float:
        """The share of the light that passes; coloured glass is left to its spectrum: 1."""
        if self.kind is LensKind.OCCLUDER:
            return 0.0
        if self.kind is LensKind.NEUTRAL:
            return float(10.0**-self.density)
        return UNCOATED if self.kind in CLEAR else 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedLens:
    """A trial lens turned to a direction.

    Raises
    ------
    LensError
        If the direction lies outside 1 to 180 degrees (a prism's base: 1 to 360).
    """

    lens: TrialLens
    direction_deg: float = 180.0

    def __post_init__(self) -> None:
        if not 0.0 < self.direction_deg <= self.lens.widest_deg:
            name = "base" if self.lens.kind is LensKind.PRISM else "axis"
            raise LensError(
                f"the {name} must be 1 to {self.lens.widest_deg}, got {self.direction_deg:g}"
            )

    @property
    def power(self) -> SpheroCylinder:
        """Its power as sphere, cylinder and axis; plano for prisms and discs."""
        lens = self.lens
        if lens.kind is LensKind.SPHERE:
            return SpheroCylinder(sphere_d=lens.power_d)
        if lens.kind is LensKind.CYLINDER:
            return SpheroCylinder(
                sphere_d=0.0, cylinder_d=lens.power_d, axis_deg=self.direction_deg
            )
        if lens.kind is LensKind.CROSS_CYLINDER:
            return SpheroCylinder(
                sphere_d=lens.power_d, cylinder_d=-2.0 * lens.power_d, axis_deg=self.direction_deg
            )
        return PLANO

    @property
    def prism_pd(self) -> tuple[float, float]:
        """Base to the examiner's right and base up, in prism dioptres."""
        if self.lens.kind is not LensKind.PRISM:
            return (0.0, 0.0)
        base = math.radians(self.direction_deg)
        return (self.lens.power_d * math.cos(base), self.lens.power_d * math.sin(base))
