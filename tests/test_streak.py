"""The rod's streak: as long, as sharp and as bright as a strong cylinder's, by other means."""

import math
from dataclasses import replace

import numpy as np
import pytest

from optics.eye.chromatic import filtered_light
from optics.eye.eye import ordinary_pair, required_vergence
from optics.eye.transfer import transfer_function
from optics.eye.wavefront import Wavefront, defocus_path
from optics.eye.zernike import zernike_path
from optics.light.frame import Place, TrialFrame
from optics.light.lens import EyeSide, PlacedLens
from optics.light.lens_case import full_set
from optics.light.power import SpheroCylinder, power_vector
from optics.sight.canvas import Canvas, canvas_for
from optics.sight.figures import Figure, FigureKind
from optics.sight.picture import adapted, blurred_picture, displayed, formed, pattern_of
from optics.sight.raster import blurred
from optics.sight.scene import Scene
from optics.sight.streak import streak_of, streaked
from optics.sight.targets import Row, Wall
from optics.sight.view import EyeView, look

R = EyeSide.RIGHT
SPOT = Scene(figure=Figure(kind=FigureKind.SPOTLIGHT, stroke_arcmin=4.0))
WHITE = filtered_light((), 7)
CANVAS = Canvas(width=160, height=120, arcmin_per_pixel=0.25)


def plain(defocus_d: float = 0.0) -> Wavefront:
    """Return a 4 mm pupil, all of it lit alike, with a defocus."""
    path = defocus_path((defocus_d, 0.0, 0.0))
    return Wavefront(path=path, pupil_mm=4.0, stiles_crawford_per_mm2=0.0)


def drawn_out(cylinder_d: float, axis_deg: float, defocus_d: float = 0.0) -> Wavefront:
    """Return the same behind a cylinder, its axis facing; J45 changes sign in the chart frame."""
    cylinder = SpheroCylinder(sphere_d=0.0, cylinder_d=cylinder_d, axis_deg=axis_deg)
    m, j0, j45 = power_vector(cylinder)
    wave = plain(defocus_d)
    return replace(wave, path=wave.path + defocus_path((m, j0, -j45)))


def behind_rod(grooves_deg: float, lens: str = "") -> EyeView:
    """Return what an emmetrope's right eye sees through the set's rod."""
    need = required_vergence(SpheroCylinder(sphere_d=0.0, cylinder_d=0.0, axis_deg=180.0), 12.0, 6)
    eyes = ordinary_pair(need, need, age_y=70.0, pupil_mm=4.0)
    rod = PlacedLens(lens=full_set().lens("rod"), direction_deg=grooves_deg)
    frame = TrialFrame().with_lens(R, Place.CELL_4, rod)
    if lens:
        frame = frame.with_lens(R, Place.CELL_1, PlacedLens(lens=full_set().lens(lens)))
    return look(eyes, frame, Wall(rows=())).eye(R)


# a cylinder of 14 D on a 4 mm pupil draws a point out over 3.2 degrees: its middle 40 minutes are
# what a rod of 14 D would give, by the ordinary two-dimensional transfer function


@pytest.mark.parametrize("axis_deg", [90.0, 180.0, 30.0])
@pytest.mark.parametrize(("defocus_d", "spherical_um"), [(0.0, 0.0), (1.0, 0.0), (0.0, 0.15)])
def test_a_streak_is_the_middle_of_a_strong_cylinders_image(axis_deg, defocus_d, spherical_um):
    wave = drawn_out(14.0, axis_deg, defocus_d)
    wave = replace(wave, path=wave.path + zernike_path({(4, 0): spherical_um}, 2.0))
    ours = streaked(pattern_of(SPOT), CANVAS, streak_of(wave, WHITE, axis_deg))
    expected = blurred(pattern_of(SPOT), CANVAS, transfer_function(wave))
    assert np.abs(ours - expected).max() < 0.10 * expected.max()
    assert ours.max() == pytest.approx(expected.max(), rel=0.10)


