"""What an eye sees through filters and holes: its focus, the tint, and how bright it is."""

import math
from dataclasses import replace

import numpy as np
import pytest

from optics.eye.colour import LUMINANCE_OF_RGB
from optics.eye.eye import ordinary_eye, ordinary_pair
from optics.eye.transfer import transfer_function
from optics.eye.wavefront import Wavefront
from optics.light.frame import Place, TrialFrame
from optics.light.lens import EyeSide, LensKind, PlacedLens, TrialLens
from optics.sight.canvas import Canvas, canvas_for
from optics.sight.focus import Focusing, focus_d
from optics.sight.picture import (
    Layer,
    Light,
    blurred_picture,
    brightness,
    coloured_picture,
)
from optics.sight.raster import Pattern
from optics.sight.targets import Row, Wall
from optics.sight.view import EyeView, look

ROWS = (Row(size_logmar=0.5, letters="DHNKC"), Row(size_logmar=0.3, letters="OSRZV"))
CANVAS = canvas_for(ROWS, 320, 240)
WALL_VERGENCE = (-1.0 / 6.0, 0.0, 0.0)


def eye_view(m_d: float = 0.0, *filters: str, pupil_mm: float = 4.0, hole: str = "") -> EyeView:
    """Return an eye that cannot accommodate and needs so much at the cornea, behind filters."""
    vergence = (WALL_VERGENCE[0] + m_d, 0.0, 0.0)
    young = ordinary_pair(vergence, vergence, age_y=25.0, pupil_mm=pupil_mm)
    eyes = replace(young, amplitude_d=0.0)
    frame = TrialFrame()
    if hole:
        lens = TrialLens(kind=LensKind(hole), aperture_mm=1.2 if hole == "pinhole" else 0.0)
        frame = frame.with_lens(EyeSide.RIGHT, Place.CELL_1, PlacedLens(lens=lens))
    seen = look(eyes, frame, Wall()).right
    return replace(seen, beam=replace(seen.beam, filters=filters))


def linear(picture: np.ndarray) -> np.ndarray:
    """Undo the display curve (IEC 61966-2-1)."""
    shown = picture / 255.0
    return np.where(shown <= 0.04045, shown / 12.92, ((shown + 0.055) / 1.055) ** 2.4)


def clearest_d(*filters: str) -> float:
    """Return the lens at the cornea with which an eye passes most at 10 cycles per degree."""
    trials = np.arange(-0.8, 0.81, 0.05)
    x, y = 10.0 * np.cos([0.0, 0.8, 1.6, 2.4]), 10.0 * np.sin([0.0, 0.8, 1.6, 2.4])
    passed = [eye_view(-trial, *filters).transfer.at(x, y).real.mean() for trial in trials]
    best = int(np.argmax(passed))
    low, mid, high = passed[best - 1 : best + 2]
    return float(trials[best] + 0.05 * 0.5 * (low - high) / (low - 2 * mid + high))


# the chromatic difference (Thibos et al. 1992) at the mean wavelength that each filter passes,
# less the mean of it over V(lambda), -0.174 D; both summed by single nanometres
@pytest.mark.parametrize(
    ("name", "longer_nm"), [("red", 623.5), ("green", 535.3), ("red-panel", 628.6)]
)
def test_a_filter_moves_the_focus_by_the_chromatic_difference(name, longer_nm):
    rx = 1.68524 - 633.46 / (longer_nm - 214.102)
    white = -0.174
    # in red the eye is more hyperopic: it needs more plus
    assert clearest_d(name) - clearest_d() == pytest.approx(rx - white, abs=0.06)


@pytest.mark.parametrize(("name", "sign"), [("red", 1), ("green", -1)])
def test_a_young_eye_focuses_what_the_filter_passes(name, sign):
    # 2 D of hyperopia, an amplitude to spare: in red it accommodates more, in green less
    def accommodation(*filters: str) -> float:
        eye = Focusing(
            eye=ordinary_eye(EyeSide.RIGHT, (2.0, 0.0, 0.0)),
            pupil_mm=4.0,
            stops=(),
            over_refraction=(2.0, 0.0, 0.0),
            filters=filters,
        )
        return focus_d([eye], 0.0, 9.0)

    changed = accommodation(name) - accommodation()
    expected = {"red": 0.30, "green": 0.11}[name]  # as in the test above
    assert sign * changed == pytest.approx(expected, abs=0.10)


def test_white_light_makes_a_grey_picture_and_a_filter_a_coloured_one():
    grey = eye_view().picture(ROWS, CANVAS)
    assert (grey.shape, grey.dtype) == ((240, 320), np.uint8)
    for name, strongest in (("red", 0), ("green", 1)):
        seen = eye_view(0.0, name).picture(ROWS, CANVAS)
        assert (seen.shape, seen.dtype) == ((240, 320, 3), np.uint8)
        paper = seen[2, 2].astype(int)
        assert paper[strongest] == paper.max() > 100
        assert sorted(paper)[1] < 0.3 * paper.max()


def test_an_eye_in_the_dark_sees_black_through_any_filter():
    for filters in ((), ("red",)):
        open_eye = eye_view(0.0, *filters)
        covered = replace(open_eye, beam=replace(open_eye.beam, dark=True))
        assert not covered.picture(ROWS, CANVAS).any()
        assert covered.light() is None


def test_the_two_glasses_together_let_next_to_nothing_through():
    both = eye_view(0.0, "red", "green").picture(ROWS, CANVAS)
    one = eye_view(0.0, "red").picture(ROWS, CANVAS)
    assert linear(both).max() < 0.15 * linear(one).max()


