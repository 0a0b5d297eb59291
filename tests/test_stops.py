"""Holes off the pupil's centre, and the rod: what they cut, where they show it, what they lose."""

import math
from dataclasses import replace

import numpy as np
import pytest

from optics.eye.chromatic import single_wavelength
from optics.eye.eye import Eye, ordinary_pair
from optics.eye.transfer import transfer_function
from optics.eye.wavefront import Wavefront, wavefront_of
from optics.light.beam import beam_at_cornea
from optics.light.frame import Place, Point, TrialFrame
from optics.light.lens import EyeSide, LensKind, PlacedLens, TrialLens
from optics.sight.targets import Wall
from optics.sight.view import look
from tests import forms
from tests.test_frames_of_reference import FORMS, centroid_mrad

RIGHT, LEFT = EyeSide.RIGHT, EyeSide.LEFT
GREEN = single_wavelength(570.0)
PINHOLE = PlacedLens(lens=TrialLens(kind=LensKind.PINHOLE, aperture_mm=1.2))
OCCLUDER = PlacedLens(lens=TrialLens(kind=LensKind.OCCLUDER))


def slit(direction_deg: float) -> PlacedLens:
    return PlacedLens(lens=TrialLens(kind=LensKind.SLIT), direction_deg=direction_deg)


def rod(grooves_deg: float) -> PlacedLens:
    return PlacedLens(lens=TrialLens(kind=LensKind.ROD), direction_deg=grooves_deg)


def behind(
    placed: PlacedLens, centre_mm: Point, defocus_d: float = 0.0, side: EyeSide = RIGHT
) -> Wavefront:
    """Return a 4 mm pupil without aberrations behind a disc; positive defocus is myopia."""
    frame = TrialFrame(centre_right_mm=centre_mm, centre_left_mm=centre_mm)
    beam = beam_at_cornea(frame.with_lens(side, Place.CELL_1, placed), side, math.inf)
    eye = Eye(side=side, required_vergence=(-defocus_d, 0.0, 0.0))
    wave = wavefront_of(eye, beam, pupil_mm=4.0, accommodation_d=0.0)
    return replace(wave, stiles_crawford_per_mm2=0.0)


# for a distant object and no lens the hole lies over the pupil as it lies in the frame
@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("defocus_d", [0.0, 3.0])
def test_a_hole_beside_the_pupil_passes_nothing(form, defocus_d):
    for centre_mm in ((3.0, 0.0), (0.0, -2.7), (-2.0, 2.0)):
        wave = behind(PINHOLE, centre_mm, defocus_d)
        assert FORMS[form](wave) is None
        assert transfer_function(wave) is None


def common_area(wide: float, narrow: float, apart: float) -> float:
    """Return the area that two circles share, mm^2 (plane geometry)."""
    if apart <= wide - narrow:
        return math.pi * narrow**2
    first = math.acos((apart**2 + wide**2 - narrow**2) / (2 * apart * wide))
    second = math.acos((apart**2 + narrow**2 - wide**2) / (2 * apart * narrow))
    return wide**2 * (first - math.sin(2 * first) / 2) + narrow**2 * (
        second - math.sin(2 * second) / 2
    )


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("apart_mm", [0.0, 1.0, 1.4, 1.8, 2.3])
def test_a_hole_at_the_pupils_edge_is_cut(form, apart_mm):
    transfer = FORMS[form](behind(PINHOLE, (0.6 * apart_mm, -0.8 * apart_mm)))
    expected_mm2 = common_area(2.0, 0.6, apart_mm)
    assert transfer.open_mm2 == pytest.approx(expected_mm2, rel=0.02, abs=0.005)
    assert 0.2 < common_area(2.0, 0.6, 1.8) / common_area(2.0, 0.6, 0.0) < 0.9


# light through a pupil point p, in mm, of a myope of D dioptres is seen at D p mrad (geometry)
@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("side", EyeSide)
@pytest.mark.parametrize("defocus_d", [2.0, -2.0])
def test_a_hole_to_the_examiners_right_shows_a_myope_the_world_on_the_left(form, side, defocus_d):
    right, up = centroid_mrad(behind(PINHOLE, (1.0, 0.5), defocus_d, side), form)
    assert right == pytest.approx(-defocus_d * 1.0, rel=0.01)  # the patient's left is negative
    assert up == pytest.approx(defocus_d * 0.5, rel=0.01)


# the slit cuts a strip from 0.5 to 1.5 mm aside out of a disc of 2 mm: its middle lies at the
# integral of x sqrt(4 - x^2) over that of sqrt(4 - x^2), 0.971 mm (calculus)
@pytest.mark.parametrize("form", FORMS)
def test_a_slit_off_the_centre_shows_the_world_beside_it(form):
    right, up = centroid_mrad(behind(slit(90.0), (1.0, 0.7), 2.0), form)
    assert right == pytest.approx(-2.0 * 0.971, rel=0.01)
    assert up == pytest.approx(0.0, abs=0.01)  # along its length nothing is cut


@pytest.mark.parametrize("direction_deg", [30.0, 90.0, 135.0])
def test_a_slit_beside_the_pupil_passes_nothing(direction_deg):
    angle = math.radians(direction_deg + 90.0)
    for apart_mm, dark in ((2.6, True), (-2.6, True), (2.0, False)):
        centre_mm = (apart_mm * math.cos(angle), apart_mm * math.sin(angle))
        assert (transfer_function(behind(slit(direction_deg), centre_mm, 1.0)) is None) is dark


