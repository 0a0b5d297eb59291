"""The fit of the frame: each setting reaches the light, and the panel tells what it does."""

import html
import math
import re
from collections.abc import Iterator

import pytest
from fastapi.testclient import TestClient

from optics.light.beam import beam_at_cornea
from optics.light.frame import Place, TrialFrame
from optics.light.lens import EyeSide, LensKind, PlacedLens, TrialLens
from server.attempts.seat import seated
from server.attempts.state import Fit
from tests.student import Student, case_text, opened

RIGHT, LEFT = EyeSide.RIGHT, EyeSide.LEFT
PD_MM = (31.0, 32.5)  # of the patient in these tests
MINUS = PlacedLens(lens=TrialLens(kind=LensKind.SPHERE, power_d=-6.0))
BOTH = TrialFrame().with_lens(RIGHT, Place.CELL_1, MINUS).with_lens(LEFT, Place.CELL_1, MINUS)


def on_the_face(**settings: float) -> TrialFrame:
    fitting = {"pd_right_mm": PD_MM[0], "pd_left_mm": PD_MM[1]}
    return seated(BOTH, Fit(**fitting | settings), PD_MM)


def test_a_frame_set_to_the_patient_is_centred():
    assert on_the_face() == BOTH


# wider than the patient: centres outwards, which is the examiner's left before the right eye;
# minus off its centre outwards is base in, plus base out (common practice)
def test_a_frame_too_wide_has_its_centres_outwards():
    frame = on_the_face(pd_right_mm=33.0, pd_left_mm=35.0)
    assert frame.centre_mm(RIGHT) == (-2.0, 0.0)
    assert frame.centre_mm(LEFT) == (2.5, 0.0)
    base_in = {RIGHT: 1.2, LEFT: -1.5}  # 0.2 and 0.25 cm times 6.00 (Prentice)
    for side, prism_pd in base_in.items():
        assert beam_at_cornea(frame, side, 6.0).prism_pd == pytest.approx((prism_pd, 0.0))


def test_a_frame_too_high_lifts_both_centres():
    for side in EyeSide:
        beam = beam_at_cornea(on_the_face(height_mm=2.0), side, 6.0)
        assert beam.prism_pd == pytest.approx((0.0, -1.2))  # minus above the pupil: base down


@pytest.mark.parametrize(("setting", "axis"), [("tilt_deg", 180.0), ("wrap_deg", 90.0)])
def test_tilt_and_wrap_give_a_minus_lens_a_minus_cylinder(setting, axis):
    straight = beam_at_cornea(BOTH, RIGHT, math.inf)
    beam = beam_at_cornea(on_the_face(**{setting: 15.0}), RIGHT, math.inf)
    added = beam.beyond(straight)
    # Martin: 6.00 (1 + sin^2 15 / 3.046) is 0.13 more, cylinder 0.44; at the cornea, 12 mm on, a
    # small change shrinks by (1 + 0.012 x 6)^2 (derivative of the vertex formula)
    assert added.sphere_d == pytest.approx(-0.13 / 1.072**2, abs=0.01)
    assert added.cylinder_d == pytest.approx(-0.44 / 1.072**2, abs=0.01)
    assert added.axis_deg == pytest.approx(axis)


def test_an_event_from_before_wrap_was_known_still_means_what_it_meant(student):
    student.does("fit", tilt_deg=5)
    body = student.last.body
    assert body["fit"].pop("wrap_deg") == 0.0
    assert Fit(**body["fit"]) == student.state.fit


# ---- the room


@pytest.fixture(scope="module")
def house(tmp_path_factory) -> Iterator[TestClient]:
    with opened(
        tmp_path_factory.mktemp("house"), one=case_text(right="-6.00", left="-6.00")
    ) as browser:
        yield browser


@pytest.fixture
def student(house) -> Student:
    house.cookies.delete("notation")
    return Student.begins(house)


def effects(page: str) -> list[str]:
    found = re.findall(r'class="fit-effect">([^<]*)<', page)
    return [html.unescape(words) for words in found]


