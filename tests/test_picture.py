"""The picture is the chart laid under the transfer function, the right way up, without wrap."""

import math
from dataclasses import dataclass

import numpy as np
import pytest

from optics.errors import TargetError
from optics.eye.eye import ordinary_pair, required_vergence
from optics.eye.transfer import transfer_function
from optics.eye.wavefront import Wavefront, defocus_path
from optics.light.frame import TrialFrame
from optics.light.power import SpheroCylinder
from optics.sight.canvas import MOST_PARTS, Canvas, canvas_for, canvas_on, parts_of
from optics.sight.picture import blurred_picture, displayed, sharp_picture
from optics.sight.raster import INK_LUMINANCE, Pattern, blurred
from optics.sight.targets import CHART_LINES_LOGMAR, Row, Wall
from optics.sight.view import look

ROWS = (Row(size_logmar=0.5, letters="DHNKC"), Row(size_logmar=0.3, letters="OSRZV"))
CANVAS = canvas_for(ROWS, 320, 240)


def wave(
    defocus_d: float, *, right_mrad: float = 0.0, up_mrad: float = 0.0, pupil_mm: float = 4.0
) -> Wavefront:
    """Return a pupil with a defocus and a tilt that moves the image right and up."""
    path = defocus_path((defocus_d, 0.0, 0.0))
    path[1, 0], path[0, 1] = right_mrad, up_mrad
    return Wavefront(path=path, pupil_mm=pupil_mm)


def linear(picture: np.ndarray) -> np.ndarray:
    """Undo the display curve (IEC 61966-2-1)."""
    shown = picture / 255.0
    return np.where(shown <= 0.04045, shown / 12.92, ((shown + 0.055) / 1.055) ** 2.4)


def as_seen(rows, canvas, wavefront) -> np.ndarray:
    return blurred_picture(rows, canvas, transfer_function(wavefront))


@pytest.mark.parametrize(
    ("columns", "rows_up"), [(1, 0), (0, 1), (15, 0), (-15, 0), (0, 15), (7, -9)]
)
def test_a_point_moved_by_a_pixel_moves_the_picture(columns, rows_up):
    defocus_d = 0.5
    # a prism of one pixel: the wavefront's slope in mrad is the angle that it is seen at
    mrad_per_pixel = math.radians(CANVAS.arcmin_per_pixel / 60.0) * 1000.0
    still = as_seen(ROWS, CANVAS, wave(defocus_d)).astype(int)
    moved = as_seen(
        ROWS,
        CANVAS,
        wave(defocus_d, right_mrad=columns * mrad_per_pixel, up_mrad=rows_up * mrad_per_pixel),
    ).astype(int)
    expected = np.roll(still, (-rows_up, columns), axis=(0, 1))
    inner = (slice(16, -16), slice(16, -16))
    # a shift turns the transfer's phase; reading it between samples costs two grey levels
    from_expected = np.abs(moved - expected)[inner].max()
    assert from_expected <= 2
    assert np.abs(moved - still)[inner].max() > 3 * from_expected


@pytest.mark.parametrize("size_logmar", [1.0, 0.3, 0.0])
@pytest.mark.parametrize("defocus_d", [0.0, 2.0, 5.0, 10.0])
def test_blur_does_not_wrap_from_one_edge_to_the_other(size_logmar, defocus_d):
    rows = (Row(size_logmar=size_logmar, letters="DHNKC"),)
    canvas = canvas_for(rows, 160, 120)
    transfer = transfer_function(wave(defocus_d))
    wide = Canvas(width=960, height=720, arcmin_per_pixel=canvas.arcmin_per_pixel)
    expected = blurred_picture(rows, wide, transfer)[300:420, 400:560]
    ours = blurred_picture(rows, canvas, transfer)
    assert np.abs(ours.astype(int) - expected.astype(int)).max() <= 1  # a rounding of grey


@pytest.mark.parametrize("size_logmar", [1.0, 0.6, 0.3])
@pytest.mark.parametrize("defocus_d", [10.0, 20.0, -20.0])
def test_the_greatest_blur_does_not_wrap_either(size_logmar, defocus_d):
    # 6 mm and 20 D: a disc of 6.9 degrees, many pictures wide
    rows = (Row(size_logmar=size_logmar, letters="DHNKC"),)
    canvas = canvas_for(rows, 160, 120)
    transfer = transfer_function(wave(defocus_d, pupil_mm=6.0))
    wide = Canvas(width=320, height=240, arcmin_per_pixel=canvas.arcmin_per_pixel)
    expected = blurred_picture(rows, wide, transfer)[60:180, 80:240]
    ours = blurred_picture(rows, canvas, transfer)
    assert np.abs(ours.astype(int) - expected.astype(int)).max() <= 1


