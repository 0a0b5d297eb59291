"""What an attempt's log told: which questions count, what could be asked next, when it sufficed."""

import inspect
from dataclasses import replace

import pytest

from optics.light.lens import EyeSide
from optics.patient.questions import Question
from server.attempts import told as told_module
from server.attempts.told import asking_at, known_of, sufficed_at, told, what_next
from tests.student import Student, case_text, opened
from tests.supposed_eyes import plain_supposed


@pytest.fixture(scope="module")
def log(tmp_path_factory):
    """Return a log with questions to one eye, to both and through a pinhole."""
    with opened(tmp_path_factory.mktemp("log"), one=case_text("-1.75/-1.00x30")) as browser:
        student = Student.begins(browser, "practice")
        student.does("ask", question="read-down")  # both eyes
        student.does("place", at="L.1", code="occluder")
        student.does("ask", question="read-down")
        student.does("place", at="R.1", code="sphere-1.50")
        student.does("ask", question="better")
        student.does("hold", tool="cross:0.25", at="R.1")
        for face in (1, 2):
            student.does("show", face=face)
        student.does("ask", question="which")
        student.does("away")
        student.does("wall", view="duochrome", line="0.3")
        student.does("ask", question="colour")
        student.does("place", at="R.4", code="pinhole1.2")
        student.does("ask", question="colour")
        return student.events


def test_each_question_to_one_eye_counts(log):
    found = told(log, plain_supposed())
    asked = ["read-down", "read-down", "better", "which", "colour", "colour"]
    assert [one.question for one in found] == asked
    assert [one.side for one in found] == [None, *[EyeSide.RIGHT] * 4, None]
    assert found[0].nothing
    assert found[-1].bits == 0.0
    assert found[1].bits > 1.0
    assert found[1].sd_d < found[0].sd_d
    assert found[-1].mean == found[-2].mean
    assert [one.number for one in found] == [e.number for e in log if e.kind == "ask"]
    whole = known_of(log, EyeSide.RIGHT, plain_supposed())
    assert whole.mean_d == found[-1].mean


def test_what_stood_before_the_eye_is_told_at_the_cornea(log):
    # -1.50 at 12 mm, chart at 6 m: 1 / (1 / (-1.5 - 1 / 5.988) - 0.012) by the vertex formula
    state = told_module._asked(log)
    before, said = list(state)[2]
    side, asking = asking_at(before, Question(said.question))
    assert side is EyeSide.RIGHT
    incoming = -1.0 / (6.0 - 0.012)
    wanted = 1.0 / (1.0 / (incoming - 1.5) - 0.012)
    assert asking.vergences[0] == pytest.approx((-1.0 / 6.0, 0.0, 0.0), abs=1e-9)
    assert asking.vergences[1] == pytest.approx((wanted, 0.0, 0.0), abs=1e-9)


def test_the_same_log_tells_the_same_of_another_eye(log, tmp_path):
    """Neither the case nor its eyes are asked for, nor reached by what the module imports."""
    assert set(inspect.signature(told).parameters) == {"events", "eyes"}
    source = inspect.getsource(told_module)
    for hidden in ("casebook", "view_of", "marking", ".eyes.", "case_"):
        assert hidden not in source
    first = told(log, plain_supposed())
    with opened(tmp_path, one=case_text("+4.00/-2.00x80")):
        assert told(log, plain_supposed()) == first


def test_what_could_be_asked_next_stands_in_order(log):
    state = [before for before, _ in told_module._asked(log)][3]
    known = known_of(log, EyeSide.RIGHT, plain_supposed())
    found = what_next(state, EyeSide.RIGHT, known)
    names = {name for name, _ in found}
    assert {"read down", "two colours", "pair 0.25", "cross 0.25 axis", "plus 1.00"} <= names
    bits = [one for _, one in found]
    assert bits == sorted(bits, reverse=True)
    assert bits[0] > 0.05
    assert what_next(state, EyeSide.LEFT, known) == ()


def test_when_it_sufficed_is_said_by_number(log):
    found = told(log, plain_supposed())
    assert sufficed_at(found, EyeSide.LEFT) is None
    narrow = [replace(one, sd_d=0.2 if one.number > found[2].number else 1.0) for one in found]
    assert sufficed_at(narrow, EyeSide.RIGHT) == found[3].number
