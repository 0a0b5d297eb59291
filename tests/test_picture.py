"""The picture is the chart laid under the transfer function, the right way up, without wrap."""

import math

import numpy as np
import pytest

from optics.eye.transfer import transfer_function
from optics.eye.wavefront import Wavefront, defocus_path
from optics.sight.canvas import Canvas, canvas_for
from optics.sight.picture import blurred_picture, displayed, sharp_picture
from optics.sight.raster import INK_LUMINANCE
from optics.sight.targets import Row

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
