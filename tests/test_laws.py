"""Laws that hold for every lens, eye and set, on samples that are the same in every run."""

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optics.errors import OpticsError
from optics.eye.eye import Eye, EyePair, required_vergence
from optics.eye.population import average_aberrations, mirrored_terms
from optics.eye.transfer import Accuracy, transfer_function
from optics.eye.wavefront import wavefront_of
from optics.light.beam import beam_at_cornea
from optics.light.frame import DEFAULT_VERTEX_MM, Place, TrialFrame
from optics.light.lens import EyeSide, LensKind, PlacedLens, TrialLens
from optics.light.lens_case import full_set, next_power
from optics.light.notation import parse_prescription, prescription_text
from optics.light.power import (
    SpheroCylinder,
    at_vertex,
    blur_strength_d,
    from_matrix,
    from_vector,
    power_matrix,
    power_vector,
    stepped,
)
from optics.sight.targets import Row, Wall

few = settings(derandomize=True, deadline=None, database=None, max_examples=100)
a_few = settings(derandomize=True, deadline=None, database=None, max_examples=12)


def thousandths(least: float, most: float) -> st.SearchStrategy[float]:
    """Return numbers of an ordinary size: products of the smallest floats underflow."""
    return st.integers(round(1000 * least), round(1000 * most)).map(lambda step: step / 1000.0)


lenses = st.builds(
    SpheroCylinder,
    sphere_d=thousandths(-20.0, 20.0),
    cylinder_d=thousandths(-6.0, 6.0),
    axis_deg=thousandths(0.01, 180.0),
)
quarters = st.integers(-80, 80).map(lambda step: 0.25 * step)
engraved = st.builds(
    SpheroCylinder,
    sphere_d=quarters,
    cylinder_d=st.integers(-24, 24).map(lambda step: 0.25 * step),
    axis_deg=st.integers(1, 180).map(float),
)


@few
@given(lenses)
def test_a_lens_comes_back_from_its_vector_and_matrix(lens):
    assert from_vector(power_vector(lens)) == lens
    assert from_matrix(power_matrix(lens)) == lens
    assert from_vector(power_vector(lens)).cylinder_d <= 0.0
    assert 0.0 < from_vector(power_vector(lens)).axis_deg <= 180.0


@few
@given(engraved)
def test_a_printed_prescription_is_read_as_the_same_lens(lens):
    typed = prescription_text(lens).replace(" / ", "/")
    assert parse_prescription(typed) == lens
    assert prescription_text(parse_prescription(typed)) == prescription_text(lens)


@few
@given(lenses)
def test_transposing_changes_the_writing_and_not_the_lens(lens):
    other = lens.transposed()
    assert other == lens
    assert hash(other) == hash(lens)
    assert other.cylinder_d == -lens.cylinder_d
    assert other.transposed().sphere_d == pytest.approx(lens.sphere_d, abs=1e-9)
    assert other.transposed().axis_deg == pytest.approx(lens.axis_deg, abs=1e-9)
    assert lens.in_minus_cylinder().cylinder_d <= 0.0 <= lens.in_plus_cylinder().cylinder_d
    assert other.spherical_equivalent_d == pytest.approx(lens.spherical_equivalent_d)


@few
@given(lenses, thousandths(0.0, 16.0), thousandths(0.0, 16.0))
def test_a_lens_moved_there_and_back_is_the_same_lens(lens, from_mm, to_mm):
    assert at_vertex(at_vertex(lens, from_mm, to_mm), to_mm, from_mm) == lens


@few
@given(lenses, thousandths(0.0, 0.008), thousandths(0.0, 0.008))
def test_two_steps_of_light_are_one_longer_step(lens, first_m, second_m):
    there = stepped(stepped(power_matrix(lens), first_m), second_m)
    assert there == pytest.approx(stepped(power_matrix(lens), first_m + second_m), abs=1e-9)


@few
@given(lenses, lenses)
def test_lenses_add_in_either_order(one, other):
    together = power_matrix(one) + power_matrix(other)
    assert from_matrix(together) == from_matrix(power_matrix(other) + power_matrix(one))
    assert power_vector(from_matrix(together)) == pytest.approx(
        power_vector(one) + power_vector(other), abs=1e-9
    )
    longest = blur_strength_d(power_vector(one)) + blur_strength_d(power_vector(other))
    assert blur_strength_d(power_vector(from_matrix(together))) <= longest + 1e-9


# ---- the transfer function

small = thousandths(-0.2, 0.2)
terms = st.fixed_dictionaries({(3, -3): small, (3, -1): small, (3, 1): small, (4, 0): small})
needs = st.tuples(thousandths(-4.0, 4.0), thousandths(-1.5, 1.5), thousandths(-1.5, 1.5))
pupils_mm = thousandths(1.5, 7.0)


