"""From a beam and an eye to the wavefront in the pupil.

Here the one change of frame takes place: beams, eyes and lenses are stated as the examiner
faces the patient; wavefront and images are stated as the patient looks at the chart, x to
the patient's right. Positive values lie at the edge of a myopic eye; light through a pupil
point is perceived in the direction of the gradient (micrometres per mm = mrad).
"""

import math
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np

from optics.eye.eye import Eye
from optics.eye.media import YOUNG, Media
from optics.eye.population import ABERRATION_RADIUS_MM
from optics.eye.zernike import (
    NEED_RADIUS_MM,
    SIZE,
    mirrored,
    refractive_part,
    zernike_path,
)
from optics.light.beam import Beam, Stop, Vector
from optics.light.power import SpheroCylinder, power_vector
from optics.light.tilt import CROWN_INDEX
from optics.units import FloatArray

# of C(4,0) over 6 mm: Cheng et al., J Vision 2004;4:272-280, from memory
ACCOMMODATED_UM_PER_D = -0.048
STILES_CRAWFORD_PER_MM2 = 0.05  # base 10; Applegate & Lakshminarayanan, JOSA A 1993;10:1611
# a glass rod focuses n D / (4 (n - 1)) behind its middle (rays near the axis, both surfaces); the
# grooves' width is common practice, no source. Grooves lie side by side before the pupil: their
# streaks are taken together as that of one such cylinder at the cornea
ROD_WIDTH_M = 0.005
ROD_D = 4.0 * (CROWN_INDEX - 1.0) / (CROWN_INDEX * ROD_WIDTH_M)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wavefront:
    """The wavefront over a pupil in the chart frame, polynomial (7, 7) in mm and micrometres."""

    path: FloatArray = field(repr=False)
    pupil_mm: float
    stops: tuple[Stop, ...] = ()
    stiles_crawford_per_mm2: float = STILES_CRAWFORD_PER_MM2
    media: Media = YOUNG

    @property
    def amplitude_decay(self) -> float:
        """The rate a of the amplitude exp(-a r^2), r in mm: half of that of the light."""
        return self.stiles_crawford_per_mm2 * math.log(10.0) / 2.0

    @property
    def slits(self) -> tuple[Stop, ...]:
        """The stops with straight edges."""
        return tuple(stop for stop in self.stops if not stop.round)

    def inside(self, x_mm: FloatArray, y_mm: FloatArray, softness_mm: float) -> FloatArray:
        """Return how much of each pupil point is open, 0 to 1, edges ``softness_mm`` wide."""
        open_part = ramp(self.pupil_mm / 2.0 - np.sqrt(x_mm**2 + y_mm**2), softness_mm)
        for stop in self.stops:
            open_part = open_part * _open(stop, facing_x(x_mm), y_mm, softness_mm)
        return open_part

    def amplitude(self, x_mm: FloatArray, y_mm: FloatArray, softness_mm: float) -> FloatArray:
        """Return the light's amplitude: open part times what apodises it."""
        lit: FloatArray = self.inside(x_mm, y_mm, softness_mm) * self.apodisation(x_mm, y_mm)
        return lit

    def apodisation(self, x_mm: FloatArray, y_mm: FloatArray) -> FloatArray:
        """Return the amplitude that Stiles-Crawford effect and opacities leave."""
        decay = self.amplitude_decay
        factor: FloatArray = np.exp(-decay * x_mm**2) * np.exp(-decay * y_mm**2)
        if self.media.opacities:
            factor = factor * self.media.amplitude(facing_x(x_mm), y_mm)
        return factor

    def clear_both(
        self, x_mm: FloatArray, y_mm: FloatArray, sx_mm: FloatArray, sy_mm: FloatArray
    ) -> FloatArray:
        """Return the product of what the opacities leave at both pupils, as ``inside_both``."""
        ahead = self.media.amplitude(facing_x(x_mm + sx_mm / 2), y_mm + sy_mm / 2)
        behind = self.media.amplitude(facing_x(x_mm - sx_mm / 2), y_mm - sy_mm / 2)
        together: FloatArray = ahead * behind
        return together

    def inside_both(
        self, x_mm: FloatArray, y_mm: FloatArray, sx_mm: FloatArray, sy_mm: FloatArray, soft: float
    ) -> FloatArray:
        """Return the open part of pupil and shifted pupil, points (n,) by shifts (k, 1)."""
        if self.stops:
            return np.minimum(
                self.inside(x_mm + sx_mm / 2, y_mm + sy_mm / 2, soft),
                self.inside(x_mm - sx_mm / 2, y_mm - sy_mm / 2, soft),
            )
        farther = np.abs(sx_mm * x_mm + sy_mm * y_mm)
        farther += x_mm**2 + y_mm**2
        farther += (sx_mm**2 + sy_mm**2) / 4
        return ramp(self.pupil_mm / 2 - np.sqrt(farther), soft)

    def centre_mm(self) -> tuple[float, float]:
        """Return the middle of the smallest known circle that holds all the light."""
        x_mm, y_mm, _ = self._circle()
        return x_mm, y_mm

    def radius_mm(self) -> float:
        """Return the radius of that circle, which is the pupil's or that of a stop."""
        return self._circle()[2]

    def _circle(self) -> tuple[float, float, float]:
        circles = [(0.0, 0.0, self.pupil_mm / 2.0), *(_circle_of(stop) for stop in self.stops)]
        return min(circles, key=lambda circle: circle[2])


