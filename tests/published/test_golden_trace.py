"""One refraction told step by step: which reply is the likeliest at each.

The eye sees best with +1.00/-2.00x010, has a pupil of 5 mm and 9.5 D of accommodation. The
order and the direction of the replies are those of the textbook's routine (fog, best sphere,
clock, cross cylinder for axis then power, sphere, +1.00): common practice, no source. The blurs
of the pairs are worked out by hand as lengths of power vectors, thin lenses in one plane.
"""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from optics.eye.eye import EyePair, ordinary_pair, required_vergence
from optics.light.frame import Place, TrialFrame
from optics.light.lens import EyeSide, LensKind, PlacedLens, TrialLens
from optics.light.power import SpheroCylinder, power_vector
from optics.patient.change import better_or_worse, clears_with_waiting, letters_on_chart
from optics.patient.change import more_letters as more_or_fewer
from optics.patient.colours import red_or_green
from optics.patient.compare import Answer, Asked, Looked, which_is_clearer
from optics.patient.lines import blackest_lines
from optics.sight.end_point import end_point
from optics.sight.targets import LETTERS_A_ROW, Wall
from optics.sight.view import View, look

NEED = SpheroCylinder(sphere_d=1.0, cylinder_d=-2.0, axis_deg=10.0)
ASKED = Asked()
RIGHT = EyeSide.RIGHT
OCCLUDED = TrialFrame().with_lens(
    EyeSide.LEFT, Place.CELL_1, PlacedLens(lens=TrialLens(kind=LensKind.OCCLUDER))
)
FAN_STROKE_LOGMAR = float(np.log10(3.0))


@cache
def eyes() -> EyePair:
    wanted = required_vergence(NEED, 12.0, 6.0)
    pair = ordinary_pair(wanted, wanted, age_y=20.0, pupil_mm=5.0)
    found = end_point(pair, RIGHT).vergence  # aberrations move it from the need
    m, j0, j45 = (2.0 * one - best for one, best in zip(wanted, found, strict=True))
    pair = ordinary_pair((m, j0, j45), (m, j0, j45), age_y=20.0, pupil_mm=5.0)
    return replace(pair, amplitude_d=9.5)


@cache
def through(
    sphere_d: float = 0.0,
    cylinder_d: float = 0.0,
    axis_deg: float = 180.0,
    cross_d: float = 0.0,
    minus_axis_deg: float = 180.0,
) -> View:
    """Return the view through a sphere, a cylinder and a cross cylinder in the hand."""
    frame = OCCLUDED
    for place, kind, power_d, direction in (
        (Place.CELL_1, LensKind.SPHERE, sphere_d, 180.0),
        (Place.CELL_2, LensKind.CYLINDER, cylinder_d, axis_deg),
        (Place.HAND, LensKind.CROSS_CYLINDER, cross_d, minus_axis_deg),
    ):
        if power_d:
            lens = TrialLens(kind=kind, power_d=power_d)
            frame = frame.with_lens(RIGHT, place, PlacedLens(lens=lens, direction_deg=direction))
    return look(eyes(), frame, Wall())


def acuity(view: View) -> float:
    assert view.right.reading is not None
    return view.right.reading.acuity_logmar


def likeliest(answer: Answer) -> str:
    return max(answer.chances, key=lambda reply: answer.chances[reply])


def a_line_above(*views: View) -> Looked:
    """Return the line next above the smallest that is read in one of the views."""
    return Looked(size_logmar=round(min(acuity(view) for view in views) + 0.1, 1))


def which(lens: tuple[float, float, float], cross_d: float, first: float, second: float) -> str:
    """Return what is said of two faces, by their minus axes."""
    one, other = (through(*lens, cross_d, minus_axis) for minus_axis in (first, second))
    return likeliest(which_is_clearer(one, other, a_line_above(through(*lens)), ASKED))


def better(now: View, before: View) -> str:
    return likeliest(better_or_worse(now, before, a_line_above(now, before), ASKED))


def lines_lost(now: View, before: View) -> float:
    return (letters_on_chart(before) - letters_on_chart(now)) / LETTERS_A_ROW


def blur(lens: tuple[float, float, float], cross_d: float, minus_axis_deg: float) -> float:
    """Return the length of what is left to correct, thin lenses in one plane."""
    sphere_d, cylinder_d, axis_deg = lens
    set_ = SpheroCylinder(sphere_d=sphere_d, cylinder_d=cylinder_d, axis_deg=axis_deg)
    face = SpheroCylinder(sphere_d=cross_d, cylinder_d=-2.0 * cross_d, axis_deg=minus_axis_deg)
    left = power_vector(NEED) - power_vector(set_) - power_vector(face)
    return float(np.linalg.norm(left))


