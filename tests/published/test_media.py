"""Straylight and opacities against the published glare function and integrals of our own."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import j0, jn_zeros, k0

from optics.errors import EyeError
from optics.eye.chromatic import single_wavelength
from optics.eye.eye import EyePair, ordinary_eye, required_vergence
from optics.eye.media import (
    PIGMENT,
    Media,
    Opacity,
    _bessel_k0,
    _share,
    _skirt_transfer,
    glare_per_sr,
)
from optics.eye.overlap import overlap_values
from optics.eye.transfer import CYCLES_KEPT, transfer_function
from optics.eye.wavefront import Wavefront, defocus_path
from optics.eye.zernike import evaluate, zernike_path
from optics.light.frame import Place, TrialFrame
from optics.light.lens import EyeSide, LensKind, PlacedLens, TrialLens
from optics.light.power import SpheroCylinder
from optics.sight.clarity import discriminability
from optics.sight.reader import read_letters
from optics.sight.targets import Wall
from optics.sight.view import look
from optics.units import DEG_PER_RAD
from tests import forms

PER_DEG2 = math.radians(1.0) ** 2
AGES_Y = (25.0, 70.0)


def normal(age_y: float) -> float:
    return 1.0 + PIGMENT * (0.0417 + 0.055 * (age_y / 70.0) ** 4)


def falling(angle_deg: float, age_y: float) -> float:
    """Return the part of the skirt (1 / sr) that falls off: CIE 135/1-1999, written out again."""
    steep = 1.0 + (angle_deg / 0.1) ** 2
    parts = 400.0 / steep + PIGMENT * (1300.0 / steep**1.5 + 0.8 / steep**0.5)
    return (1.0 + 1.6 * (age_y / 70.0) ** 4) * parts / normal(age_y)


def on_sphere(density, least_deg: float) -> float:
    """Return the integral of a density (1 / sr) over the half sphere beyond an angle."""

    def of_log(log_deg: float) -> float:
        angle_deg = math.exp(log_deg)
        ring = 2.0 * math.pi * math.sin(math.radians(angle_deg)) * math.radians(angle_deg)
        return density(angle_deg) * ring

    return quad(of_log, math.log(least_deg), math.log(90.0), limit=300)[0]


# ---- the glare function: its published values are rows of the validation table


# CIE 135/1-1999, full form, worked out for a pigment factor of 0.5: light beyond 1 degree 7.5 %
# and 13 %; the integral over the half sphere before it is divided by its normal, 1.03 and 1.07
@pytest.mark.parametrize(("age_y", "beyond", "whole"), [(25.0, 0.075, 1.03), (70.0, 0.13, 1.07)])
def test_all_light_goes_somewhere_and_more_of_it_astray_with_age(age_y, beyond, whole):
    def density(angle_deg: float) -> float:
        return float(glare_per_sr(angle_deg, age_y))

    total = on_sphere(density, 1e-6)
    assert total * normal(age_y) == pytest.approx(whole, abs=0.005)
    assert on_sphere(density, 1.0) / total == pytest.approx(beyond, abs=0.005)


@pytest.mark.parametrize("age_y", AGES_Y)
def test_the_share_scattered_is_the_glare_function_without_its_core(age_y):
    def skirt(angle_deg: float) -> float:
        grown = (1.0 + 1.6 * (age_y / 70.0) ** 4) * 3e-8 * angle_deg**2
        return falling(angle_deg, age_y) + (grown + 2.5e-3 * PIGMENT) / normal(age_y)

    assert Media(age_y=age_y).scattered == pytest.approx(on_sphere(skirt, 1e-6), abs=1e-5)


# ---- the transform of the skirt

ZEROS = np.concatenate([[0.0], jn_zeros(0, 300)]) / (2.0 * math.pi)


def hankel(cpd: float, age_y: float) -> float:
    """Return 2 pi int S(t) J0(2 pi f t) t dt between zeros of J0, the tail averaged (Euler)."""
    parts = [
        quad(lambda t: falling(t, age_y) * j0(2.0 * math.pi * cpd * t) * t, start, end)[0]
        for start, end in zip(ZEROS[:-1] / cpd, ZEROS[1:] / cpd, strict=True)
    ]
    sums = np.cumsum(parts)
    for _ in range(12):
        sums = (sums[1:] + sums[:-1]) / 2.0
    return float(2.0 * math.pi * PER_DEG2 * sums[-1])


@pytest.mark.parametrize("age_y", AGES_Y)
@pytest.mark.parametrize("cpd", [0.1, 0.5, 2.0, 8.0])
def test_the_skirt_is_transformed_in_two_dimensions(cpd, age_y):
    expected = hankel(cpd, age_y)
    assert _skirt_transfer(np.array([cpd]), age_y)[0] == pytest.approx(expected, rel=1e-4)


def test_a_transform_in_one_dimension_would_be_far_off():
    # a cut through the skirt transformed as a line, both scaled to 1 at 0.1 c/deg
    def of_line(cpd: float) -> float:
        return quad(lambda t: falling(t, 70.0), 0.0, 90.0, weight="cos", wvar=2 * math.pi * cpd)[0]

    line, disc = (
        np.array([transform(cpd) for cpd in (0.5, 2.0, 4.0)]) / transform(0.1)
        for transform in (of_line, lambda cpd: hankel(cpd, 70.0))
    )
    assert np.all(line > 1.25 * disc)
    assert line[-1] > 1.5 * disc[-1]


def test_the_bessel_function_is_that_of_the_library():
    z = np.geomspace(6e-4, 50.0, 60)  # 0.001 c/deg, the lowest frequency in the table, and up
    assert _bessel_k0(z) == pytest.approx(k0(z), rel=1e-6)


# ---- what straylight leaves of contrast

F_CPD = np.concatenate([[0.0], np.geomspace(0.01, 60.0, 200)])


@pytest.mark.parametrize("age_y", [10.0, 18.0, 25.0])
def test_a_young_eye_loses_nothing(age_y):
    # the neural transfer was fitted to young adults, their own straylight in it
    assert Media(age_y=age_y).clear
    assert Media(age_y=age_y).transfer(F_CPD) == pytest.approx(np.ones(len(F_CPD)), abs=1e-12)


@pytest.mark.parametrize("times", [0.5, 1.0, 4.0, 30.0])
@pytest.mark.parametrize("age_y", [20.0, 50.0, 90.0])
def test_straylight_takes_from_contrast_and_never_adds(age_y, times):
    left = Media(age_y=age_y, straylight_times=times).transfer(F_CPD)
    assert left[0] == 1.0
    assert np.all(np.diff(left) <= 1e-12)
    assert 0.04 < left[-1] <= 1.0


def test_contrast_falls_with_age_and_with_straylight():
    by_age = np.array([Media(age_y=age_y).transfer(F_CPD[1:]) for age_y in (25, 40, 55, 70, 85)])
    by_times = np.array(
        [Media(age_y=70.0, straylight_times=times).transfer(F_CPD[1:]) for times in (1, 2, 4, 8)]
    )
    assert np.all(np.diff(by_age, axis=0) < 0.0)
    assert np.all(np.diff(by_times, axis=0) <= 0.0)
    assert np.all(np.diff(by_times[:, -1]) < -0.05)


@pytest.mark.parametrize("age_y", [40.0, 70.0, 85.0])
def test_high_frequencies_lose_what_is_scattered_beyond_the_youngs_share(age_y):
    # where the skirt carries nothing, the share not scattered is what is left
    expected = (1.0 - _share(age_y)) / (1.0 - _share(25.0))
    assert Media(age_y=age_y).transfer(np.array([30.0]))[0] == pytest.approx(expected, abs=1e-4)


def seen_through(media: Media, pupil_mm: float = 4.0):
    path = zernike_path({(4, 0): 0.09}, 3.0)
    return transfer_function(Wavefront(path=path, pupil_mm=pupil_mm, media=media))


def test_the_transfer_function_is_the_pupils_times_that_of_the_media():
    media = Media(age_y=80.0, straylight_times=2.0)
    x, y = np.array([0.9, 3.6, -9.0, 0.0]), np.array([0.0, 5.4, 2.7, 18.0])
    expected = seen_through(Media()).at(x, y) * media.transfer(np.hypot(x, y))
    assert seen_through(media).at(x, y) == pytest.approx(expected, abs=2e-4)
    assert seen_through(media).at(np.zeros(1), np.zeros(1))[0] == pytest.approx(1.0, abs=1e-6)
    assert seen_through(media).open_mm2 == seen_through(Media()).open_mm2


def test_more_straylight_lowers_acuity_and_contrast():
    transfers = [
        seen_through(Media(age_y=70.0, straylight_times=times)) for times in (1.0, 2.0, 3.0, 4.0)
    ]
    acuities = [read_letters(transfer).acuity_logmar for transfer in transfers]
    assert np.all(np.diff(acuities) > 0.005)
    seen_d = [discriminability(transfer, (0.3,))[0] for transfer in transfers]
    assert np.all(np.diff(seen_d) < 0.0)


# ---- opacities

OFF_CENTRE = Opacity(x_mm=0.7, y_mm=-0.4, radius_mm=0.9, transmittance=0.2)
CENTRAL = Opacity(x_mm=0.0, y_mm=0.0, radius_mm=0.9, transmittance=0.0)
GREEN = single_wavelength(570.0)  # without chromatic defocus


def clouded(*opacities: Opacity, defocus_d: float = 0.6, pupil_mm: float = 4.0) -> Wavefront:
    path = defocus_path((defocus_d, 0.2, -0.1)) + zernike_path({(3, -1): 0.12, (4, 0): 0.1}, 3.0)
    return Wavefront(path=path, pupil_mm=pupil_mm, media=Media(opacities=opacities))


def lit(x_mm, y_mm, opacity: Opacity) -> np.ndarray:
    """Return the light at points of the chart frame, whose x runs against the examiner's."""
    away = np.hypot(-x_mm - opacity.x_mm, y_mm - opacity.y_mm) / opacity.radius_mm
    passed = 1.0 - (1.0 - opacity.transmittance) * np.exp(-(away**4))
    return passed * 10.0 ** (-0.05 * (x_mm**2 + y_mm**2))