def _circle_of(stop: Stop) -> tuple[float, float, float]:
    """Return middle and radius of a circle in the pupil that holds a stop's opening, chart frame.

    A ray through the pupil's p crosses the disc at ``from_pupil`` p: the opening's image in the
    pupil lies about the inverse of its centre.
    """
    to_pupil = np.linalg.inv(np.reshape(stop.from_pupil, (2, 2)))
    middle = to_pupil @ np.array(stop.centre_mm)
    radius_mm = math.hypot(stop.half_length_mm, stop.half_width_mm) * np.linalg.norm(to_pupil, 2)
    return float(facing_x(middle[0])), float(middle[1]), float(radius_mm)


def ramp(distance_mm: FloatArray, softness_mm: float) -> FloatArray:
    """Return how open points are at a distance inside an edge ``softness_mm`` wide."""
    open_part: FloatArray = np.clip(distance_mm / softness_mm + 0.5, 0.0, 1.0)
    return open_part


def _open(stop: Stop, x_mm: FloatArray, y_mm: FloatArray, softness_mm: float) -> FloatArray:
    a, b, c, d = stop.from_pupil
    right_mm, up_mm = stop.centre_mm
    u, v = a * x_mm + b * y_mm - right_mm, c * x_mm + d * y_mm - up_mm
    if stop.round:
        return ramp(stop.half_width_mm - np.hypot(u, v), softness_mm)
    angle = math.radians(stop.direction_deg)
    along = u * math.cos(angle) + v * math.sin(angle)
    across = v * math.cos(angle) - u * math.sin(angle)
    return ramp(stop.half_width_mm - np.abs(across), softness_mm) * ramp(
        stop.half_length_mm - np.abs(along), softness_mm
    )


def facing_x(chart_x: FloatArray) -> FloatArray:
    """Return the examiner's x of points given by the patient's x: the views are mirror images."""
    return -chart_x


@lru_cache(maxsize=64)
def aberration_path(eye: Eye) -> FloatArray:
    """Return the higher-order wavefront without its Zernike refraction at 4 mm, facing frame.

    What is left adds nothing to the case's stated need, whatever the aberrations are. Read-only.
    """
    path = _without_refraction(zernike_path(dict(eye.zernike_um), ABERRATION_RADIUS_MM))
    path.setflags(write=False)
    return path


def accommodated_path(accommodation_d: float, pupil_mm: float) -> FloatArray:
    """Return what accommodation adds to the aberrations: negative spherical aberration.

    Without its Zernike refraction over the pupil: the accommodation counts all of that.
    """
    term = zernike_path({(4, 0): ACCOMMODATED_UM_PER_D * accommodation_d}, ABERRATION_RADIUS_MM)
    return _without_refraction(term, pupil_mm / 2.0)


def _without_refraction(path: FloatArray, radius_mm: float = NEED_RADIUS_MM) -> FloatArray:
    m, j0, j45 = refractive_part(path, radius_mm)
    return path - defocus_path((-m, -j0, -j45))


def defocus_path(defocus: Vector) -> FloatArray:
    """Return W = (x, y) E (x, y)^T / 2 of a defocus vector, shape (7, 7)."""
    m, j0, j45 = defocus
    path = np.zeros((SIZE, SIZE))
    path[2, 0], path[0, 2], path[1, 1] = (m + j0) / 2.0, (m - j0) / 2.0, j45
    return path


def over_refraction(eye: Eye, beam: Beam) -> Vector:
    """Return R = K - L, the lens still needed at the cornea (M, J0, J45 in D)."""
    return tuple(  # type: ignore[return-value]
        need - light for need, light in zip(eye.required_vergence, beam.vergence, strict=True)
    )


def defocus_of(still_needed: Vector, accommodation_d: float) -> Vector:
    """Return E = -R plus accommodation: positive M is myopic blur, a fogged eye."""
    m, j0, j45 = (0.0 - part for part in still_needed)
    return (m + accommodation_d, j0, j45)


def _rod_path(grooves_deg: float | None) -> FloatArray:
    """Return what a rod adds: every groove spreads the light at right angles to itself."""
    if grooves_deg is None:
        return defocus_path((0.0, 0.0, 0.0))
    rod = SpheroCylinder(sphere_d=0.0, cylinder_d=ROD_D, axis_deg=grooves_deg)
    m, j0, j45 = (float(part) for part in power_vector(rod))
    return defocus_path((m, j0, j45))


def wavefront_of(eye: Eye, beam: Beam, *, pupil_mm: float, accommodation_d: float) -> Wavefront:
    """Return the wavefront that an eye forms of a beam, in the chart frame."""
    defocus = defocus_of(over_refraction(eye, beam), accommodation_d)
    facing = aberration_path(eye) + defocus_path(defocus) + _rod_path(beam.rod_deg)
    if eye.zernike_um:
        facing = facing + accommodated_path(accommodation_d, pupil_mm)
    return Wavefront(path=mirrored(facing), pupil_mm=pupil_mm, stops=beam.stops, media=eye.media)