PAIRS = [
    ((0.50, -1.00, 180.0), 0.50, (45.0, 135.0), (0.47, 0.95), "first"),
    ((0.50, -1.00, 10.0), 0.50, (55.0, 145.0), (0.71, 0.71), "same"),
    ((0.50, -1.00, 20.0), 0.50, (65.0, 155.0), (0.95, 0.47), "second"),
    ((0.50, -1.00, 10.0), 0.25, (10.0, 100.0), (0.25, 0.75), "first"),
    ((0.75, -1.50, 10.0), 0.25, (10.0, 100.0), (0.00, 0.50), "first"),
    ((1.00, -2.00, 10.0), 0.25, (10.0, 100.0), (0.25, 0.25), "same"),
    ((1.25, -2.50, 10.0), 0.25, (10.0, 100.0), (0.50, 0.00), "second"),
]


@pytest.mark.parametrize(("lens", "cross_d", "axes", "blurs", "said"), PAIRS)
def test_the_cross_cylinder_leads_to_the_cylinder(lens, cross_d, axes, blurs, said):
    assert [blur(lens, cross_d, axis) for axis in axes] == pytest.approx(blurs, abs=0.006)
    assert which(lens, cross_d, *axes) == said


def test_fog_blurs_and_stays_blurred():
    fogged = through(1.50)
    assert better(fogged, through()) == "worse"
    assert lines_lost(fogged, through()) > 0.5  # the direction: the trace's acuities are no checks
    later = look(eyes(), _frame(1.50), Wall(), fogged_s=10.0)
    looked = a_line_above(fogged)
    assert likeliest(clears_with_waiting(later, fogged, looked, ASKED)) == "stays"


def _frame(sphere_d: float) -> TrialFrame:
    sphere = TrialLens(kind=LensKind.SPHERE, power_d=sphere_d)
    return OCCLUDED.with_lens(RIGHT, Place.CELL_1, PlacedLens(lens=sphere))


def test_at_the_best_sphere_plus_is_worse():
    assert better(through(0.25), through()) == "worse"


def test_at_the_best_sphere_minus_reads_no_more():
    assert likeliest(more_or_fewer(through(-0.25), through(), ASKED)) == "same"


def test_the_fogged_clock_names_a_line_next_to_the_axis():
    # minus axis 10 is a third of an hour: between 12-6 and the half hour, 15 degrees on
    view = through(1.50)
    assert likeliest(blackest_lines(view.right, FAN_STROKE_LOGMAR, ASKED)) in ("6", "0.5")


def test_at_the_end_a_quarter_of_plus_is_worse():
    assert better(through(1.25, -2.0, 10.0), through(1.0, -2.0, 10.0)) == "worse"


def test_at_the_end_a_quarter_of_minus_reads_no_more():
    now, before = through(0.75, -2.0, 10.0), through(1.0, -2.0, 10.0)
    assert likeliest(more_or_fewer(now, before, ASKED)) == "same"


def test_a_dioptre_of_plus_takes_about_four_lines():
    # 2 to 7 lines between people
    lost = lines_lost(through(2.0, -2.0, 10.0), through(1.0, -2.0, 10.0))
    assert 2.0 <= lost <= 7.0


def test_acuity_rises_step_by_step():
    steps = [
        through(1.50),
        through(),
        through(0.50, -1.00, 180.0),
        through(0.50, -1.00, 10.0),
        through(0.75, -1.50, 10.0),
        through(1.00, -2.00, 10.0),
    ]
    acuities = [acuity(step) for step in steps]
    assert acuities == sorted(acuities, reverse=True)


FAULT, RIGHT_LENS = (0.0, -2.00, 10.0), (1.00, -2.00, 10.0)


def test_acuity_does_not_show_a_sphere_that_was_never_compensated():
    assert acuity(through(*FAULT)) == pytest.approx(acuity(through(*RIGHT_LENS)), abs=0.06)


def test_two_colours_show_it():
    view = through(*FAULT)
    line = a_line_above(view).size_logmar
    assert likeliest(red_or_green(view.right, line, ASKED)) == "green"


def test_a_dioptre_of_plus_shows_it():
    over = through(1.0, -2.00, 10.0)
    assert abs(lines_lost(over, through(*FAULT))) < 1.0
