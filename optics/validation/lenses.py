"""Exact rows about lenses: moved, crossed, turned; and what they ask of an eye."""

import math
from collections.abc import Iterator
from functools import partial

import numpy as np

from optics.eye.eye import required_vergence
from optics.light.power import (
    PLANO,
    SpheroCylinder,
    at_vertex,
    blur_strength_d,
    from_vector,
    power_matrix,
    power_vector,
)
from optics.validation import sources
from optics.validation.row import Row, about, exact


def rows() -> Iterator[Row]:
    """Yield the rows about lenses."""
    yield from _moved()
    yield from _asked_of_an_eye()
    yield from _crossed()
    yield from _off_axis()
    yield from _strengths()


def _lens(sphere_d: float, cylinder_d: float = 0.0, axis_deg: float = 180.0) -> SpheroCylinder:
    return SpheroCylinder(sphere_d=sphere_d, cylinder_d=cylinder_d, axis_deg=axis_deg)


def meridian_moved_d(lens: SpheroCylinder, from_mm: float, to_mm: float, angle_deg: float) -> float:
    """Return the power along a meridian of a lens moved from one vertex distance to another."""
    along = np.array([math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))])
    return float(along @ power_matrix(at_vertex(lens, from_mm, to_mm)) @ along)


def _moved() -> Iterator[Row]:
    for power_d, from_mm, to_mm, published in (
        *((-4.0, 12, 0, -3.817), (-6.0, 12, 0, -5.597), (-10.0, 12, 0, -8.929)),
        *((-15.0, 12, 0, -12.712), (-20.0, 12, 0, -16.129), (-10.0, 14, 0, -8.772)),
        *((4.0, 12, 0, 4.202), (6.0, 12, 0, 6.466), (10.0, 12, 0, 11.364)),
        *((12.0, 12, 0, 14.019), (15.0, 12, 0, 18.293), (12.0, 14, 0, 14.423)),
        *((-10.0, 12, 14, -10.204), (10.0, 12, 14, 9.804), (12.0, 12, 14, 11.719)),
    ):
        where = "the cornea" if to_mm == 0 else f"{to_mm} mm"
        yield exact(
            f"{power_d:+.2f} from {from_mm} mm to {where}",
            about(published, 0.005, 3),
            sources.VERTEX,
            partial(meridian_moved_d, _lens(power_d), float(from_mm), float(to_mm), 90.0),
            catches="vertex distance ignored, or its sign turned",
            unit="D",
        )
    for lens, angle_deg, published in (
        (_lens(-8.0, -3.0), 180.0, -7.299),
        (_lens(-8.0, -3.0), 90.0, -9.717),
        (_lens(10.0, 2.0), 90.0, 14.019),
    ):
        yield exact(
            f"{lens.sphere_d:+.2f}/{lens.cylinder_d:+.2f}x180 to the cornea, along {angle_deg:g}",
            about(published, 0.005, 3),
            sources.VERTEX,
            partial(meridian_moved_d, lens, 12.0, 0.0, angle_deg),
            catches="sphere moved and cylinder left as it was",
            unit="D",
        )


def near_demand_d(lens_d: float, near_m: float) -> float:
    """Return the accommodation that a corrected eye needs for a target near the lens plane.

    ``near_m`` is the distance from a lens 12 mm before the cornea.
    """
    far, _, _ = required_vergence(_lens(lens_d), 12.0, math.inf)
    near, _, _ = required_vergence(_lens(lens_d), 12.0, near_m + 0.012)
    return far - near


def chart_vergence_d(distance_m: float) -> float:
    """Return the vergence at the cornea of light from a chart."""
    return required_vergence(PLANO, 0.0, distance_m)[0]


def _asked_of_an_eye() -> Iterator[Row]:
    for lens_d, published in ((-6.0, 2.12), (6.0, 2.81), (0.0, 2.43)):
        yield exact(
            f"accommodation for 40 cm behind {lens_d:+.2f} at 12 mm",
            about(published, 0.01),
            sources.VERGENCE,
            partial(near_demand_d, lens_d, 0.4),
            catches="2.50 D for everybody",
            unit="D",
        )
    for distance_m, published in ((6.0, -0.167), (4.0, -0.25), (3.0, -0.333)):
        yield exact(
            f"vergence of a chart at {distance_m:g} m",
            about(published, 0.002, 3),
            sources.VERGENCE,
            partial(chart_vergence_d, distance_m),
            catches="the chart taken for infinity",
            unit="D",
        )


def crossed_part(first: SpheroCylinder, second: SpheroCylinder, part: str) -> float:
    """Return sphere_d, cylinder_d or axis_deg of two thin lenses in contact."""
    return float(getattr(from_vector(power_vector(first) + power_vector(second)), part))


