"""Spherocylindrical power: clinical form, power vector, power matrix, vergence steps.

Powers in dioptres, distances in metres, axes in degrees in (0, 180], counter-clockwise
as the examiner sees the eye (TABO). Light travels towards the eye; diverging light is
negative. Matrices act on (x, y), x to the examiner's right, y up.
"""

import math
from dataclasses import dataclass

import numpy as np

from optics.errors import PowerError
from optics.units import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SpheroCylinder:
    """A thin lens power as written in clinic: sphere / cylinder x axis.

    Equality is optical: transposed forms of one lens are equal (to 1e-9 D).

    Raises
    ------
    PowerError
        If a power is not finite or the axis lies outside (0, 180].
    """

    sphere_d: float
    cylinder_d: float = 0.0
    axis_deg: float = 180.0

    def __post_init__(self) -> None:
        if not (math.isfinite(self.sphere_d) and math.isfinite(self.cylinder_d)):
            raise PowerError(f"powers must be finite, got {self.sphere_d!r}, {self.cylinder_d!r}")
        if not 0.0 < self.axis_deg <= 180.0:
            raise PowerError(f"axis_deg must be in (0, 180], got {self.axis_deg!r}")

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, SpheroCylinder):
            return NotImplemented
        return bool(np.allclose(power_vector(self), power_vector(other), rtol=0.0, atol=1e-9))

    def __hash__(self) -> int:
        return hash(tuple(round(float(part), 8) + 0.0 for part in power_vector(self)))

    def transposed(self) -> "SpheroCylinder":
        """Return the same lens written with the other sign of cylinder."""
        axis_deg = self.axis_deg + 90.0 if self.axis_deg <= 90.0 else self.axis_deg - 90.0
        return SpheroCylinder(
            sphere_d=self.sphere_d + self.cylinder_d,
            cylinder_d=0.0 - self.cylinder_d,
            axis_deg=axis_deg,
        )

    def in_minus_cylinder(self) -> "SpheroCylinder":
        """Return the form whose cylinder is not positive."""
        return self.transposed() if self.cylinder_d > 0.0 else self

    def in_plus_cylinder(self) -> "SpheroCylinder":
        """Return the form whose cylinder is not negative."""
        return self.transposed() if self.cylinder_d < 0.0 else self

    @property
    def spherical_equivalent_d(self) -> float:
        """Sphere plus half the cylinder, in D."""
        return self.sphere_d + self.cylinder_d / 2.0


PLANO = SpheroCylinder(sphere_d=0.0)


def power_vector(power: SpheroCylinder) -> FloatArray:
    """Return (M, J0, J45), shape (3,), in D.

    Thibos, Wheeler & Horner, Optom Vis Sci 1997;74(6):367-375.
    """
    half_d, double_axis = power.cylinder_d / 2.0, math.radians(2.0 * power.axis_deg)
    return np.array(
        [
            power.sphere_d + half_d,
            -half_d * math.cos(double_axis),
            -half_d * math.sin(double_axis),
        ]
    )


def from_vector(vector: FloatArray) -> SpheroCylinder:
    """Return the minus-cylinder form of a power vector (3,), in D."""
    m, j0, j45 = (float(part) for part in vector)
    cylinder_d = 0.0 - 2.0 * math.hypot(j0, j45)  # 0.0 - keeps plano from printing as -0.00
    axis_deg = math.degrees(math.atan2(j45, j0)) / 2.0 % 180.0 or 180.0
    return SpheroCylinder(sphere_d=m - cylinder_d / 2.0, cylinder_d=cylinder_d, axis_deg=axis_deg)


def vector_matrix(vector: FloatArray) -> FloatArray:
    """Return the symmetric power matrix (2, 2) of a power vector (3,), in D.

    Long, Am J Optom Physiol Opt 1976;53(1):27-33 (from memory).
    """
    m, j0, j45 = (float(part) for part in vector)
    return np.array([[m + j0, j45], [j45, m - j0]])


def matrix_vector(matrix: FloatArray) -> FloatArray:
    """Return the power vector (3,) of a power matrix (2, 2), in D."""
    (a, b), (c, d) = matrix
    return np.array([(a + d) / 2.0, (a - d) / 2.0, (b + c) / 2.0])


def power_matrix(power: SpheroCylinder) -> FloatArray:
    """Return the power matrix of a lens, shape (2, 2), in D."""
    return vector_matrix(power_vector(power))


def from_matrix(matrix: FloatArray) -> SpheroCylinder:
    """Return the minus-cylinder form of a power matrix (2, 2), in D."""
    return from_vector(matrix_vector(matrix))


def blur_strength_d(vector: FloatArray | tuple[float, float, float]) -> float:
    """Return the length of a power vector (3,), in D."""
    return float(np.linalg.norm(vector))


def defocus_equivalent_d(vector: FloatArray) -> float:
    """Return |M| + |C|/2 of a power vector (3,), in D: the worst meridian's share."""
    m, j0, j45 = (float(part) for part in vector)
    return abs(m) + math.hypot(j0, j45)


def stepped(vergence: FloatArray, distance_m: float) -> FloatArray:
    """Return a vergence matrix (2, 2) as it is ``distance_m`` further along the light, in D.

    L' = L (I - t L)^-1, the matrix form of the vertex formula.

    Raises
    ------
    PowerError
        If the plane lies in a focal line, where the vergence is infinite.
    """
    moved: FloatArray = vergence @ spread(vergence, distance_m)
    return moved


def spread(vergence: FloatArray, distance_m: float) -> FloatArray:
    """Return (I - t L)^-1, shape (2, 2): heights of rays before a step of t by those after it.

    Raises
    ------
    PowerError
        If the step ends in a focal line.
    """
    (a, b), (c, d) = vergence.tolist()
    a, b, c, d = 1.0 - distance_m * a, -distance_m * b, -distance_m * c, 1.0 - distance_m * d
    area = a * d - b * c
    if abs(area) < 1e-9:
        raise PowerError(f"the vergence is infinite {distance_m!r} m further along the light")
    before: FloatArray = np.array([[d, -b], [-c, a]]) / area
    return before


def at_vertex(power: SpheroCylinder, from_mm: float, to_mm: float) -> SpheroCylinder:
    """Return the lens that does at ``to_mm`` what ``power`` does at ``from_mm`` before the eye.

    For a distant object; a lens nearer to the eye has travelled further along the light.
    """
    return from_matrix(stepped(power_matrix(power), (from_mm - to_mm) / 1000.0))
