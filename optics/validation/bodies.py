"""Exact rows about charts, pupils, accommodation and the mean eye's wavefront."""

import math
from collections.abc import Iterator
from functools import partial

from optics.eye.accommodation import objective_amplitude_d
from optics.eye.population import ABERRATION_RADIUS_MM, AVERAGE_RIGHT_UM
from optics.eye.pupil import pupil_diameter_mm
from optics.eye.zernike import refractive_part, zernike_path
from optics.units import decimal_acuity, letter_height_mm, mar_arcmin
from optics.validation import sources
from optics.validation.row import Row, about, exact

FIELD_DEG2 = 78.54  # ten degrees across


def rows() -> Iterator[Row]:
    """Yield the rows about charts and bodies."""
    yield from _charts()
    yield from _pupils()
    yield from _amplitudes()
    yield from _zernike_focus()


def _charts() -> Iterator[Row]:
    for size_logmar, distance_m, published in (
        *((1.0, 4.0, 58.18), (0.5, 4.0, 18.40), (0.0, 4.0, 5.818), (-0.3, 4.0, 2.92)),
        *((1.0, 6.0, 87.27), (0.3, 6.0, 17.41), (0.0, 6.0, 8.727)),
    ):
        yield exact(
            f"height of a letter of {size_logmar:.1f} logMAR at {distance_m:g} m",
            about(published, 0.003 * published, 3),
            sources.ISO_8596,
            partial(letter_height_mm, size_logmar, distance_m),
            catches="stroke taken for the letter, or feet for metres",
            unit="mm",
        )
    yield exact(
        "one line larger, by",
        about(1.2589, 0.0005, 4),
        sources.BAILEY_LOVIE,
        lambda: letter_height_mm(0.1, 6.0) / letter_height_mm(0.0, 6.0),
        catches="an arithmetic progression",
    )
    for size_logmar, published in ((0.3, 0.50), (-0.2, 1.58)):
        yield exact(
            f"decimal acuity of {size_logmar:.1f} logMAR",
            about(published, 0.01),
            sources.ISO_8596,
            partial(decimal_acuity, size_logmar),
            catches="natural logarithm, or its sign turned",
        )
    yield exact(
        "smallest stroke at 1.0 logMAR",
        about(10.0, 0.01),
        sources.BAILEY_LOVIE,
        partial(mar_arcmin, 1.0),
        catches="base e instead of base 10",
        unit="arcmin",
    )


def natural_pupil_mm(luminance_cd_m2: float, age_y: float, eyes_open: int) -> float:
    """Return the pupil before a field ten degrees across."""
    return pupil_diameter_mm(luminance_cd_m2, FIELD_DEG2, age_y, eyes_open)


def _pupils() -> Iterator[Row]:
    for luminance, age, eyes_open, published in (
        *((10.0, 20, 2, 6.17), (10.0, 80, 2, 4.08), (85.0, 20, 2, 4.85)),
        *((160.0, 20, 2, 4.46), (160.0, 40, 2, 4.06), (160.0, 60, 2, 3.67), (160.0, 80, 2, 3.28)),
        *((320.0, 60, 2, 3.41), (1000.0, 20, 2, 3.46), (1000.0, 80, 2, 2.81)),
        *((160.0, 20, 1, 5.90), (160.0, 40, 1, 5.25), (160.0, 60, 1, 4.60), (160.0, 80, 1, 3.95)),
    ):
        how = "both eyes open" if eyes_open == 2 else "the other covered"
        yield exact(
            f"pupil at {luminance:g} cd/m², {age} years, {how}",
            about(published, 0.01),
            sources.WATSON_PUPIL,
            partial(natural_pupil_mm, luminance, float(age), eyes_open),
            catches="covered eye ignored" if eyes_open == 1 else "age ignored; /2 printed for +2",
            unit="mm",
        )


def amplitude_d(age_y: float) -> float:
    """Return the amplitude of accommodation that cases take at an age."""
    return objective_amplitude_d(age_y)


def _amplitudes() -> Iterator[Row]:
    for age, published in (
        *((10, 7.06), (20, 6.94), (30, 6.14), (40, 3.26), (45, 1.67), (50, 0.71), (60, 0.10)),
    ):
        yield exact(
            f"objective amplitude of accommodation at {age} years",
            about(published, 0.01),
            sources.ANDERSON,
            partial(amplitude_d, float(age)),
            catches="push-up amplitude taken for the objective one",
            unit="D",
        )


def zernike_against_paraxial_d(pupil_mm: float) -> float:
    """Return M by least squares less M by the paraxial curvature, for the mean eye."""
    path = zernike_path(dict(AVERAGE_RIGHT_UM), ABERRATION_RADIUS_MM)
    by_squares, _, _ = refractive_part(path, pupil_mm / 2.0)
    paraxial = -(path[2, 0] + path[0, 2])
    return float(by_squares - paraxial)


def _zernike_focus() -> Iterator[Row]:
    yield exact(
        "mean eye: least squares less paraxial M, 6 mm",
        about(-0.28, 0.01),  # -0.26 by least squares and +0.02 by curvature in the 200 eyes
        sources.THIBOS_EYES,
        partial(zernike_against_paraxial_d, 6.0),
        catches="spherical aberration without its balancing defocus, or of the wrong sign",
        unit="D",
    )
    yield exact(
        "mean eye: the same through 3 mm",
        # a quarter of it: both terms of r^4 balance at a focus that goes with r^2
        about(-12.0 * math.sqrt(5.0) * 0.094 / 9.0 / 4.0, 0.001, 3),
        sources.THIBOS_ZERNIKE,
        partial(zernike_against_paraxial_d, 3.0),
        catches="coefficients not carried from one pupil to another",
        unit="D",
    )
