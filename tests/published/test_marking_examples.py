"""Worked examples of marking: the yardstick, its scale to points, tolerances, allowances.

Yardstick: the defocus equivalent |M| + |C|/2 of the lens that turns the given prescription into
the true one (Taylor RH and others, Calculating the error in refractive error, Eye
2011;25:1333-6). Its values here are worked by hand as power vectors (Thibos, Wheeler & Horner,
Optom Vis Sci 1997;74(6):367-375). Scale, tolerances and allowances: common practice, no source.
"""

import math

import pytest

from optics.light.lens import EyeSide
from optics.light.power import SpheroCylinder, at_vertex
from server.errors import Refused
from server.marking.accuracy import accuracy
from server.marking.eye_mark import eye_mark
from server.marking.rubric import RUBRIC, Rubric, just_noticeable_d
from server.marking.truth import MARKED_DISTANCE_M, Truth

Written = tuple[float, float, float]
HALF_STEP = 0.005  # the worked values have two decimals


def power(written: Written) -> SpheroCylinder:
    return SpheroCylinder(sphere_d=written[0], cylinder_d=written[1], axis_deg=written[2])


def truth_of(written: Written, acuity_logmar: float = -0.1) -> Truth:
    """Return the end point that a lens at 12 mm corrects: by hand, meridian by meridian."""
    incoming = -1.0 / (MARKED_DISTANCE_M - 0.012)
    sphere, cylinder, axis = written
    first, second = (
        (one + incoming) / (1.0 - 0.012 * (one + incoming)) for one in (sphere, sphere + cylinder)
    )
    half, twice = (second - first) / 2.0, math.radians(2.0 * axis)
    vergence = (first + half, -half * math.cos(twice), -half * math.sin(twice))
    return Truth(vergence=vergence, acuity_logmar=acuity_logmar)


@pytest.mark.parametrize(
    ("true", "given", "strength", "equivalent"),
    [
        ((-2.00, -1.00, 90), (-2.00, -1.00, 100), 0.17, 0.17),
        ((-2.00, -1.00, 90), (-2.25, -1.00, 90), 0.25, 0.25),
        ((-2.00, -1.00, 90), (-2.50, 0.00, 180), 0.50, 0.50),
        ((-2.00, -1.00, 90), (-3.00, +1.00, 180), 0.00, 0.00),
        ((-2.00, -1.00, 90), (-2.00, -1.00, 180), 1.00, 1.00),
        ((+1.50, -0.50, 175), (+1.25, -0.75, 5), 0.41, 0.54),
        ((-4.00, -3.00, 20), (-4.00, -3.00, 25), 0.26, 0.26),
        # the cylinder found, the sphere never moved with it: right −1.00 / −2.00 × 010 too much
        ((+1.00, -2.00, 10), (0.00, -2.00, 10), 1.00, 1.00),
    ],
)
def test_the_yardstick_is_that_of_the_worked_examples(true, given, strength, equivalent):
    marked = accuracy(power(given), 12.0, truth_of(true))
    assert marked.blur_strength_d == pytest.approx(strength, abs=HALF_STEP)
    assert marked.defocus_equivalent_d == pytest.approx(equivalent, abs=HALF_STEP)


@pytest.mark.parametrize(
    ("error", "share"),
    [
        *((0.0, 1.00), (0.125, 1.00), (0.25, 0.86), (0.375, 0.71), (0.50, 0.57)),
        *((0.625, 0.43), (0.75, 0.29), (1.00, 0.0), (3.0, 0.0)),
    ],
)
def test_an_error_keeps_its_share_of_the_points(error, share):
    assert RUBRIC.share_at(error) == pytest.approx(share, abs=HALF_STEP)
    # the rule behind the bands: 1 − (error − 0.125) / 0.875, held between 0 and 1
    rule = min(1.0, max(0.0, 1.0 - (error - 0.125) / 0.875))
    assert RUBRIC.share_at(error) == pytest.approx(rule, abs=1e-12)
    assert RUBRIC.share_at(error + 0.03) == pytest.approx(
        min(1.0, max(0.0, 1.0 - (error - 0.095) / 0.875)), abs=1e-12
    )


# x/30 D at 6/x: 6/12, 6/60; 20/50 is 6/15, 20/125 is 6/37.5, 20/200 is 6/60
@pytest.mark.parametrize(
    ("acuity", "step"), [("6/12", 0.40), ("6/60", 2.00), ("6/15", 0.50), ("6/37.5", 1.25)]
)
def test_the_just_noticeable_step_follows_the_acuity(acuity, step):
    letters = float(acuity.removeprefix("6/"))
    assert just_noticeable_d(math.log10(letters / 6.0)) == pytest.approx(step, abs=1e-9)