def grid(radius_mm: float, steps: int) -> tuple[np.ndarray, np.ndarray, float]:
    axis = (np.arange(steps) + 0.5) / steps * 2.0 * radius_mm - radius_mm
    x, y = np.meshgrid(axis, axis)
    return x, y, (2.0 * radius_mm / steps) ** 2


@pytest.mark.parametrize("opacity", [OFF_CENTRE, CENTRAL], ids=["off centre", "central"])
def test_the_light_that_passes_is_the_integral_over_the_pupil(opacity):
    x, y, cell_mm2 = grid(2.0, 801)
    expected_mm2 = float(np.sum(lit(x, y, opacity)[np.hypot(x, y) <= 2.0])) * cell_mm2
    sampled = forms.sampled(clouded(opacity), GREEN)
    overlap = forms.overlap(clouded(opacity), GREEN, 1.0, 3)
    # the soft edge of a coarse grid takes a little
    assert sampled.open_mm2 == pytest.approx(expected_mm2, rel=0.01)
    assert overlap.open_mm2 == pytest.approx(expected_mm2, rel=0.02)
    assert expected_mm2 < 0.85 * forms.sampled(clouded(), GREEN).open_mm2


def overlapped(wave: Wavefront, opacity: Opacity, x_cpd: float, y_cpd: float) -> complex:
    """Return the overlap of the pupil with itself, point by point on a fine grid."""
    x, y, _ = grid(2.0, 401)
    shift_x, shift_y = (f * 570e-6 * DEG_PER_RAD for f in (x_cpd, y_cpd))

    def half(sign: float) -> tuple[np.ndarray, np.ndarray]:
        px, py = x + sign * shift_x / 2.0, y + sign * shift_y / 2.0
        amplitude = np.sqrt(lit(px, py, opacity)) * (np.hypot(px, py) <= 2.0)
        return amplitude, evaluate(wave.path, px, py)

    (ahead, far), (behind, near) = half(+1.0), half(-1.0)
    field = ahead * behind * np.exp(-2j * math.pi * (far - near) / 0.570)
    inside = lit(x, y, opacity) * (np.hypot(x, y) <= 2.0)
    return complex(field.sum() / inside.sum())


