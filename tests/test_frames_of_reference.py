"""Which way round: the examiner faces the patient, the patient faces the chart.

Facing frame: x to the examiner's right. Chart frame: x to the patient's right. The two are
mirror images, and everything with a direction crosses from one to the other once.
"""

import math

import numpy as np
import pytest

from optics.eye.chromatic import single_wavelength
from optics.eye.eye import Eye, ordinary_eye, required_vergence
from optics.eye.transfer import transfer_function
from optics.eye.wavefront import Wavefront, defocus_path, facing_x, wavefront_of
from optics.light.beam import beam_at_cornea
from optics.light.frame import Place, TrialFrame
from optics.light.lens import EyeSide, LensKind, PlacedLens, TrialLens
from optics.light.power import SpheroCylinder
from tests import forms

GREEN = single_wavelength(570.0)  # the wavelength without chromatic defocus
FORMS = {
    "sampled": lambda wave: forms.sampled(wave, GREEN, 4.0),
    "overlap": lambda wave: forms.overlap(wave, GREEN, 0.3, 8),
}


def sphere(power_d: float) -> PlacedLens:
    return PlacedLens(lens=TrialLens(kind=LensKind.SPHERE, power_d=power_d))


def centroid_mrad(wave: Wavefront, form: str = "sampled") -> tuple[float, float]:
    """Return where a point's light is seen, to the patient's right and up, in mrad.

    A point image moved by x turns the transfer at f by -2 pi f x.
    """
    transfer = FORMS[form](wave)
    assert transfer is not None
    step = min(transfer.step_cpd, 0.45)
    values = transfer.at(np.array([step, 0.0]), np.array([0.0, step]))
    degrees = -np.angle(values) / (2.0 * math.pi * step)
    right, up = (float(part) for part in np.radians(degrees) * 1000.0)
    return right, up


def wave_of_terms(terms, side: EyeSide = EyeSide.RIGHT, pupil_mm: float = 6.0) -> Wavefront:
    """Return the wavefront of an eye with those aberrations and nothing to correct."""
    vergence = beam_at_cornea(TrialFrame(), side, 6.0)
    eye = Eye(side=side, required_vergence=vergence.vergence, zernike_um=tuple(terms.items()))
    wave = wavefront_of(eye, vergence, pupil_mm=pupil_mm, accommodation_d=0.0)
    return Wavefront(path=wave.path, pupil_mm=pupil_mm, stiles_crawford_per_mm2=0.0)


# c Z(1, +-1) = 2 c x / r tilts by 2 c / r: the slope in um/mm is the angle in mrad (ANSI Z80.28)
@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("side", EyeSide)
def test_left_and_right_change_places(form, side):
    right, up = centroid_mrad(wave_of_terms({(1, 1): 0.6}, side), form)
    assert right == pytest.approx(-2.0 * 0.6 / 3.0, rel=0.01)  # examiner's right, patient's left
    assert up == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("side", EyeSide)
def test_up_stays_up(form, side):
    right, up = centroid_mrad(wave_of_terms({(1, -1): 0.6}, side), form)
    assert up == pytest.approx(+2.0 * 0.6 / 3.0, rel=0.01)
    assert right == pytest.approx(0.0, abs=1e-3)


# the mean slope of c Z(3, +-1) = sqrt8 c (3 r^3 - 2 r) cos t over its disc is sqrt8 c / r: the
# mean over the unit disc of 9 x^2 + 3 y^2 - 2 is 1 (arithmetic)
@pytest.mark.parametrize("form", FORMS)
def test_an_oblique_coma_points_up_and_to_the_other_side(form):
    right, up = centroid_mrad(wave_of_terms({(3, 1): 0.10, (3, -1): 0.07}), form)
    assert right == pytest.approx(-math.sqrt(8.0) * 0.10 / 3.0, rel=0.03)
    assert up == pytest.approx(+math.sqrt(8.0) * 0.07 / 3.0, rel=0.03)


class HalfPupil(Wavefront):
    """A pupil of which one half is covered; ``open_towards`` in the facing frame."""

    open_towards = (1.0, 0.0)

    def inside(self, x_mm, y_mm, softness_mm):
        across = facing_x(x_mm) * self.open_towards[0] + y_mm * self.open_towards[1]
        return Wavefront.inside(self, x_mm, y_mm, softness_mm) * (across > 0.0)

    def inside_both(self, x_mm, y_mm, sx_mm, sy_mm, soft):
        first = self.inside(x_mm + sx_mm / 2, y_mm + sy_mm / 2, soft)
        return first * self.inside(x_mm - sx_mm / 2, y_mm - sy_mm / 2, soft)


class RightOfExaminerCovered(HalfPupil):
    open_towards = (-1.0, 0.0)


class UpperHalfOpen(HalfPupil):
    open_towards = (0.0, 1.0)


def half_open(kind: type[HalfPupil], defocus_d: float) -> HalfPupil:
    """Return a half pupil 4 mm wide; positive defocus is myopia."""
    path = defocus_path((defocus_d, 0.0, 0.0))
    return kind(path=path, pupil_mm=4.0, stiles_crawford_per_mm2=0.0)


