"""The attempt along the patient's time: what is drawn, and what the table beside it keeps."""

import pytest

from optics.light.lens import EyeSide
from server.attempts.timeline import along
from server.web.notation import Notation
from server.web.plot_timeline import timeline_view
from tests.script import Script, case_of, truths_of


@pytest.fixture
def viewed(tmp_path):
    """Return the way of a myope of 1.50 D who wears 1.00, then for a moment nothing, then 1.25."""
    case = case_of(tmp_path, right="-1.50", left="-1.50")
    s = Script(case).covers("L").puts("R.1", -1.00).reads(0.3)
    s.takes("R.1").puts("R.1", -1.25).reads(0.1)
    steps = along(case, s.events, truths_of(case))
    return steps, timeline_view("a", steps, ["" for _ in steps], (), Notation())


def test_the_error_goes_down_step_by_step(viewed):
    _, view = viewed
    [right] = view.lines[0].error
    depths = [float(place.split(",")[1]) for place in right.split()]
    assert depths == sorted(depths)  # downwards on the page; nothing of the moment between
    assert len(set(depths)) == 3  # bare, through 1.00, through 1.25


def test_the_table_has_every_step(viewed):
    steps, view = viewed
    assert len(view.rows) == len(steps)
    moment = next(n for n, one in enumerate(steps) if one.step.kind == "take")
    assert steps[moment].step.in_frame[EyeSide.RIGHT] is not None
    assert view.rows[moment].right == view.rows[0].right  # bare again


def test_the_axis_of_the_mean_sphere_ends_on_a_half_dioptre(viewed):
    _, view = viewed
    [path] = view.paths
    assert [tick.words for tick in path.m_ticks] == ["−0.50", "0.00", "+0.50"]