@pytest.mark.parametrize("name", ["red", "green"])
def test_a_coloured_picture_has_the_shape_of_its_light(name):
    # luminance over that of paper, beside the transfer function of the whole light
    eye = eye_view(-0.5, name)
    seen = linear(eye.picture(ROWS, CANVAS)) @ np.array(LUMINANCE_OF_RGB)
    plain = linear(eye_view(-0.5).picture(ROWS, CANVAS))
    grey_of_light = linear(blurred_picture(ROWS, CANVAS, eye.transfer))
    apart = np.abs(seen / seen[2, 2] - grey_of_light)
    # the channel weighs the band by red or green, not by luminance: near, and nearer than white
    assert np.abs(plain / plain[2, 2] - grey_of_light).max() > 2.0 * apart.max()


# ---- brightness: published exponent of 0.33 (Stevens, from memory) over what reaches the eye


@pytest.mark.parametrize(("pupil_mm", "hole_mm"), [(4.0, 1.2), (6.0, 1.2)])
def test_a_pinhole_looks_dim_by_the_cube_root_of_its_light(pupil_mm, hole_mm):
    rho = 0.05 * math.log(10.0)  # Stiles-Crawford weighs the light of a wide pupil's edge less

    def light(diameter_mm: float) -> float:
        return 1.0 - math.exp(-rho * diameter_mm**2 / 4.0)

    paper = linear(eye_view(pupil_mm=pupil_mm, hole="pinhole").picture(ROWS, CANVAS))[2, 2]
    assert linear(eye_view(pupil_mm=pupil_mm).picture(ROWS, CANVAS))[2, 2] > 0.99
    assert paper == pytest.approx((light(hole_mm) / light(pupil_mm)) ** 0.33, abs=0.02)
    assert 0.2 < paper < 0.6


def test_less_light_looks_dimmer_but_never_by_as_much():
    shares = np.linspace(0.01, 1.0, 30)
    shown = np.array([brightness(float(share)) for share in shares])
    assert (np.diff(shown) > 0.0).all()
    assert (shown[:-1] > shares[:-1]).all()
    assert brightness(1.0) == 1.0
    assert brightness(0.0) == 0.0
    assert brightness(1.0000001) == 1.0


def test_a_wide_and_a_narrow_natural_pupil_look_equally_bright():
    papers = [eye_view(pupil_mm=mm).picture(ROWS, CANVAS)[2, 2] for mm in (2.0, 7.0)]
    assert papers == [255, 255]


# ---- layers


def panels(eye: EyeView) -> np.ndarray:
    """Return a red panel on the left and a green one on the right, one letter on each."""
    row = (Row(size_logmar=0.6, letters="O"),)
    layers = tuple(
        Layer(pattern=Pattern(rows=row, panel=place), light=light)
        for place, name in (((-60, -40, 0, 40), "red-panel"), ((0, -40, 60, 40), "green-panel"))
        if (light := eye.light(name)) is not None
    )
    return coloured_picture(layers, Canvas(width=160, height=120, arcmin_per_pixel=1.0))


def test_layers_lie_side_by_side_each_in_its_light():
    seen = linear(panels(eye_view()))
    red, green, dark = seen[25, 30], seen[25, 130], seen[5, 80]
    assert red[0] > 10.0 * red[1:].max()
    assert green[1] > 10.0 * green[[0, 2]].max()
    assert dark.max() < 0.02
    shares = np.array(LUMINANCE_OF_RGB)
    assert red @ shares == pytest.approx(green @ shares, rel=0.15)  # panels are equally bright


@pytest.mark.parametrize(("m_d", "clearer"), [(0.25, "green"), (-0.25, "red")])
def test_a_hyperope_sees_green_blacker_and_a_myope_red(m_d, clearer):
    # common practice: letters are blacker on red while more minus is wanted. Judged by the
    # strokes of the ring at its left and right against the panel
    seen = linear(panels(eye_view(m_d)))
    contrast = {}
    for name, part, left in (("red", 0, 20), ("green", 1, 80)):
        panel = seen[60, left + 2 : left + 58, part]
        contrast[name] = 1.0 - panel.min() / panel.max()
    assert max(contrast, key=lambda name: contrast[name]) == clearer


def test_a_red_glass_leaves_the_red_panel_alone():
    seen = linear(panels(eye_view(0.0, "red")))
    assert seen[25, 30, 0] > 0.2
    assert seen[25, 130].max() < 0.02 * seen[25, 30].max()


def test_two_half_lights_of_one_kind_are_one_light():
    transfer = transfer_function(Wavefront(path=np.zeros((7, 7)), pupil_mm=4.0))
    whole, half = (
        Light(levels=(level, level, level), transfers=(transfer, transfer, transfer))
        for level in (1.0, 0.5)
    )
    pattern = Pattern(rows=ROWS[:1], panel=(-50, -30, 50, 30))
    canvas = Canvas(width=120, height=90, arcmin_per_pixel=1.0)
    one = linear(coloured_picture((Layer(pattern=pattern, light=whole),), canvas))
    two = linear(coloured_picture((Layer(pattern=pattern, light=half),) * 2, canvas))
    # the exposure follows the brightest layer: twice the light of a half one's picture
    assert two.clip(0, 0.99) == pytest.approx((one * 2.0 * 0.5**0.33).clip(0, 0.99), abs=0.02)