def test_the_panel_says_what_the_fit_does(student):
    assert effects(student.does("fit", pd_right_mm=31, pd_left_mm=32.5)) == [
        "Right: no prism by the centres, nothing by tilt and wrap",
        "Left: no prism by the centres, nothing by tilt and wrap",
    ]
    student.does("place", at="R.1", code="sphere-6.00")
    right, left = effects(student.does("fit", pd_right_mm=33, height_mm=-2, tilt_deg=15))
    # 0.2 cm times the tilted lens (Martin): 6.00 (1 + sin^2 15 / 3.046) = 6.13 across, 6.57
    # upright; minus outwards is base in, minus below is base up
    assert right.startswith("Right: 1.2Δ base in and 1.3Δ base up by the centres, −0.1")
    assert right.endswith("× 180 by tilt and wrap")
    assert left == "Left: no prism by the centres, nothing by tilt and wrap"


def test_prisms_put_in_on_purpose_are_not_the_fits(student):
    student.does("fit", pd_right_mm=31, pd_left_mm=32.5)
    words = effects(student.does("place", at="R.2", code="prism4"))
    assert words[0] == "Right: no prism by the centres, nothing by tilt and wrap"


def test_practice_does_not_say_it(house):
    student = Student.begins(house, mode="practice")
    student.does("place", at="R.1", code="sphere-6.00")
    assert effects(student.does("fit", pd_right_mm=35)) == []


def test_the_wrap_has_a_field_and_keeps_what_was_set(student):
    page = student.does("fit", wrap_deg=7)
    assert re.search(r'id="fit-wrap_deg" name="wrap_deg"[^>]* value="7"', page)
    assert student.state.fit.wrap_deg == 7.0
    student.does("undo")
    assert student.state.fit.wrap_deg == 0.0


PICTURES = [
    {"pd_right_mm": 33.5},
    {"height_mm": 2},
    {"tilt_deg": 18},
    {"wrap_deg": 14},
    {"vertex_mm": 16},
]


@pytest.mark.parametrize("settings", PICTURES, ids=lambda settings: next(iter(settings)))
def test_every_setting_changes_what_the_eye_forms(student, settings):
    def picture() -> bytes:
        answer = student.gets(f"/pictures/{student.last.number}-R-x.png")
        assert answer.status_code == 200
        return answer.content

    student.does("fit", pd_right_mm=31, pd_left_mm=32.5)
    student.does("place", at="R.1", code="sphere-4.00")
    student.does("place", at="R.4", code="pinhole1.2")
    before = picture()
    student.does("fit", **settings)
    assert picture() != before


def test_a_pinhole_that_misses_the_pupil_is_dark(student):
    student.does("place", at="L.1", code="occluder")
    student.does("fit", pd_right_mm=31)
    student.does("place", at="R.4", code="pinhole1.2")
    student.does("ask", question="read-down")
    assert student.state.talk[-1].rows[0][2]  # something is read
    student.does("fit", pd_right_mm=35)  # 4 mm beside a pupil of 4 mm
    student.does("ask", question="read-down")
    assert all(not said for _, _, said, tried in student.state.talk[-1].rows if tried)


def test_filters_and_the_rod_lie_among_the_discs(student):
    page = student.gets("/room?kind=disc").text
    for code, name in {
        "red": "Red filter",
        "green": "Green filter",
        "rod": "Rod",
        "neutral0.6": "Neutral filter",
    }.items():
        assert f'value="{code}"' in page
        assert f'aria-label="{name}"' in page
        student.does("place", at="R.3", code=code)
        assert name.lower() in student.does("letters")
        assert "no power to step" in student.refused("step", at="R.3", step="plus")
        student.does("take", at="R.3")


def test_the_rod_turns_and_its_reason_is_given(student):
    student.does("place", at="R.1", code="rod")
    student.does("turn", at="R.1", to=90)
    assert student.lenses == {"R.1": ("rod", 90.0)}
    student.does("place", at="L.1", code="occluder")
    student.does("ask", question="read-down")
    assert "streak" in student.state.talk[-1].why