@pytest.mark.parametrize("opacity", [OFF_CENTRE, CENTRAL], ids=["off centre", "central"])
def test_both_forms_of_the_transfer_function_see_an_opacity_alike(opacity):
    wave = clouded(opacity)
    x, y = np.array([2.0, 0.0, 4.0, -3.0, 9.0]), np.array([0.0, 3.0, 4.0, 6.0, -2.0])
    expected = np.array([overlapped(wave, opacity, *at) for at in zip(x, y, strict=True)])
    by_samples = forms.sampled(wave, GREEN).at(x, y)
    values, _ = overlap_values(
        wave, wave.path, 570.0, np.append(x, 0.0), np.append(y, 0.0), 8.0 * CYCLES_KEPT
    )
    assert np.abs(by_samples - expected).max() < 0.003
    assert np.abs(values[:-1] - expected).max() < 0.007
    clear = forms.sampled(clouded(), GREEN).at(x, y)
    assert np.abs(clear - expected).max() > 0.03  # so the opacity matters


@pytest.mark.parametrize("defocus_d", [3.0, -4.0])
def test_the_pupils_shadow_holds_an_opacity(defocus_d):
    wave = clouded(OFF_CENTRE, defocus_d=defocus_d)
    x, y = np.array([1.0, 0.0, 2.0, -1.5, 3.0]), np.array([0.0, 1.5, 1.0, 2.0, -2.0])
    expected = np.array([overlapped(wave, OFF_CENTRE, *at) for at in zip(x, y, strict=True)])
    assert np.abs(forms.shadow(wave, GREEN).at(x, y) - expected).max() < 0.003
    clear = forms.shadow(clouded(defocus_d=defocus_d), GREEN).at(x, y)
    assert np.abs(clear - expected).max() > 0.03


