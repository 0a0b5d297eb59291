"""Powers against published arithmetic: vectors, crossed cylinders, vertex, Zernike terms."""

import math

import numpy as np
import pytest

from optics.eye.zernike import refractive_part, zernike_path
from optics.light.power import (
    SpheroCylinder,
    at_vertex,
    blur_strength_d,
    from_matrix,
    from_vector,
    power_matrix,
    power_vector,
)


def lens(sphere_d: float, cylinder_d: float = 0.0, axis_deg: float = 180.0) -> SpheroCylinder:
    return SpheroCylinder(sphere_d=sphere_d, cylinder_d=cylinder_d, axis_deg=axis_deg)


def apart_deg(one_deg: float, other_deg: float) -> float:
    """Return the angle between two axes."""
    return abs((one_deg - other_deg + 90.0) % 180.0 - 90.0)


# Thibos, Wheeler & Horner, Optom Vis Sci 1997;74(6):367-375, the definitions at axes where
# the cosines are exact; doi 10.1097/00006324-199706000-00019
@pytest.mark.parametrize(
    ("written", "vector"),
    [
        pytest.param(lens(-1.00, -2.00, 180), (-2.00, +1.00, 0.00), id="with-the-rule"),
        pytest.param(lens(-1.00, -2.00, 90), (-2.00, -1.00, 0.00), id="against-the-rule"),
        pytest.param(lens(+0.50, -1.00, 45), (0.00, 0.00, +0.50), id="oblique-45"),
        pytest.param(lens(+0.50, -1.00, 135), (0.00, 0.00, -0.50), id="oblique-135"),
        pytest.param(lens(-3.00), (-3.00, 0.00, 0.00), id="sphere"),
        pytest.param(lens(-3.00, +2.00, 90), (-2.00, +1.00, 0.00), id="plus-cylinder"),
        pytest.param(
            lens(0.00, -2.00, 30), (-1.00, 0.5, math.sqrt(3.0) / 2.0), id="thirty-degrees"
        ),
    ],
)
def test_a_power_vector_follows_its_definition(written, vector):
    assert power_vector(written) == pytest.approx(vector, abs=1e-12)
    assert from_vector(np.array(vector)) == written


@pytest.mark.parametrize("axis_deg", [1, 30, 45, 77, 90, 120, 135, 180])
def test_a_power_matrix_is_the_cylinder_laid_across_its_axis(axis_deg):
    # Long, Am J Optom Physiol Opt 1976;53:27-33: S I + C n n^T, n at right angles to the axis
    across = math.radians(axis_deg + 90.0)
    n = np.array([math.cos(across), math.sin(across)])
    expected = 1.25 * np.eye(2) - 2.75 * np.outer(n, n)
    assert power_matrix(lens(1.25, -2.75, axis_deg)) == pytest.approx(expected, abs=1e-12)
    assert from_matrix(expected) == lens(1.25, -2.75, axis_deg)


# Recomputed from Thibos, Wheeler & Horner 1997 to the digits shown; the first two agree with
# the published -0.40/-2.24x32 and +2.62/-2.24x122 of a teaching text
@pytest.mark.parametrize(
    ("first", "second", "total"),
    [
        (lens(0, -1.00, 180), lens(0, -2.00, 45), (-0.38, -2.24, 31.7)),
        (lens(0, +1.00, 180), lens(0, +2.00, 45), (+2.62, -2.24, 121.7)),
        (lens(0, -2.00, 180), lens(0, -2.00, 45), (-0.59, -2.83, 22.5)),
        (lens(0, +2.00, 120), lens(0, -2.25, 30), (+2.00, -4.25, 30.0)),
        (lens(0, +2.00, 120), lens(0, -2.25, 80), (+1.24, -2.74, 57.0)),
        # a cross cylinder of 0.25 is written +0.25/-0.50, its axes are 90 degrees apart
        (lens(0, +0.25, 90), lens(0, -0.25, 180), (+0.25, -0.50, 180.0)),
    ],
)
def test_two_cylinders_crossed_make_one_sphero_cylinder(first, second, total):
    sphere_d, cylinder_d, axis_deg = total
    sum_d = from_matrix(power_matrix(first) + power_matrix(second))
    assert sum_d.sphere_d == pytest.approx(sphere_d, abs=0.01)
    assert sum_d.cylinder_d == pytest.approx(cylinder_d, abs=0.01)
    assert apart_deg(sum_d.axis_deg, axis_deg) <= 0.2


# 2 sin(error), the axis at 45 degrees + half the error from the trial axis (arithmetic)
@pytest.mark.parametrize(
    ("error_deg", "factor"),
    [
        *((1, 0.035), (2, 0.070), (5, 0.174), (10, 0.347), (15, 0.518)),
        *((20, 0.684), (30, 1.000), (45, 1.414), (90, 2.000)),
    ],
)
@pytest.mark.parametrize("axis_deg", [20, 90, 175])
def test_a_cylinder_off_its_axis_leaves_a_cylinder(error_deg, factor, axis_deg):
    worn = lens(0.0, -2.00, (axis_deg + error_deg) % 180 or 180)
    left = from_vector(power_vector(lens(0.0, -2.00, axis_deg)) - power_vector(worn))
    assert left.cylinder_d == pytest.approx(-2.0 * factor, abs=0.0011)
    assert left.spherical_equivalent_d == pytest.approx(0.0, abs=1e-12)
    assert apart_deg(left.axis_deg, worn.axis_deg - 45.0 - error_deg / 2.0) <= 0.01