def transfer_of(need, zernike, side=EyeSide.RIGHT, pupil_mm=4.0, frame=None):
    eye = Eye(side=side, required_vergence=need, zernike_um=tuple(zernike))
    beam = beam_at_cornea(frame or TrialFrame(), side, math.inf)
    wave = wavefront_of(eye, beam, pupil_mm=pupil_mm, accommodation_d=0.0)
    return transfer_function(wave, Accuracy.QUICK)


X_CPD, Y_CPD = np.meshgrid(np.linspace(-25.0, 25.0, 21), np.linspace(-25.0, 25.0, 21))


@a_few
@given(needs, terms, pupils_mm)
def test_a_transfer_function_is_that_of_light(need, zernike, pupil_mm):
    transfer = transfer_of(need, zernike.items(), pupil_mm=pupil_mm)
    assert transfer.at(np.zeros(1), np.zeros(1))[0] == pytest.approx(1.0, abs=1e-6)
    values = transfer.at(X_CPD, Y_CPD)
    assert np.abs(values).max() <= 1.0 + 2e-3  # the tolerance of reading between samples
    # a real image: the transfer of the opposite frequency is the conjugate
    assert transfer.at(-X_CPD, -Y_CPD) == pytest.approx(values.conj(), abs=1e-5)
    assert 0.0 < transfer.open_mm2 <= 1.02 * math.pi * pupil_mm**2 / 4.0


@a_few
@given(needs, terms)
def test_a_mirrored_eye_has_the_mirrored_transfer(need, zernike):
    m, j0, j45 = need
    right = transfer_of(need, zernike.items())
    left = transfer_of((m, j0, -j45), mirrored_terms(tuple(zernike.items())), EyeSide.LEFT)
    assert left.at(-X_CPD, Y_CPD) == pytest.approx(right.at(X_CPD, Y_CPD), abs=2e-4)


@a_few
@given(st.integers(1, 180), thousandths(-3.0, -0.5))
def test_a_slit_mirrors_with_the_eye(direction_deg, need_d):
    # 1 to 180 in the examiner's frame, before a right eye and, mirrored, before a left one
    def through(side, turned_deg, zernike):
        slit = PlacedLens(lens=TrialLens(kind=LensKind.SLIT), direction_deg=turned_deg)
        frame = TrialFrame().with_lens(side, Place.CELL_1, slit)
        return transfer_of((need_d, 0.2, 0.0), zernike, side, 4.0, frame)

    right = through(EyeSide.RIGHT, direction_deg, average_aberrations(EyeSide.RIGHT))
    left = through(EyeSide.LEFT, 180 - direction_deg or 180, average_aberrations(EyeSide.LEFT))
    assert left.at(-X_CPD, Y_CPD) == pytest.approx(right.at(X_CPD, Y_CPD), abs=2e-4)


@a_few
@given(engraved, thousandths(0.0, 14.0))
def test_the_right_lens_at_its_place_makes_every_eye_sharp_alike(need, vertex_mm):
    sharp = transfer_of((0.0, 0.0, 0.0), ())
    vergence = required_vergence(need, vertex_mm, math.inf)
    at_cornea = np.subtract(vergence, power_vector(at_vertex(need, vertex_mm, 0.0)))
    corrected = transfer_of(tuple(float(part) for part in at_cornea), ())
    assert corrected.at(X_CPD, Y_CPD) == pytest.approx(sharp.at(X_CPD, Y_CPD), abs=1e-4)


# ---- what is refused

ODD = [math.nan, math.inf, -math.inf]
SPHERE = TrialLens(kind=LensKind.SPHERE, power_d=1.0)
EYE = Eye(side=EyeSide.RIGHT, required_vergence=(0.0, 0.0, 0.0))
PAIR = EyePair(right=EYE, left=EYE, age_y=30.0, amplitude_d=6.0)
MAKERS = {
    "sphere": lambda odd: SpheroCylinder(sphere_d=odd),
    "cylinder": lambda odd: SpheroCylinder(sphere_d=0.0, cylinder_d=odd),
    "axis": lambda odd: SpheroCylinder(sphere_d=0.0, cylinder_d=1.0, axis_deg=odd),
    "lens power": lambda odd: TrialLens(kind=LensKind.SPHERE, power_d=odd),
    "pinhole": lambda odd: TrialLens(kind=LensKind.PINHOLE, aperture_mm=odd),
    "direction": lambda odd: PlacedLens(lens=SPHERE, direction_deg=odd),
    "vertex": lambda odd: TrialFrame(vertex_mm=(12.0, odd, 19.0, 22.5, 28.0)),
    "last vertex": lambda odd: TrialFrame(vertex_mm=(*DEFAULT_VERTEX_MM[:4], odd)),
    "density": lambda odd: TrialLens(kind=LensKind.NEUTRAL, density=odd),
    "rim": lambda odd: TrialLens(kind=LensKind.PLANO, rim_mm=odd),
    "centre": lambda odd: TrialFrame(centre_right_mm=(0.0, odd)),
    "other centre": lambda odd: TrialFrame(centre_left_mm=(odd, 0.0)),
    "tilt": lambda odd: TrialFrame(tilt_deg=odd),
    "wrap": lambda odd: TrialFrame(wrap_deg=odd),
    "vergence": lambda odd: replace(EYE, required_vergence=(0.0, odd, 0.0)),
    "pupil": lambda odd: replace(EYE, pupil_mm=odd),
    "aberration": lambda odd: replace(EYE, zernike_um=(((4, 0), odd),)),
    "age": lambda odd: replace(PAIR, age_y=odd),
    "amplitude": lambda odd: replace(PAIR, amplitude_d=odd),
    "floor": lambda odd: replace(PAIR, floor_d=odd),
    "row": lambda odd: Row(size_logmar=odd, letters="C"),
    "luminance": lambda odd: Wall(luminance_cd_m2=odd),
    "field": lambda odd: Wall(field_deg2=odd),
}