def centroid_mrad(wave: Wavefront) -> tuple[float, float]:
    """Return where a point's light is seen, patient's right and up, from the phase at 0.45."""
    transfer = forms.sampled(wave, GREEN)
    values = transfer.at(np.array([0.45, 0.0]), np.array([0.0, 0.45]))
    right, up = np.radians(-np.angle(values) / (2.0 * math.pi * 0.45)) * 1000.0
    return float(right), float(up)


@pytest.mark.parametrize(("x_mm", "y_mm"), [(1.0, 0.0), (-0.6, 0.8), (0.0, -1.1)])
def test_an_opacity_shades_the_part_of_the_pupil_that_the_examiner_sees_it_in(x_mm, y_mm):
    # in a myopic eye light through the patient's left part is seen to the left: with E = 1 D it
    # lies at the mean place in mm, which is mrad, of the light that passes
    opacity = Opacity(x_mm=x_mm, y_mm=y_mm, radius_mm=0.8, transmittance=0.0)
    wave = Wavefront(
        path=defocus_path((1.0, 0.0, 0.0)), pupil_mm=4.0, media=Media(opacities=(opacity,))
    )
    x, y, _ = grid(2.0, 801)
    light = lit(x, y, opacity) * (np.hypot(x, y) <= 2.0)
    expected = (float(np.sum(light * x)), float(np.sum(light * y))) / light.sum()
    assert centroid_mrad(wave) == pytest.approx(tuple(expected), abs=0.02)
    right, up = centroid_mrad(wave)
    assert right * x_mm > 0.0 or x_mm == 0.0  # away from the shade: x runs the other way
    assert up * y_mm < 0.0 or y_mm == 0.0