@pytest.mark.parametrize("defocus_d", [0.5, 3.0, 9.0])
def test_a_hole_aside_is_sampled_as_well_as_one_in_the_middle(defocus_d):
    # a parabola about another point is the same parabola tilted: only the phase turns
    x, y = np.meshgrid(np.linspace(0.0, 20.0, 9), np.linspace(-20.0, 20.0, 9))
    middle = transfer_function(behind(PINHOLE, (0.0, 0.0), defocus_d), spectrum=GREEN)
    aside = transfer_function(behind(PINHOLE, (1.1, -0.6), defocus_d), spectrum=GREEN)
    shift_deg = np.degrees(np.array([-1.1, -0.6]) * defocus_d * 1e-3)
    turned = middle.at(x, y) * np.exp(-2j * math.pi * (shift_deg[0] * x + shift_deg[1] * y))
    assert np.abs(aside.at(x, y) - turned).max() <= 6e-3  # of the daily grid: 3e-3 each


def test_right_and_left_eyes_mirror():
    x, y = np.meshgrid(np.linspace(-20.0, 20.0, 9), np.linspace(-20.0, 20.0, 9))
    for one, other in ((PINHOLE, PINHOLE), (slit(30.0), slit(150.0))):
        right = transfer_function(behind(one, (-1.3, 0.4), 1.5, RIGHT))
        left = transfer_function(behind(other, (1.3, 0.4), 1.5, LEFT))
        assert left.at(-x, y) == pytest.approx(right.at(x, y), abs=2e-4)


def test_an_eye_behind_a_misplaced_hole_sees_nothing():
    eyes = ordinary_pair((-2.0, 0.0, 0.0), (-2.0, 0.0, 0.0), age_y=30.0, pupil_mm=4.0)
    frame = TrialFrame().with_lens(RIGHT, Place.CELL_4, PINHOLE)
    frame = frame.with_lens(LEFT, Place.CELL_4, OCCLUDER)
    assert look(eyes, frame, Wall()).better is not None
    view = look(eyes, replace(frame, centre_right_mm=(3.5, 0.0)), Wall())
    assert view.right.reading is None
    assert view.better is None


# ---- the rod


@pytest.mark.parametrize("grooves_deg", [180.0, 90.0, 30.0, 125.0])
@pytest.mark.parametrize("pupil_mm", [2.5, 6.0])
def test_a_rod_spreads_light_across_its_grooves(grooves_deg, pupil_mm):
    # the streak lies across the grooves; contrast is left along them alone, seen mirrored
    frame = TrialFrame().with_lens(RIGHT, Place.CELL_1, rod(grooves_deg))
    beam = beam_at_cornea(frame, RIGHT, 6.0)
    eye = Eye(side=RIGHT, required_vergence=(-1.0 / 6.0, 0.0, 0.0))
    transfer = transfer_function(wavefront_of(eye, beam, pupil_mm=pupil_mm, accommodation_d=0.0))
    angles = np.arange(0.0, 180.0, 5.0)
    cpd = 0.6 * transfer.limit_cpd
    left = np.abs(transfer.at(cpd * np.cos(np.radians(angles)), cpd * np.sin(np.radians(angles))))
    best = (180.0 - grooves_deg) % 180.0
    assert angles[np.argmax(left)] == pytest.approx(best)
    assert left.max() > 0.5
    away = np.abs((angles - best + 90.0) % 180.0 - 90.0) >= 20.0
    assert left[away].max() < 0.1


@pytest.mark.parametrize("need_d", [0.0, -3.0, 2.0])
@pytest.mark.parametrize("pupil_mm", [2.0, 4.0, 7.0])
def test_letters_are_lost_through_a_rod(need_d, pupil_mm):
    need = (need_d - 1.0 / 6.0, 0.2, 0.1)
    eyes = ordinary_pair(need, need, age_y=25.0, pupil_mm=pupil_mm)
    frame = TrialFrame().with_lens(RIGHT, Place.CELL_1, rod(180.0))
    both = look(eyes, frame, Wall())
    assert both.better is both.left
    assert 0.0 <= both.accommodation_d <= eyes.amplitude_d
    alone = look(eyes, frame.with_lens(LEFT, Place.CELL_1, OCCLUDER), Wall())
    assert alone.accommodation_d == 0.0
    assert np.isfinite(alone.right.transfer.parts).all()
    assert alone.right.reading.of_line(1.0) < 0.3  # the largest line is not tried
    assert alone.right.over_refraction == both.right.over_refraction  # the rod corrects nothing


def test_a_grey_filter_costs_what_light_costs():
    # 0.02 logMAR a halving of the light (Sheedy 1984); density 0.6 is two halvings
    eyes = ordinary_pair((-1.0 / 6.0, 0.0, 0.0), (0.0, 0.0, 0.0), age_y=30.0, pupil_mm=4.0)
    grey = PlacedLens(lens=TrialLens(kind=LensKind.NEUTRAL, density=0.6))
    plain = look(eyes, TrialFrame(), Wall()).right.reading
    dimmed = look(eyes, TrialFrame().with_lens(RIGHT, Place.CELL_1, grey), Wall()).right.reading
    assert dimmed.acuity_logmar - plain.acuity_logmar == pytest.approx(0.04, abs=0.01)


def test_forms_meet_where_a_hole_is_cut():
    wave = behind(PINHOLE, (1.5, 0.9), 4.0)
    x, y = np.meshgrid(np.arange(0, 8) * 0.9, np.arange(-7, 8) * 0.9)
    sampled, overlap = forms.sampled(wave, GREEN), forms.overlap(wave, GREEN, 0.9, 10)
    assert np.abs(sampled.at(x, y) - overlap.at(x, y)).max() <= 5e-3
    shadow = forms.shadow(wave, GREEN)
    assert np.abs(shadow.at(x, y) - sampled.at(x, y)).max() <= 2e-3
