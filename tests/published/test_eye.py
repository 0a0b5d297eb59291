"""The eye's parts against published tables: pupil, amplitude, colour, Zernike terms."""

import math
import warnings

import numpy as np
import pytest
from prysm.polynomials import ansi_j_to_nm, zernike_nm

from optics.errors import EyeError
from optics.eye.accommodation import objective_amplitude_d
from optics.eye.chromatic import (
    V_LAMBDA,
    V_LAMBDA_NM,
    chromatic_defocus_d,
    chromatic_refraction_d,
    white_light,
)
from optics.eye.eye import ordinary_eye
from optics.eye.population import average_aberrations, mirrored_terms
from optics.eye.pupil import pupil_diameter_mm
from optics.eye.wavefront import STILES_CRAWFORD_PER_MM2, aberration_path
from optics.eye.zernike import (
    derivative,
    evaluate,
    evaluate_on_grid,
    mirrored,
    refractive_part,
    unit_polynomial,
    zernike_path,
)
from optics.light.lens import EyeSide

TEN_DEGREES_ACROSS_DEG2 = math.pi * 25.0
AGES_Y = (20, 40, 60, 80)

# Watson & Yellott, J Vision 2012;12(10):12, Eq. 21 worked out for a field 10 degrees across
PUPIL_MM = {
    (10, 2): (6.17, 5.47, 4.78, 4.08),
    (85, 2): (4.85, 4.39, 3.93, 3.46),
    (160, 2): (4.46, 4.06, 3.67, 3.28),
    (320, 2): (4.05, 3.73, 3.41, 3.08),
    (1000, 2): (3.46, 3.24, 3.03, 2.81),
    (160, 1): (5.90, 5.25, 4.60, 3.95),
}


@pytest.mark.parametrize(
    ("luminance", "eyes_open", "age_y", "pupil_mm"),
    [
        (luminance, eyes_open, age_y, pupil_mm)
        for (luminance, eyes_open), row in PUPIL_MM.items()
        for age_y, pupil_mm in zip(AGES_Y, row, strict=True)
    ],
)
def test_the_pupil_follows_the_unified_formula(luminance, eyes_open, age_y, pupil_mm):
    ours_mm = pupil_diameter_mm(luminance, TEN_DEGREES_ACROSS_DEG2, age_y, eyes_open)
    assert ours_mm == pytest.approx(pupil_mm, abs=0.01)


def test_ages_beyond_the_formula_are_taken_at_its_ends():
    young, old = (pupil_diameter_mm(120.0, 78.54, age_y, 2) for age_y in (6.0, 99.0))
    assert young == pupil_diameter_mm(120.0, 78.54, 20.0, 2)
    assert old == pupil_diameter_mm(120.0, 78.54, 83.0, 2)


@pytest.mark.parametrize("luminance", [0.0, -1.0, math.nan, math.inf])
def test_a_wall_without_light_gives_no_pupil(luminance):
    with pytest.raises(EyeError, match="must be positive"):
        pupil_diameter_mm(luminance, 78.54, 30.0, 2)


# Anderson et al., IOVS 2008;49:2919-2926: 7.083 / (1 + exp(0.2031 (A - 36.2) - 0.6109))
@pytest.mark.parametrize(
    ("age_y", "amplitude_d"),
    [(10, 7.06), (20, 6.94), (30, 6.14), (40, 3.26), (45, 1.67), (50, 0.71), (60, 0.10)],
)
def test_the_objective_amplitude_falls_as_published(age_y, amplitude_d):
    assert objective_amplitude_d(age_y) == pytest.approx(amplitude_d, abs=0.01)


# Thibos, Ye, Zhang & Bradley, Appl Opt 1992;31:3594-3600, zero at 590 nm
@pytest.mark.parametrize(
    ("wavelength_nm", "refraction_d"),
    [
        *((400, -1.722), (450, -1.000), (486, -0.644), (500, -0.530), (535, -0.289)),
        *((555, -0.173), (570, -0.095), (589, -0.003), (620, 0.125), (656, 0.253), (700, 0.382)),
    ],
)
def test_the_chromatic_difference_is_the_chromatic_eyes(wavelength_nm, refraction_d):
    assert chromatic_refraction_d(wavelength_nm) == pytest.approx(refraction_d, abs=0.002)


def test_blue_light_focuses_in_front():
    # the same paper: 2.10 D over 400 to 700 nm, 0.413 D between 620 and 535 nm
    assert chromatic_defocus_d(570.0) == 0.0
    assert chromatic_defocus_d(400.0) > 0.0 > chromatic_defocus_d(700.0)
    assert chromatic_defocus_d(400.0) - chromatic_defocus_d(700.0) == pytest.approx(2.10, abs=0.005)
    assert chromatic_defocus_d(535.0) - chromatic_defocus_d(620.0) == pytest.approx(
        0.413, abs=0.002
    )