# the middle of a half disc lies 4 r / (3 pi) from its edge, and defocus D sends light that
# passes there D times as far aside, mm times D being mrad (geometry)
HALF_DISC_MM = 4.0 * 2.0 / (3.0 * math.pi)


@pytest.mark.parametrize("form", FORMS)
def test_in_myopia_light_of_the_patients_right_half_is_seen_on_the_right(form):
    right, up = centroid_mrad(half_open(RightOfExaminerCovered, +2.0), form)
    assert right == pytest.approx(2.0 * HALF_DISC_MM, rel=0.05)
    assert up == pytest.approx(0.0, abs=0.02)


@pytest.mark.parametrize("form", FORMS)
def test_in_hyperopia_light_of_the_patients_right_half_is_seen_on_the_left(form):
    right, _ = centroid_mrad(half_open(RightOfExaminerCovered, -2.0), form)
    assert right == pytest.approx(-2.0 * HALF_DISC_MM, rel=0.05)


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize(("defocus_d", "sign"), [(+2.0, +1.0), (-2.0, -1.0)])
def test_the_upper_half_is_seen_above_in_myopia_and_below_in_hyperopia(form, defocus_d, sign):
    right, up = centroid_mrad(half_open(UpperHalfOpen, defocus_d), form)
    assert up == pytest.approx(sign * 2.0 * HALF_DISC_MM, rel=0.05)
    assert right == pytest.approx(0.0, abs=0.02)


@pytest.mark.parametrize("direction_deg", [30, 45, 120, 160])
def test_a_slit_at_an_oblique_axis_is_seen_turned_the_other_way(direction_deg):
    # a myopic point through a slit is a streak along the slit: contrast is lost along the
    # streak and kept across it; 30 degrees to the examiner is 150 to the patient
    slit = PlacedLens(lens=TrialLens(kind=LensKind.SLIT), direction_deg=direction_deg)
    frame = TrialFrame().with_lens(EyeSide.RIGHT, Place.CELL_1, slit)
    eye = Eye(side=EyeSide.RIGHT, required_vergence=(-3.0, 0.0, 0.0), pupil_mm=5.0)
    beam = beam_at_cornea(frame, EyeSide.RIGHT, math.inf)
    transfer = transfer_function(wavefront_of(eye, beam, pupil_mm=5.0, accommodation_d=0.0))
    angles = np.arange(0.0, 180.0, 5.0)
    along = np.abs(transfer.at(3.0 * np.cos(np.radians(angles)), 3.0 * np.sin(np.radians(angles))))
    assert angles[np.argmax(along)] == pytest.approx((180.0 - direction_deg + 90.0) % 180.0)


STROKE_ARCMIN = 3.0
# frequencies of a stroke 3 minutes wide, up to its bar's first zero at 20 c/deg
FAN_CPD = np.linspace(3.0, 60.0 / STROKE_ARCMIN, 12)
HOURS = range(1, 7)


def blackness(transfer, hour: float) -> float:
    """Return how black the line through an hour and its opposite looks to the patient.

    Twelve is up and hours run clockwise as the patient sees them; a line's contrast is carried
    by frequencies across it, here weighted by the spectrum of its bar.
    """
    line_deg = 90.0 - 30.0 * hour
    across = math.radians(line_deg + 90.0)
    bar = np.sinc(FAN_CPD * STROKE_ARCMIN / 60.0)
    passed = transfer.at(FAN_CPD * math.cos(across), FAN_CPD * math.sin(across)).real
    return float(np.sum(bar**2 * passed))


def fan_transfer(axis_deg: float, side: EyeSide, *, average: bool):
    """Return the transfer of an eye that needs plano/-1.50, fogged by 0.25 more."""
    need = SpheroCylinder(sphere_d=0.0, cylinder_d=-1.50, axis_deg=axis_deg)
    vergence = required_vergence(need, 12.0, 6.0)
    eye = ordinary_eye(side, vergence) if average else Eye(side=side, required_vergence=vergence)
    frame = TrialFrame().with_lens(side, Place.CELL_1, sphere(+0.25))
    beam = beam_at_cornea(frame, side, 6.0)
    return transfer_function(wavefront_of(eye, beam, pupil_mm=4.0, accommodation_d=0.0))


@pytest.mark.parametrize("average", [False, True], ids=["perfect", "average"])
@pytest.mark.parametrize("side", EyeSide)
@pytest.mark.parametrize("axis_deg", [30, 60, 90, 120, 150, 180])
def test_thirty_times_the_blackest_hour_is_the_minus_axis(axis_deg, side, average):
    # the rule of thirty (common practice): the lower hour of the blackest line, times 30
    transfer = fan_transfer(axis_deg, side, average=average)
    blackest = max(HOURS, key=lambda hour: blackness(transfer, hour))
    assert 30 * blackest == axis_deg


@pytest.mark.parametrize("axis_deg", [30, 60, 120, 150])
def test_oblique_lines_differ_between_examiner_and_patient(axis_deg):
    # read with the examiner's clock, an oblique axis comes out as its mirror image
    transfer = fan_transfer(axis_deg, EyeSide.RIGHT, average=False)
    as_examiner_sees = max(HOURS, key=lambda hour: blackness(transfer, 12 - hour))
    assert 30 * as_examiner_sees == 180 - axis_deg != axis_deg