@pytest.mark.parametrize(
    ("acuity", "mean", "allowed"),
    [
        (-0.1, -2.0, 0.0),
        (0.30, -2.0, 0.0),  # 6/12 itself is not widened
        (math.log10(18 / 6), -2.0, 0.30),  # half of 18/30
        (1.0, -2.0, 1.00),
        (-0.1, -5.0, 0.0),
        (-0.1, -8.0, 0.06),  # 0.02 × 3
        (-0.1, +11.0, 0.12),
        (1.0, +11.0, 1.12),
    ],
)
def test_a_poor_acuity_and_a_strong_lens_widen_the_tolerance(acuity, mean, allowed):
    assert RUBRIC.allowed_d(acuity, mean) == pytest.approx(allowed, abs=1e-9)


@pytest.mark.parametrize(
    ("cylinder", "within"),
    [(0.25, 20), (-0.50, 20), (0.75, 10), (1.00, 10), (1.25, 7), (2.00, 7), (2.25, 5), (6, 5)],
)
def test_the_axis_is_looser_for_a_weak_cylinder(cylinder, within):
    assert RUBRIC.axis_within_deg(cylinder) == within


def mark_of(given: Written, true: Written, acuity: float = -0.1, vertex: str = ""):
    sphere, cylinder, axis = given
    card = {
        "right_sphere": f"{sphere:+.2f}",
        "right_cylinder": f"{cylinder:+.2f}",
        "vertex": vertex,
    }
    return eye_mark(
        EyeSide.RIGHT, card | {"right_axis": f"{axis:.0f}"}, truth_of(true, acuity), RUBRIC
    )


@pytest.mark.parametrize(
    ("given", "acuity", "named", "band"),
    [
        ((-2.25, 0.0, 180), -0.1, "", "close"),
        ((-2.37, 0.0, 180), -0.1, "", "fair"),
        ((-2.38, 0.0, 180), -0.1, "over-minus", "fair"),
        ((-1.63, 0.0, 180), -0.1, "", "fair"),
        ((-1.62, 0.0, 180), -0.1, "over-plus", "fair"),
        ((-3.25, 0.0, 180), -0.1, "over-minus", "far"),
        # at 6/18 0.30 D more is allowed
        ((-2.67, 0.0, 180), math.log10(3.0), "", "fair"),
        ((-2.68, 0.0, 180), math.log10(3.0), "over-minus", "fair"),
    ],
)
def test_too_much_minus_or_plus_is_named_from_three_eighths(given, acuity, named, band):
    marked = mark_of(given, (-2.0, 0.0, 180), acuity)
    assert (marked.named, marked.band) == (named, band)


def test_a_record_is_moved_to_the_vertex_of_the_end_point_first():
    # −7.50 at 12 mm is −7.61 at 14 mm (F / (1 − dF) with d 2 mm nearer)
    there = at_vertex(power((-7.50, 0.0, 180)), 12.0, 14.0).sphere_d
    assert there == pytest.approx(-7.61, abs=HALF_STEP)
    assert mark_of((-7.61, 0.0, 180), (-7.50, 0.0, 180), vertex="14").error_d < 0.01
    assert mark_of((-7.61, 0.0, 180), (-7.50, 0.0, 180)).error_d == pytest.approx(0.11, abs=0.005)


def test_sphere_cylinder_and_axis_fold_behind_the_one_number():
    marked = mark_of((-2.25, -0.50, 15), (-2.00, -1.00, 0.001))
    assert marked.details == (
        ("sphere", "−2.25 for −2.00: 0.25 D off, within 0.25"),
        ("cylinder", "−0.50 for −1.00: 0.50 D off, within 0.50"),
        ("axis", "015 for 180: 15 degrees off, outside 10"),
    )


@pytest.mark.parametrize(
    ("acuity", "given", "share"),
    [
        (-0.1, (0.0, 0.0, 180), 1.0),
        (-0.1, (-0.50, 0.0, 180), 1.0 - (0.25 - 0.125) / 0.875),
        # an eye that reads 6/24 with its best lens is not an eye without need, but is given room
        (0.6, (0.0, 0.0, 180), 1.0),
    ],
)
def test_an_eye_without_need_may_be_plano(acuity, given, share):
    marked = mark_of(given, (-0.25, 0.0, 180), acuity)
    assert marked.share == pytest.approx(share, abs=1e-6)
    assert marked.no_need is (acuity < 0.1)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"eye_points": -1.0}, "eye_points must be 0 to 100, got -1.0"),
        ({"procedure": {"dance": 3.0}}, "procedure: no item 'dance'"),
        ({"bands": ((0.5, 1.0), (0.25, 0.0))}, "bands: limits must rise"),
        ({"bands": ((0.25, 0.5), (0.5, 1.0))}, "bands: shares must not rise"),
        ({"minutes": (20.0,)}, "minutes: one for each of 4 levels, got 1"),
        ({"version": ""}, "version must be 1 to 20 characters"),
    ],
)
def test_weights_out_of_range_are_refused_by_name(changes, words):
    with pytest.raises(Refused, match=words):
        Rubric(**changes)