@pytest.fixture(scope="module")
def luminous_efficiency():
    # an independent table of the CIE 1924 observer; importing it warns about plotting
    with warnings.catch_warnings(), np.errstate(all="ignore"):
        warnings.simplefilter("ignore")
        from colour.colorimetry import SDS_LEFS
    return SDS_LEFS["CIE 1924 Photopic Standard Observer"]


def test_the_luminous_efficiency_is_the_observers_table(luminous_efficiency):
    table = [luminous_efficiency[wavelength_nm] for wavelength_nm in V_LAMBDA_NM]
    assert pytest.approx(table, abs=1e-6) == V_LAMBDA  # the table's last digit


@pytest.mark.parametrize("count", [1, 3, 5, 7])
def test_a_few_wavelengths_stand_for_white_light(luminous_efficiency, count):
    # the mean of any polynomial up to degree 2 n - 1 under V(lambda), summed by 10 nm
    light = white_light(count)
    nodes, weights = np.array(light.wavelengths_nm), np.array(light.weights)
    efficiency = np.array([luminous_efficiency[at] for at in V_LAMBDA_NM])
    assert np.sum(weights) == pytest.approx(1.0, abs=1e-12)
    assert 400.0 <= nodes.min() <= nodes.max() <= 700.0
    for degree in range(2 * count):
        expected = np.average(((V_LAMBDA_NM - 550.0) / 150.0) ** degree, weights=efficiency)
        ours = np.sum(weights * ((nodes - 550.0) / 150.0) ** degree)
        assert ours == pytest.approx(expected, abs=1e-7), degree


# the standard order j = (n (n + 2) + m) / 2 of ANSI Z80.28, from the general optics library
TERMS = [tuple(int(part) for part in ansi_j_to_nm(j)) for j in range(28)]


@pytest.mark.parametrize("term", TERMS, ids=str)
def test_zernike_terms_are_the_librarys_in_order_norm_and_sign(term):
    n, m = term
    x, y = (
        part.ravel() for part in np.meshgrid(np.linspace(-0.7, 0.7, 9), np.linspace(-0.7, 0.7, 9))
    )
    expected = zernike_nm(n, m, np.hypot(x, y), np.arctan2(y, x), norm=True)
    ours = evaluate(zernike_path({term: 1.0}, 1.0), x, y)
    assert ours == pytest.approx(expected, abs=1e-10)


# ANSI Z80.28, written out (from memory): norm, then the polynomial in r and t
@pytest.mark.parametrize(
    ("term", "formula"),
    [
        ((1, -1), lambda r, t: 2 * r * np.sin(t)),
        ((1, 1), lambda r, t: 2 * r * np.cos(t)),
        ((2, -2), lambda r, t: math.sqrt(6) * r**2 * np.sin(2 * t)),
        ((2, 0), lambda r, t: math.sqrt(3) * (2 * r**2 - 1) * np.cos(0 * t)),
        ((2, 2), lambda r, t: math.sqrt(6) * r**2 * np.cos(2 * t)),
        ((3, -3), lambda r, t: math.sqrt(8) * r**3 * np.sin(3 * t)),
        ((3, -1), lambda r, t: math.sqrt(8) * (3 * r**3 - 2 * r) * np.sin(t)),
        ((3, 1), lambda r, t: math.sqrt(8) * (3 * r**3 - 2 * r) * np.cos(t)),
        ((4, 0), lambda r, t: math.sqrt(5) * (6 * r**4 - 6 * r**2 + 1) * np.cos(0 * t)),
        ((4, 2), lambda r, t: math.sqrt(10) * (4 * r**4 - 3 * r**2) * np.cos(2 * t)),
        ((5, 1), lambda r, t: math.sqrt(12) * (10 * r**5 - 12 * r**3 + 3 * r) * np.cos(t)),
    ],
)
def test_zernike_terms_are_the_standards(term, formula):
    r, t = np.linspace(0.0, 1.0, 11), np.linspace(0.0, 6.0, 11)
    ours = evaluate(zernike_path({term: 0.3}, 3.0), 3.0 * r * np.cos(t), 3.0 * r * np.sin(t))
    assert ours == pytest.approx(0.3 * formula(r, t), abs=1e-12)


@pytest.mark.parametrize("term", [(2, 1), (3, 5), (7, 1), (-1, 1), (8, 0)])
def test_terms_that_do_not_exist_are_refused(term):
    with pytest.raises(EyeError, match="no Zernike term"):
        unit_polynomial(*term)