@pytest.mark.parametrize("defocus_d", [5.0, 10.0, 20.0])
def test_a_letter_behind_the_greatest_blur_is_a_disc_of_its_light(defocus_d):
    # independent: where blur is far larger than a letter, its ink is spread over the disc, and
    # the light there is dimmed as the Stiles-Crawford effect weighs the pupil's middle. A plain
    # eye: no aberrations, and its colours apart by less than 2 D
    rows = (Row(size_logmar=0.3, letters="O"),)
    pupil_mm, rho = 6.0, 0.05 * math.log(10.0)
    canvas = Canvas(width=21, height=21, arcmin_per_pixel=1.0)
    seen = blurred(Pattern(rows=rows), canvas, transfer_function(wave(defocus_d, pupil_mm=6.0)))
    ink_arcmin2 = math.pi * 10.0**2 / 4.0 * (1.0 - 0.6**2)  # a ring 10 high, strokes of 2
    whole = math.pi / rho * (1.0 - math.exp(-rho * pupil_mm**2 / 4.0))
    per_arcmin2 = 1.0 / whole / (defocus_d * 60.0 * math.degrees(1e-3)) ** 2
    expected = (1.0 - INK_LUMINANCE) * ink_arcmin2 * per_arcmin2
    assert 1.0 - seen[10, 10] == pytest.approx(expected, rel=0.15)  # chromatic spread at 5 D


@dataclass(frozen=True, slots=True, kw_only=True)
class HalfCovered(Wavefront):
    """A pupil of which a card covers all but one half; the open one as the patient has it."""

    right: int = 0
    up: int = 0

    def inside(self, x_mm, y_mm, softness_mm):
        open_part = Wavefront.inside(self, x_mm, y_mm, softness_mm)
        return open_part * (self.right * x_mm + self.up * y_mm > 0.0)


@pytest.mark.parametrize(("right", "up"), [(1, 0), (-1, 0), (0, 1), (0, -1)])
@pytest.mark.parametrize(("need_d", "with_it"), [(-2.0, 1), (2.0, -1)])
def test_blur_lies_on_the_side_of_the_open_half_in_myopia(right, up, need_d, with_it):
    # common knowledge: a card that covers the upper half of a myopic pupil takes away the upper
    # half of the blur, in hyperopia the lower one. From the eye to the picture
    need = required_vergence(SpheroCylinder(sphere_d=need_d), 12.0, 6.0)
    eyes = ordinary_pair(need, need, age_y=80.0, pupil_mm=4.0)
    eye = look(eyes, TrialFrame(), Wall()).right
    half = HalfCovered(path=eye.wavefront.path, pupil_mm=4.0, right=right, up=up)
    canvas = Canvas(width=200, height=200, arcmin_per_pixel=0.4)
    rows = (Row(size_logmar=0.0, letters="O"),)
    ink = 1.0 - linear(blurred_picture(rows, canvas, transfer_function(half)))
    at = (np.arange(200) - 99.5) * 0.4
    x = float((ink.sum(axis=0) * at).sum() / ink.sum())
    y = float(-(ink.sum(axis=1) * at).sum() / ink.sum())
    # half a disc of 2 mm: its light lies 4 r / (3 pi) from the middle, less by Stiles-Crawford
    apart = 4.0 * 2.0 / (3.0 * math.pi) * 2.0 * 60.0 * math.degrees(1e-3)
    assert (x * right + y * up) * with_it == pytest.approx(apart, rel=0.25)
    assert abs(x * up + y * right) < 0.1 * apart


CHART = tuple(Row(size_logmar=size, letters="DHNKC") for size in CHART_LINES_LOGMAR)


@pytest.mark.parametrize("defocus_d", [0.0, 0.5, 2.0, 6.0])
@pytest.mark.parametrize("part", [1, 6, 11])
def test_a_closer_look_is_the_same_picture_finer(part, defocus_d):
    # cut out of the whole height of the wall, drawn as finely
    transfer = transfer_function(wave(defocus_d))
    part_of_it = canvas_on(CHART, part, 120, 90)
    scale = part_of_it.arcmin_per_pixel
    down = round(-part_of_it.middle_arcmin[1] / scale)
    closer = Canvas(width=120, height=90, arcmin_per_pixel=scale, middle_arcmin=(0, -down * scale))
    wall = Canvas(width=160, height=2 * abs(down) + 400, arcmin_per_pixel=scale)
    top = wall.height // 2 + down - 45
    expected = blurred_picture(CHART, wall, transfer)[top : top + 90, 20:140]
    ours = blurred_picture(CHART, closer, transfer)
    assert np.abs(ours.astype(int) - expected.astype(int)).max() <= 2
    assert np.ptp(expected) > 2  # there is something to see


def test_looking_a_pixel_further_moves_the_picture_by_a_pixel():
    transfer = transfer_function(wave(1.0))
    at = canvas_on(CHART, 4, 160, 120)
    x, y = at.middle_arcmin
    one = at.arcmin_per_pixel
    still = blurred_picture(CHART, at, transfer).astype(int)
    beside = Canvas(width=160, height=120, arcmin_per_pixel=one, middle_arcmin=(x + one, y - one))
    moved = blurred_picture(CHART, beside, transfer).astype(int)
    assert np.abs(moved[:-1, :-1] - still[1:, 1:]).max() <= 1


