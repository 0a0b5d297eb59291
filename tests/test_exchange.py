"""A lens put into a full place is exchanged for what stands there, in one act of the log."""

import html
import re
from collections.abc import Iterator
from dataclasses import replace

import pytest
from fastapi.testclient import TestClient

from optics.light.lens import EyeSide
from server.attempts import acts
from server.attempts.fogged import fogged_seconds
from server.marking.steps import as_done, steps_of
from tests.script import Script, at, case_of, truths_of
from tests.student import Student, case_text, opened


@pytest.fixture(scope="module")
def client(tmp_path_factory) -> Iterator[TestClient]:
    folder = tmp_path_factory.mktemp("house")
    with opened(folder, one=case_text(right="+1.50", left="-4.00")) as browser:
        yield browser


@pytest.fixture
def student(client) -> Student:
    return Student.begins(client)


def says(room: str) -> str:
    """Return the line of the lens case that tells where a lens goes."""
    [words] = re.findall(r'id="goes-where">([^<]*)<', room)
    return html.unescape(words)


@pytest.mark.parametrize("place", ["R.2", "L.4", "R.hand"])
def test_one_act_puts_one_lens_in_and_the_other_back(student, place):
    for cell in ("R.1", place):
        student.does("place", at=cell, code="sphere+1.00")
    number = student.last.number
    student.does("place", at=place, code="sphere-1.25")
    assert [(one.number, one.kind) for one in student.events[number:]] == [(number + 1, "exchange")]
    assert student.lenses == {"R.1": ("sphere+1.00", 180.0), place: ("sphere-1.25", 180.0)}
    told = {name: student.last.body[name] for name in ("out", "out_direction", "lens", "direction")}
    assert told == {"out": "sphere+1.00", "out_direction": 180.0} | {
        "lens": "sphere-1.25",
        "direction": 180.0,
    }
    student.does("place", at="L.1", code="sphere+1.00")  # one of the two lies in the case again


def test_an_exchange_takes_as_long_as_taking_out_and_putting_in(student):
    student.does("place", at="R.2", code="sphere+1.00")
    times = [student.state.clock_s]
    student.does("place", at="R.2", code="sphere+1.50")
    times.append(student.state.clock_s)
    student.does("take", at="R.2")
    student.does("place", at="R.2", code="sphere+1.00")
    times.append(student.state.clock_s)
    assert times[1] - times[0] == times[2] - times[1] > 0.0


def test_an_exchange_leaves_what_taking_out_and_putting_in_leave(student):
    """Axis, memory of the place and letters among it."""
    student.does("place", at="R.3", code="cylinder-1.00")
    student.does("turn", at="R.3", to=35)
    student.does("place", at="R.3", code="cylinder-1.50")
    assert student.lenses["R.3"] == ("cylinder-1.50", 35.0)
    assert student.last.body["out_direction"] == 35.0
    student.does("place", at="R.3", code="sphere-1.00")
    in_one = student.state
    student.does("undo")
    student.does("take", at="R.3")
    student.does("place", at="R.3", code="sphere-1.00")
    in_two = student.state
    assert in_one.memory == in_two.memory
    assert in_one.clock_s == in_two.clock_s
    assert (in_one.frame, in_one.wall) == (in_two.frame, in_two.wall)


@pytest.mark.parametrize(
    ("out", "code", "anew"),
    [
        ("occluder", "pinhole1.2", True),
        ("sphere+1.00", "occluder", True),
        ("sphere+1.00", "cylinder-1.00", False),
    ],
)
def test_letters_are_drawn_anew_where_another_eye_sees(student, out, code, anew):
    student.does("place", at="R.2", code=out)
    letters = student.letters
    student.does("place", at="R.2", code=code)
    assert (student.letters != letters) == anew


def test_one_undo_takes_both_back(student):
    student.does("place", at="R.2", code="cylinder-1.00")
    student.does("turn", at="R.2", to=70)
    before = student.state
    student.does("place", at="R.2", code="sphere+2.00")
    student.does("undo")
    assert replace(student.state, number=before.number) == before
    assert student.lenses == {"R.2": ("cylinder-1.00", 70.0)}