@pytest.mark.parametrize("smaller_mm", [1.0, 1.5, 2.0, 2.5])
def test_a_smaller_pupil_sees_the_published_rescaled_refraction(smaller_mm):
    # c20' = l^2 [c20 - sqrt15 (1 - l^2) c40], c2+-2' = l^2 [c2+-2 - sqrt15 (1 - l^2) c4+-2]:
    # Schwiegerling, JOSA A 2002;19:1937-1945 (from memory), re-derived by hand from r^4 and r^2
    wide_mm, c = 3.0, {(2, 0): 0.31, (2, 2): -0.12, (2, -2): 0.22}
    fourth = {(4, 0): 0.17, (4, 2): 0.09, (4, -2): -0.14}
    path = zernike_path(c | fourth | {(3, -1): 0.2, (3, 1): -0.1, (1, 1): 0.4}, wide_mm)
    ratio2 = (smaller_mm / wide_mm) ** 2
    shrunk = {
        m: ratio2 * (c[2, m] - math.sqrt(15.0) * (1.0 - ratio2) * fourth[4, m]) for m in (0, 2, -2)
    }
    expected = (
        -4.0 * math.sqrt(3.0) * shrunk[0] / smaller_mm**2,
        -2.0 * math.sqrt(6.0) * shrunk[2] / smaller_mm**2,
        -2.0 * math.sqrt(6.0) * shrunk[-2] / smaller_mm**2,
    )
    assert refractive_part(path, smaller_mm) == pytest.approx(expected, abs=1e-12)


def test_an_eyes_aberrations_leave_its_stated_need_alone():
    for side in EyeSide:
        left = refractive_part(aberration_path(ordinary_eye(side, (1.0, 0.3, -0.2))), 2.0)
        assert left == pytest.approx((0.0, 0.0, 0.0), abs=1e-12)


def test_the_average_eye_has_the_published_means():
    # Thibos, Bradley & Hong, OPO 2002;22:427-433, 200 eyes, 6 mm, means to the digits shown
    assert dict(average_aberrations(EyeSide.RIGHT)) == {
        (3, -3): -0.021,
        (3, -1): -0.032,
        (3, 1): 0.002,
        (3, 3): -0.003,
        (4, 0): 0.094,
    }


@pytest.mark.parametrize("term", TERMS, ids=str)
def test_the_other_eye_is_the_mirror_image(term):
    x, y = np.array([0.3, -0.5, 0.9]), np.array([0.2, 0.7, -0.1])
    turned = zernike_path(dict(mirrored_terms(((term, 1.0),))), 1.0)
    assert evaluate(turned, x, y) == pytest.approx(
        evaluate(zernike_path({term: 1.0}, 1.0), -x, y), abs=1e-12
    )
    assert mirrored(zernike_path({term: 1.0}, 1.0)) == pytest.approx(turned, abs=1e-12)


def test_slopes_are_those_of_small_steps():
    path = zernike_path({(3, -1): 0.2, (4, 0): 0.1, (5, 3): -0.2, (6, 2): 0.05}, 3.0)
    x, y, h = np.array([0.4, -1.1, 2.0]), np.array([-0.7, 1.3, 0.1]), 1e-4
    across = (evaluate(path, x + h, y) - evaluate(path, x - h, y)) / (2 * h)
    upward = (evaluate(path, x, y + h) - evaluate(path, x, y - h)) / (2 * h)
    assert evaluate(derivative(path, 1, 0), x, y) == pytest.approx(across, abs=1e-6)
    assert evaluate(derivative(path, 0, 1), x, y) == pytest.approx(upward, abs=1e-6)


def test_values_on_a_grid_are_those_at_its_points():
    path = zernike_path({(3, 1): 0.2, (4, 0): 0.1, (6, -4): 0.05}, 3.0)
    x, y = np.linspace(-2.0, 2.0, 7), np.linspace(-1.0, 3.0, 5)
    assert evaluate_on_grid(path, x, y) == pytest.approx(evaluate(path, *np.meshgrid(x, y)))


# eta = 10^(-rho r^2), rho = 0.05 per mm^2 (Applegate & Lakshminarayanan 1993), worked out
@pytest.mark.parametrize(("r_mm", "eta"), [(1, 0.891), (2, 0.631), (3, 0.355), (4, 0.158)])
def test_light_at_the_pupils_edge_counts_less(r_mm, eta):
    assert 10.0 ** (-STILES_CRAWFORD_PER_MM2 * r_mm**2) == pytest.approx(eta, abs=0.001)