def _crossed() -> Iterator[Row]:
    for first, second, (sphere, cylinder, axis), source in (
        (_lens(0, -1.0), _lens(0, -2.0, 45), (-0.38, -2.24, 31.7), sources.TRIAL_LENSES),
        (_lens(0, 1.0), _lens(0, 2.0, 45), (2.62, -2.24, 121.7), sources.TRIAL_LENSES),
        (_lens(0, -2.0), _lens(0, -2.0, 45), (-0.59, -2.83, 22.5), sources.THIBOS_VECTORS),
        (_lens(0, 2.0, 120), _lens(0, -2.25, 30), (2.0, -4.25, 30.0), sources.THIBOS_VECTORS),
        (_lens(0, 2.0, 120), _lens(0, -2.25, 80), (1.24, -2.74, 57.0), sources.THIBOS_VECTORS),
    ):
        name = " with ".join(f"{one.cylinder_d:+.2f}x{one.axis_deg:g}" for one in (first, second))
        for part, published, tolerance in (
            ("sphere_d", sphere, 0.01),
            ("cylinder_d", cylinder, 0.01),
            ("axis_deg", axis, 0.2),
        ):
            word, _, unit = part.partition("_")
            yield exact(
                f"{name}: {word}",
                about(published, tolerance),
                source,
                partial(crossed_part, first, second, part),
                catches="axes averaged, or plus and minus cylinder forms confused",
                unit={"d": "D", "deg": "°"}[unit],
            )


def left_by_axis_error(cylinder_d: float, error_deg: float) -> SpheroCylinder:
    """Return what is left of a cylinder at 90 behind its lens turned by an error."""
    return from_vector(
        power_vector(_lens(0.0, cylinder_d, 90.0))
        - power_vector(_lens(0.0, cylinder_d, 90.0 + error_deg))
    )


def cylinder_left_d(cylinder_d: float, error_deg: float) -> float:
    """Return the cylinder left by an axis error."""
    return left_by_axis_error(cylinder_d, error_deg).cylinder_d


def axis_left_deg(cylinder_d: float, error_deg: float) -> float:
    """Return how far the residual's axis lies behind that of the lens."""
    return (90.0 + error_deg - left_by_axis_error(cylinder_d, error_deg).axis_deg) % 180.0


def _off_axis() -> Iterator[Row]:
    for error_deg, published in ((5.0, -0.349), (10.0, -0.695), (20.0, -1.368), (30.0, -2.0)):
        yield exact(
            f"2.00 DC {error_deg:g}° off axis: cylinder left",
            about(published, 0.01),
            sources.THIBOS_VECTORS,
            partial(cylinder_left_d, -2.0, error_deg),
            catches="loss by the sine of one angle, not twice",
            unit="D",
        )
    for error_deg, published in ((5.0, 47.5), (10.0, 50.0), (30.0, 60.0)):
        yield exact(
            f"2.00 DC {error_deg:g}° off axis: from the lens's axis to the residual's",
            about(published, 0.2, 1),
            sources.THIBOS_VECTORS,
            partial(axis_left_deg, -2.0, error_deg),
            catches="residual put on the lens's axis",
            unit="°",
        )


def cross_cylinder_blur_d(cylinder_d: float, error_deg: float, cross_d: float) -> float:
    """Return the blur strength left with a cross cylinder of +-``cross_d`` held over an error."""
    residual = power_vector(left_by_axis_error(cylinder_d, error_deg))
    along = residual / np.linalg.norm(residual)
    return blur_strength_d(residual + cross_d * along)


def slit_blur_d(error: SpheroCylinder, slit_deg: float) -> float:
    """Return the blur per mm along a slit: the length of F u."""
    angle = math.radians(slit_deg)
    along = np.array([math.cos(angle), math.sin(angle)])
    return float(np.linalg.norm(power_matrix(error) @ along))


def strength_d(lens: SpheroCylinder) -> float:
    """Return the blur strength of a lens."""
    return blur_strength_d(power_vector(lens))


def _strengths() -> Iterator[Row]:
    for lens, name, published in (
        (_lens(-1.0), "-1.00", 1.0),
        (_lens(0.0, -1.0), "plano/-1.00", 0.707),
        (_lens(0.5, -1.0), "+0.50/-1.00", 0.5),
        (_lens(-2.0, -1.0), "-2.00/-1.00", 2.55),
    ):
        yield exact(
            f"blur strength of {name}",
            about(published, 0.005, 3),
            sources.THIBOS_VECTORS,
            partial(strength_d, lens),
            catches="spherical equivalent taken for the blur",
            unit="D",
        )
    for cross_d, published in ((0.25, 0.337), (-0.25, 0.163), (0.5, 0.587), (-0.5, 0.413)):
        yield exact(
            f"1.00 DC 5° off axis through a {cross_d:+.2f} cross cylinder",
            about(published, 0.002, 3),
            sources.HARRIS,
            partial(cross_cylinder_blur_d, -1.0, 5.0, cross_d),
            catches="cross cylinder turned by the angle, not twice the angle",
            unit="D",
        )
    for slit_deg, published in ((15.0, 1.239), (45.0, 2.236), (90.0, 3.0)):
        yield exact(
            f"-1.00/-2.00x180 through a slit at {slit_deg:g}°: blur a mm",
            about(published, 0.002, 3),
            sources.MUNOZ,
            partial(slit_blur_d, _lens(-1.0, -2.0), slit_deg),
            catches="power in the meridian alone, torsion left out",
            unit="D",
        )