@pytest.mark.parametrize("odd", ODD, ids=str)
@pytest.mark.parametrize("name", MAKERS)
def test_what_is_not_a_number_is_no_lens_eye_or_chart(name, odd):
    with pytest.raises(OpticsError):
        MAKERS[name](odd)


@pytest.mark.parametrize("distance_m", [math.nan, -math.inf, -6.0, 0.0])
def test_a_wall_stands_somewhere_before_the_eye(distance_m):
    with pytest.raises(OpticsError):
        Wall(distance_m=distance_m)
    with pytest.raises(OpticsError):
        beam_at_cornea(TrialFrame(), EyeSide.RIGHT, distance_m)


# ---- the lens case

CASE = full_set()


@few
@given(st.lists(st.sampled_from(sorted(CASE.lenses)), max_size=12))
def test_a_case_never_holds_less_than_nothing(codes):
    left = CASE.left(CASE.lens(code) for code in codes)
    assert set(left) == set(CASE.counts)
    for code, count in left.items():
        assert count == max(0, CASE.counts[code] - codes.count(code))


def walked(kind, from_d, *, upwards, eighths):
    """Return where steps lead from a power to the end of the set."""
    powers = [from_d]
    while (at := next_power(CASE, (), kind, powers[-1], upwards, eighths=eighths)) is not None:
        powers.append(at)
        assert len(powers) <= len(CASE.powers(kind)) + 1
    return powers


@pytest.mark.parametrize("eighths", [False, True])
@pytest.mark.parametrize("kind", [LensKind.SPHERE, LensKind.CYLINDER])
def test_steps_walk_through_the_whole_set_and_back_by_way_of_plano(kind, eighths):
    powers = sorted([*CASE.powers(kind), 0.0])
    assert {0.12, -0.12} < set(powers)
    if not eighths:
        powers = [power_d for power_d in powers if abs(power_d) != 0.12]
    assert walked(kind, powers[0], upwards=True, eighths=eighths) == powers
    assert walked(kind, powers[-1], upwards=False, eighths=eighths) == powers[::-1]
    assert 0.0 in powers


@pytest.mark.parametrize("kind", [LensKind.SPHERE, LensKind.CYLINDER])
def test_ordinary_steps_through_plano_are_all_a_quarter(kind):
    powers = walked(kind, -2.0, upwards=True, eighths=False)
    near = [power_d for power_d in powers if abs(power_d) <= 2.0]
    assert [after - before for before, after in pairwise(near)] == [0.25] * 16


@few
@given(st.sampled_from(CASE.powers(LensKind.SPHERE)), st.booleans())
def test_a_step_skips_a_lens_that_is_out(missing_d, upwards):
    out = [TrialLens(kind=LensKind.SPHERE, power_d=missing_d)] * 2
    from_d = missing_d + (-0.01 if upwards else 0.01)
    following = next_power(CASE, out, LensKind.SPHERE, from_d, upwards, eighths=True)
    assert following != missing_d
    one_left = next_power(CASE, out[:1], LensKind.SPHERE, from_d, upwards, eighths=True)
    assert one_left == missing_d


# common practice, no source: quarter steps to 4.00, half steps to 6.00, whole steps to 14.00
@pytest.mark.parametrize(
    ("from_d", "to_d"),
    [
        *((0.0, 0.25), (0.12, 0.25), (0.25, 0.50), (3.75, 4.0), (4.0, 4.5), (6.0, 7.0)),
        *((14.0, 16.0), (20.0, None), (-0.12, 0.0), (-0.25, 0.0), (-20.0, -18.0)),
    ],
)
def test_a_step_in_plus_is_the_sets_next_sphere(from_d, to_d):
    assert next_power(CASE, (), LensKind.SPHERE, from_d, upwards=True) == to_d