def test_the_cylinder_left_by_ten_degrees_is_the_worked_example():
    # eye -2.00x90, lens -2.00x100: +0.35/-0.69x50 (arithmetic)
    left = from_vector(power_vector(lens(0, -2.00, 90)) - power_vector(lens(0, -2.00, 100)))
    assert left.sphere_d == pytest.approx(0.35, abs=0.005)
    assert left.cylinder_d == pytest.approx(-0.69, abs=0.005)
    assert apart_deg(left.axis_deg, 50.0) <= 0.1


# Fc = F / (1 - d F), the handbook's vertex table, to the digits shown
VERTEX_MM = (10.0, 12.0, 14.0, 15.0)
VERTEX_TABLE = {
    -4.00: (-3.846, -3.817, -3.788, -3.774),
    -6.00: (-5.660, -5.597, -5.535, -5.505),
    -10.00: (-9.091, -8.929, -8.772, -8.696),
    -15.00: (-13.043, -12.712, -12.397, -12.245),
    -20.00: (-16.667, -16.129, -15.625, -15.385),
    +4.00: (4.167, 4.202, 4.237, 4.255),
    +6.00: (6.383, 6.466, 6.550, 6.593),
    +10.00: (11.111, 11.364, 11.628, 11.765),
    +12.00: (13.636, 14.019, 14.423, 14.634),
    +15.00: (17.647, 18.293, 18.987, 19.355),
}


@pytest.mark.parametrize(
    ("power_d", "vertex_mm", "at_cornea_d"),
    [
        (power_d, vertex_mm, at_cornea_d)
        for power_d, row in VERTEX_TABLE.items()
        for vertex_mm, at_cornea_d in zip(VERTEX_MM, row, strict=True)
    ]
    + [(+5.00, 10.0, +5.26), (+10.00, 20.0, +12.50)],  # worked pairs of a contact lens page
)
def test_a_lens_moved_to_the_cornea_has_the_power_of_the_vertex_table(
    power_d, vertex_mm, at_cornea_d
):
    moved = at_vertex(lens(power_d), vertex_mm, 0.0)
    assert moved.sphere_d == pytest.approx(at_cornea_d, abs=0.005)
    assert moved.cylinder_d == pytest.approx(0.0, abs=1e-9)


# each meridian by itself, to the digits shown (arithmetic)
@pytest.mark.parametrize(
    ("spectacle", "at_cornea"),
    [
        (lens(-8.00, -3.00, 180), (-7.30, -2.42, 180.0)),
        (lens(-8.00, -3.00, 37), (-7.30, -2.42, 37.0)),
        (lens(+10.00, +2.00, 60), (+14.02, -2.66, 150.0)),  # +11.36/+2.66x60, in minus form
    ],
)
def test_a_sphero_cylinder_is_moved_meridian_by_meridian(spectacle, at_cornea):
    moved = at_vertex(spectacle, 12.0, 0.0)
    assert moved.sphere_d == pytest.approx(at_cornea[0], abs=0.006)
    assert moved.cylinder_d == pytest.approx(at_cornea[1], abs=0.006)
    assert apart_deg(moved.axis_deg, at_cornea[2]) <= 0.01


@pytest.mark.parametrize(
    ("power_d", "needed_d"), [(-10.00, -10.20), (+10.00, +9.80), (+12.00, +11.72)]
)
def test_a_lens_moved_two_millimetres_outwards_needs_another_power(power_d, needed_d):
    # moving from 12 to 14 mm, to the digits shown (arithmetic)
    assert at_vertex(lens(power_d), 12.0, 14.0).sphere_d == pytest.approx(needed_d, abs=0.006)


# c20 = D r^2 / (4 sqrt 3): Thibos, Hong, Bradley & Applegate, J Vision 2004;4:329-351
@pytest.mark.parametrize(
    ("pupil_mm", "um_a_dioptre"), [(3, 0.3248), (4, 0.5774), (5, 0.9021), (6, 1.2990)]
)
def test_a_dioptre_of_defocus_is_the_published_zernike_coefficient(pupil_mm, um_a_dioptre):
    radius_mm = pupil_mm / 2.0
    path = zernike_path({(2, 0): um_a_dioptre}, radius_mm)
    m, j0, j45 = refractive_part(path, radius_mm)
    assert m == pytest.approx(-1.0, rel=1e-3)  # a myopic wavefront needs a minus lens
    assert (j0, j45) == pytest.approx((0.0, 0.0), abs=1e-9)


@pytest.mark.parametrize(
    ("term", "expected"), [((2, 2), (0.0, -1.0, 0.0)), ((2, -2), (0.0, 0.0, -1.0))]
)
def test_a_dioptre_of_astigmatism_is_the_published_zernike_coefficient(term, expected):
    # J = -2 sqrt 6 c / r^2: 1.837 um over 6 mm (same paper)
    path = zernike_path({term: 1.837}, 3.0)
    assert refractive_part(path, 3.0) == pytest.approx(expected, abs=1e-3)


# sqrt(M^2 + J0^2 + J45^2), to the digits shown (arithmetic)
@pytest.mark.parametrize(
    ("written", "strength_d"),
    [
        (lens(-1.00), 1.00),
        (lens(0.00, -1.00, 25), 0.707),
        (lens(+0.50, -1.00, 100), 0.50),
        (lens(-2.00, -1.00, 3), 2.55),
        (lens(-2.00, -1.00, 90), 2.55),
    ],
)
def test_blur_strength_is_the_length_of_the_power_vector(written, strength_d):
    assert blur_strength_d(power_vector(written)) == pytest.approx(strength_d, abs=0.0005)