def test_better_or_worse_is_asked_of_the_two_lenses(student):
    student.does("place", at="R.2", code="sphere+1.00")
    first = student.state.frame
    student.does("place", at="R.2", code="sphere+1.50")
    assert student.state.before == first
    student.does("ask", question="better")


def test_both_faces_must_be_shown_anew(student):
    student.does("place", at="R.2", code="sphere+1.00")
    student.does("hold", at="R.2", tool="cross:0.25")
    for face in (1, 2):
        student.does("show", face=face)
    student.does("place", at="R.2", code="sphere+1.25")
    assert "Show the first and the second" in student.refused("ask", question="which")


def test_what_cannot_be_done_still_says_why(student):
    student.does("place", at="R.2", code="sphere+1.00")
    words = student.refused("place", at="R.2", code="sphere+1.00")  # a press too many
    assert "That lens stands in cell 2 before the right eye already" in words
    for cell in ("L.1", "L.2"):
        student.does("place", at=cell, code="sphere-2.00")
    assert "all are in the frame" in student.refused("place", at="R.2", code="sphere-2.00")
    student.does("hold", at="R.2", tool="pair:0.25")
    assert "Lay away" in student.refused("place", at="R.hand", code="sphere-1.00")
    assert "no lens 'sphere+9.87'" in student.refused("place", at="R.2", code="sphere+9.87")


def test_the_page_says_beforehand_what_comes_out_and_afterwards_what_did(student):
    assert says(student.gets("/room?at=R.3").text) == "into cell 3 before the right eye"
    room = student.does("place", at="R.3", code="cylinder-1.00")
    wanted = "exchange for −1.00 cylinder, axis 180"
    assert says(room) == wanted
    assert says(student.gets("/room?at=R.3&kind=disc").text) == wanted
    assert says(student.gets("/room?at=L.hand").text) == "into the held place before the left eye"
    after = student.does("place", at="R.3", code="sphere+0.50")
    status = "Right cell 3: +0.50 sphere, in exchange for −1.00 cylinder, axis 180."
    assert f'role="status" class="hush">{status}</p>' in after
    student.does("hold", at="R.3", tool="pair:0.25")
    assert says(student.gets("/room?at=R.hand").text).startswith("lay away what you hold")


# ---- the moment between


def exchanged(folder, *, in_one: bool, **case) -> Script:
    s = Script(case_of(folder, **case)).covers("L").puts("R.1", +4.00)
    for _ in range(6):
        s.reads(0.5)
    if in_one:
        s.exchanges("R.1", +4.50)
    else:
        s.takes("R.1").does(acts.place(at("R.1"), "sphere+4.50"))
    return s.reads(0.5)


def test_fog_is_interrupted_while_the_lens_is_out(tmp_path):
    latent = {"right": "+1.00", "left": "+1.00"}
    seconds = []
    for in_one in (True, False):
        script = exchanged(tmp_path, in_one=in_one, **latent)
        eyes = replace(script.case.eyes, latent_d=0.5)
        seconds.append(fogged_seconds(replace(script.case, eyes=eyes), script.events))
    assert seconds[0] == seconds[1] > 0.0


def test_marking_sees_the_lens_out_before_the_next_is_in(tmp_path):
    one, two = (
        exchanged(tmp_path, in_one=in_one, right="+1.00", left="+1.00") for in_one in (True, False)
    )
    truths = truths_of(one.case)
    as_one = [
        part
        for step in steps_of(one.case, one.events, truths)
        for part in as_done(one.case, step, truths)
    ]
    as_two = steps_of(two.case, two.events, truths)
    assert [step.kind for step in as_one] == [step.kind for step in as_two]
    assert [step.error for step in as_one] == [step.error for step in as_two]
    assert max(step.error[EyeSide.RIGHT][0] for step in as_one[3:]) == pytest.approx(1.0, abs=0.05)