def test_a_degree_of_the_streak_has_its_chords_share_of_the_light():
    # a disc's middle chord over its area: 4 / (pi 4 mm) for each mm of pupil; a rod of 5 mm and
    # index 1.523 has 274.7 D, so that a mm of pupil is 15.74 degrees of streak (by hand)
    streak = streak_of(drawn_out(274.7, 90.0), WHITE, 90.0)
    assert streak.per_deg == pytest.approx(1.0 / math.pi / 15.74, rel=0.01)


@pytest.mark.parametrize(("grooves_deg", "rises"), [(90.0, 0.0), (180.0, math.inf), (45.0, 1.0)])
def test_the_streak_is_red_and_lies_across_the_grooves(grooves_deg, rises):
    # grooves at 45 as the examiner faces the patient go up to the patient's left: the streak
    # goes up to the patient's right
    picture = behind_rod(grooves_deg).picture(SPOT, canvas_for(SPOT, 160, 120)).astype(int)
    assert picture[..., 1:].max() <= 2
    red = picture[..., 0]
    assert red[60, 80] >= 60  # of 255: seen at a glance
    rows, columns = np.nonzero(red > red.max() // 2)
    x, y = columns - 79.5, 59.5 - rows
    off = x if math.isinf(rises) else (y - rises * x) / math.hypot(1.0, rises)
    assert np.abs(off).max() < 8.0
    assert np.hypot(x, y).max() > 59.0  # from side to side
    assert red[2, 2] <= 3


def test_a_streak_out_of_focus_is_a_band_as_wide_as_the_blur():
    # 4 mm x 3 D: 12 mrad, 41 minutes of arc, from edge to edge at half of the light
    canvas = Canvas(width=60, height=300, arcmin_per_pixel=0.25)
    streak = streak_of(drawn_out(274.7, 90.0, 3.0), WHITE, 90.0)
    light = streaked(pattern_of(SPOT), canvas, streak)
    lit = (light[:, 30] > 0.5 * light.max()).sum() * 0.25
    assert lit == pytest.approx(41.3, abs=2.0)


def test_letters_are_lost_behind_a_rod():
    scene = Scene(rows=(Row(size_logmar=0.3, letters="KHSZO"),))
    red = behind_rod(90.0).picture(scene, canvas_for(scene))[..., 0].astype(int)
    assert red.max() - red.min() <= 6


# ---- a light in the dark looks as bright as the cube root of its luminance (Stevens, 0.33)


@pytest.mark.parametrize("defocus_d", [3.0, 8.0])
def test_a_blurred_light_is_shown_by_the_cube_root_of_its_luminance(defocus_d):
    pattern, canvas = pattern_of(SPOT), canvas_for(SPOT, 160, 120)
    transfer = transfer_function(plain(defocus_d))
    peak = float(formed(pattern, canvas, transfer).max())
    shown = blurred_picture(pattern, canvas, transfer).max() / 255.0
    linear = ((shown + 0.055) / 1.055) ** 2.4
    assert peak < 0.5
    assert linear == pytest.approx(peak**0.33, abs=0.01)


def test_a_sharp_light_is_white_and_small_as_before():
    pattern, canvas = pattern_of(SPOT), canvas_for(SPOT, 160, 120)
    transfer = transfer_function(plain())
    assert adapted(pattern, transfer, 10.0) == adapted(pattern, transfer, 1.0) == 1.0
    shown = blurred_picture(pattern, canvas, transfer)
    expected = displayed(blurred(pattern, canvas, transfer))
    assert (shown == expected).all()
    assert shown.max() == 255


def test_a_light_off_the_picture_does_not_make_the_rest_glow():
    # 4 mm x 8 D: a disc of 32 mrad, 110 minutes of arc; a lamp of 4 minutes, 20 times paper, is
    # spread over it to 20 x (4 / 110)^2 of paper, however little of it the picture still holds
    light = 20.0 * (4.0 / 110.0) ** 2
    pattern, transfer = pattern_of(SPOT), transfer_function(plain(8.0))
    assert adapted(pattern, transfer, 1e-6) == pytest.approx(light**0.33 / light, rel=0.15)


def test_ink_on_paper_and_panels_need_no_adapting():
    for scene in (
        Scene(figure=Figure(kind=FigureKind.FAN)),
        Scene(figure=Figure(kind=FigureKind.DOTS)),
    ):
        assert adapted(pattern_of(scene), transfer_function(plain()), 0.1) == 1.0