def test_every_line_of_the_chart_can_be_looked_at_and_fills_the_picture():
    parts = parts_of(CHART)
    assert len(parts) == len(CHART) <= MOST_PARTS
    for number, row in enumerate(CHART, start=1):
        canvas = canvas_on(CHART, number)
        # a row is nine letters wide with its gaps
        wide = 9.0 * row.height_arcmin / canvas.arcmin_per_pixel / canvas.width
        assert 0.8 < wide <= 0.9
        assert (canvas.width, canvas.height) == (640, 480)
    assert canvas_on(CHART, 0) == canvas_on(CHART, 15) == canvas_for(CHART)


def test_one_line_has_letters_to_look_at_and_one_letter_has_nothing():
    assert [one.letter for (one,) in parts_of(CHART[:1])] == list("DHNKC")
    assert parts_of((Row(size_logmar=0.3, letters="D"),)) == parts_of(()) == ()
    closer, line = canvas_on(CHART[:1], 2), canvas_for(CHART[:1])
    assert closer.arcmin_per_pixel < line.arcmin_per_pixel / 2.0
    dark = sharp_picture(CHART[:1], closer)[200:280] < 128
    assert dark[:, :260].any()  # H, the second letter, stands in the middle
    assert dark[:, 380:].any()


@pytest.mark.parametrize(
    "size", [{"width": 0}, {"width": 3000, "height": 1000}, {"arcmin_per_pixel": 0.0}]
)
def test_a_canvas_is_bounded(size):
    with pytest.raises(TargetError, match=r"must"):
        Canvas(**size)


def test_the_picture_is_the_chart_convolved_with_the_point_image():
    # independent: the chart's spectrum times the transfer read point by point, in double
    transfer = transfer_function(wave(0.8))
    sharp = (1.0 - linear(sharp_picture(ROWS, CANVAS))) / (1.0 - INK_LUMINANCE)
    ink = np.pad(sharp, ((120, 120), (160, 160)))
    degrees = CANVAS.arcmin_per_pixel / 60.0
    fx, fy = np.meshgrid(
        np.fft.fftfreq(ink.shape[1], degrees), -np.fft.fftfreq(ink.shape[0], degrees)
    )
    seen = np.fft.ifft2(np.fft.fft2(ink) * transfer.at(fx, fy)).real[120:-120, 160:-160]
    ours = blurred_picture(ROWS, CANVAS, transfer).astype(int)
    apart = np.abs(ours - displayed(1.0 - (1.0 - INK_LUMINANCE) * seen).astype(int))
    assert apart.max() <= 3  # the sharp picture was rounded to 8 bits before


@pytest.mark.parametrize("defocus_d", [0.0, 1.0, 3.0])
def test_blur_keeps_the_light(defocus_d):
    # a transfer of 1 at zero frequency: the mean of a wide field of light does not change
    rows, canvas = ROWS, Canvas(width=640, height=480, arcmin_per_pixel=CANVAS.arcmin_per_pixel)
    mean = linear(as_seen(rows, canvas, wave(defocus_d))).mean()
    assert mean == pytest.approx(linear(sharp_picture(rows, canvas)).mean(), abs=1e-3)


def test_the_chart_stands_the_right_way_up_and_round():
    # K's stem is on its left, and the smaller row stands below
    rows = (Row(size_logmar=1.0, letters="K"), Row(size_logmar=0.6, letters="K"))
    dark = sharp_picture(rows, canvas_for(rows, 300, 300)) < 128
    columns = np.flatnonzero(dark.any(axis=0))
    left, right = columns[0], columns[-1]
    assert dark[:, left : left + 12].sum() > 1.3 * dark[:, right - 11 : right + 1].sum()
    assert dark[:150].sum() > dark[150:].sum()


def test_the_dark_is_black_and_a_canvas_keeps_its_size():
    dark = blurred_picture(ROWS, CANVAS, None)
    assert dark.shape == (CANVAS.height, CANVAS.width)
    assert dark.dtype == np.uint8
    assert not dark.any()


# IEC 61966-2-1: linear 0, 0.0031308, 0.2140, 0.5, 1 as 8-bit sRGB (from memory, worked out)
@pytest.mark.parametrize(
    ("light", "grey"),
    [(0.0, 0), (0.0031308, 10), (0.2140, 127), (0.5, 188), (1.0, 255), (1.2, 255)],
)
def test_light_is_shown_by_the_display_standard(light, grey):
    assert abs(int(displayed(np.array([light], np.float32))[0]) - grey) <= 1


@pytest.mark.parametrize("size_logmar", [1.0, 0.0])
def test_letters_are_drawn_at_their_size(size_logmar):
    # 5 minutes times MAR high (ISO 8596)
    rows = (Row(size_logmar=size_logmar, letters="H"),)
    canvas = canvas_for(rows, 400, 300)
    dark = sharp_picture(rows, canvas) < 128
    height = np.flatnonzero(dark.any(axis=1))
    expected = 5.0 * 10.0**size_logmar / canvas.arcmin_per_pixel
    assert len(height) == pytest.approx(expected, abs=1.0)