def pair(need: SpheroCylinder, *opacities: Opacity, age_y: float = 65.0) -> EyePair:
    vergence = required_vergence(need, 12.0, 6.0)
    m, axis_0, axis_45 = vergence
    right, left = (
        replace(
            ordinary_eye(side, (m, axis_0, sign * axis_45), age_y=age_y),
            media=Media(
                age_y=age_y,
                opacities=tuple(replace(one, x_mm=sign * one.x_mm) for one in opacities),
            ),
        )
        for side, sign in ((EyeSide.RIGHT, 1.0), (EyeSide.LEFT, -1.0))
    )
    return EyePair(right=right, left=left, age_y=age_y, amplitude_d=0.0)


OCCLUDER = PlacedLens(lens=TrialLens(kind=LensKind.OCCLUDER))


def pinhole(aperture_mm: float) -> PlacedLens:
    return PlacedLens(lens=TrialLens(kind=LensKind.PINHOLE, aperture_mm=aperture_mm))


def test_mirrored_opacities_make_mirrored_eyes():
    eyes = pair(SpheroCylinder(sphere_d=-0.5, cylinder_d=-1.0, axis_deg=30.0), OFF_CENTRE)
    view = look(eyes, TrialFrame(), Wall())
    x, y = np.meshgrid(np.linspace(-12.0, 12.0, 9), np.linspace(-12.0, 12.0, 9))
    right, left = view.right.transfer.at(x, y), view.left.transfer.at(-x, y)
    assert np.abs(right - left).max() < 1e-3
    other = replace(eyes, left=replace(eyes.left, media=eyes.right.media))
    unlike = look(other, TrialFrame(), Wall()).left.transfer.at(-x, y)
    assert np.abs(right - unlike).max() > 0.01


def read(eyes: EyePair, *placed: PlacedLens) -> float:
    frame = TrialFrame().with_lens(EyeSide.LEFT, Place.CELL_4, OCCLUDER)
    for place, one in zip(Place, placed, strict=False):
        frame = frame.with_lens(EyeSide.RIGHT, place, one)
    return look(eyes, frame, Wall()).right.reading.acuity_logmar


def test_a_pinhole_over_a_central_opacity_reads_worse_than_without():
    # through the hole the eye looks through the cloud alone; an ordinary eye loses far less
    cloud = Opacity(x_mm=0.0, y_mm=0.0, radius_mm=1.0, transmittance=0.1)
    plano = SpheroCylinder(sphere_d=0.0)
    lost = read(pair(plano, cloud), pinhole(1.2)) - read(pair(plano, cloud))
    ordinary = read(pair(plano), pinhole(1.2)) - read(pair(plano))
    assert lost > 0.1  # a line
    assert lost > ordinary + 0.03


def test_a_cloud_beside_a_pinhole_does_nothing():
    beside = Opacity(x_mm=2.0, y_mm=0.0, radius_mm=0.6, transmittance=0.0)
    plano = SpheroCylinder(sphere_d=0.0)
    assert read(pair(plano, beside), pinhole(1.2)) == pytest.approx(
        read(pair(plano), pinhole(1.2)), abs=1e-3
    )


@pytest.mark.parametrize("odd", [math.nan, math.inf, -math.inf])
@pytest.mark.parametrize("name", ["x_mm", "y_mm", "radius_mm", "transmittance"])
def test_an_opacity_of_no_size_or_place_is_refused(name, odd):
    with pytest.raises(EyeError, match=name):
        replace(OFF_CENTRE, **{name: odd})


@pytest.mark.parametrize(
    ("name", "value"), [("x_mm", 6.1), ("radius_mm", 0.05), ("radius_mm", 5.1)]
)
def test_an_opacity_beyond_the_eye_is_refused(name, value):
    with pytest.raises(EyeError, match=name):
        replace(OFF_CENTRE, **{name: value})


@pytest.mark.parametrize("transmittance", [-0.01, 1.01])
def test_an_opacity_adds_no_light_and_takes_no_more_than_there_is(transmittance):
    with pytest.raises(EyeError, match="transmittance must be 0 to 1"):
        replace(OFF_CENTRE, transmittance=transmittance)
