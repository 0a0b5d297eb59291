"""A case's own weights: read, checked, laid over the usual rubric, and told apart in the mark."""

import json
import re
from dataclasses import fields, replace

import pytest

from server.attempts.own_eyes import case_in, written
from server.case_file import MarkingPart
from server.casebook import Case, read_case
from server.marking.rubric import PROCEDURE, RUBRIC, Rubric, has_own_weights
from server.settings import REPOSITORY
from tests.script import careful, case_of, truths_of
from tests.student import Student, case_text, opened

OWN = """[marking]
eye_points = 9
minutes = 33.5
bands = [[0.25, 1], [0.75, 0.5], [1.5, 0.0]]
axis_bands = [[1.0, 30], [2.0, 5]]
procedure = { axis = 0.5, end-point = 7 }
"""
PLACES = ("eye_points", "minutes", "bands", "axis_bands", "procedure")


def read(folder, marking: str, level: int = 2):
    path = folder / "one.toml"
    path.write_text(case_text(level=level) + marking)
    return read_case(path)


def test_every_weight_of_the_rubric_can_be_a_case_s_own():
    assert set(MarkingPart.model_fields) == {one.name for one in fields(Rubric)} - {"version"}


def test_what_is_stated_is_laid_over_the_usual_and_all_else_stays(tmp_path):
    rubric = read(tmp_path, OWN).rubric
    assert rubric.eye_points == 9.0
    assert rubric.minutes == (20.0, 33.5, 25.0, 30.0)
    assert rubric.bands == ((0.25, 1.0), (0.75, 0.5), (1.5, 0.0))
    assert rubric.procedure == {**PROCEDURE, "axis": 0.5, "end-point": 7.0}
    # half way between (0.25, 1) and (0.75, 0.5); a cylinder beyond the last band has the last's
    assert rubric.share_at(0.5) == pytest.approx(0.75)
    assert [rubric.axis_within_deg(size) for size in (0.5, 1.5, 4.0)] == [30.0, 5.0, 5.0]
    back = {name: getattr(RUBRIC, name) for name in (*PLACES, "version")}
    assert replace(rubric, **back) == RUBRIC


def test_a_case_without_a_table_or_with_the_usual_values_has_the_usual_rubric(tmp_path):
    usual = "[marking]\neye_points = 18\nminutes = 25\nprocedure = { fog = 4.0 }\n"
    for text in ("", "[marking]\n", usual):
        assert read(tmp_path, text).rubric == RUBRIC
    assert not has_own_weights(RUBRIC.version)


def test_the_version_tells_the_weights_of_one_case_from_those_of_another(tmp_path):
    versions = [
        read(tmp_path, f"[marking]\n{text}\n").rubric.version
        for text in ("", "minor = 2", "minor = 3", "major = 2", "procedure = { fog = 5 }")
    ]
    assert len(set(versions)) == len(versions)
    assert all(re.fullmatch(r"1\+[0-9a-f]{8}", version) for version in versions[1:])
    assert all(has_own_weights(version) for version in versions[1:])
    one, other = ("minor = 2\nmajor = 4\n", "major = 4.0\nminor = 2.0\n")
    assert (
        read(tmp_path, f"[marking]\n{one}").rubric.version
        == read(tmp_path, f"[marking]\n{other}").rubric.version
    )


def test_an_exam_s_log_keeps_the_weights(tmp_path):
    case = read(tmp_path, OWN)
    kept = json.loads(json.dumps(written(case.file), allow_nan=False))
    assert case_in(case.stem, kept).rubric == case.rubric
    del kept["marking"]  # a log from before cases had weights
    assert case_in(case.stem, kept).rubric == RUBRIC


@pytest.mark.parametrize(
    ("text", "line", "field", "message"),
    [
        ("points = 3", 27, "marking.points", "Extra inputs are not permitted; got 3"),
        ('version = "2"', 27, "marking.version", "not permitted; got '2'"),
        ("bands = []", 27, "marking.bands", "bands: limits must rise, got []"),
        ("bands = [[0.5]]", 27, "marking.bands.0.1", "Field required"),
        ("bands = [[0.5, 1.5]]", 27, "marking.bands.0.1", "less than or equal to 1; got 1.5"),
        ("bands = [[inf, 1]]", 27, "marking.bands.0.0", "finite number; got inf"),
        ("bands = [[1, 1], [0.5, 0]]", 27, "marking.bands", "must rise, got [1.0, 0.5]"),
        ("bands = [[0.5, 0], [1, 1]]", 27, "marking.bands", "must not rise, got [0.0, 1.0]"),
        ("axis_bands = [[1, 5], [1, 9]]", 27, "marking.axis_bands", "must rise, got [1.0, 1.0]"),
        ("axis_bands = [[1, 91]]", 27, "marking.axis_bands.0.1", "equal to 90; got 91"),
        (
            "minor = 1\nprocedure = { dance = 3 }",
            28,
            "marking.procedure",
            f"no item 'dance'; one of {', '.join(PROCEDURE)}; got {{'dance': 3}}",
        ),
        ("procedure = { fog = -1 }", 27, "marking.procedure.fog", "equal to 0; got -1"),
        ("minutes = [20, 25]", 27, "marking.minutes", "valid number; got [20, 25]"),
    ],
)
def test_a_wrong_table_names_field_what_came_and_what_is_allowed(
    tmp_path, text, line, field, message
):
    found = read(tmp_path, f"[marking]\n{text}\n")
    assert not isinstance(found, Case)
    [fault] = found
    assert (fault.line, fault.field) == (line, field)
    assert message in fault.message


def test_shipped_weights_keep_the_sums_of_the_parts():
    own = {}
    for path in (REPOSITORY / "cases").glob("*.toml"):
        rubric = read_case(path).rubric
        if has_own_weights(rubric.version):
            own[path.stem] = rubric
    assert len(own) >= 2
    for rubric in own.values():
        assert sum(rubric.procedure.values()) == sum(PROCEDURE.values())
        assert 2 * rubric.eye_points + rubric.vertex_points + rubric.pd_points == 40.0


# ---- the mark


def part(mark, key):
    return next(one for one in mark.parts if one.key == key)


def test_the_mark_weighs_by_the_case_and_by_another_rubric_when_asked(tmp_path):
    script = careful(case_of(tmp_path, more=OWN, level=2))
    own, usual = script.mark(), script.mark(RUBRIC)
    assert (part(own, "accuracy").most, part(usual, "accuracy").most) == (22.0, 40.0)
    assert (part(own, "procedure").most, part(usual, "procedure").most) == (31.5, 28.0)
    assert "of 33.5 minutes" in part(own, "time").lines[0].words
    assert (own.rubric_version, usual.rubric_version) == (script.case.rubric.version, "1")


@pytest.fixture
def room(tmp_path, monkeypatch):
    with opened(tmp_path, one=case_text() + OWN) as client:
        [case] = client.app.state.attempts.casebook.cases.values()
        found = truths_of(case)
        monkeypatch.setattr("server.attempts.service.find_truth", lambda _, side: found[side])
        yield Student.begins(client)


def test_marking_by_other_weights_adds_a_mark_and_leaves_the_first(room):
    room.does("finish")
    attempts = room.client.app.state.attempts
    attempt = attempts.open(1, room.attempt)
    own = attempts.mark(attempt)
    usual = attempts.mark(attempt, RUBRIC)
    assert own.most != usual.most
    kept = room.client.app.state.store.marks_of(room.attempt)
    assert [one.rubric_version for one in kept] == [attempt.case.rubric.version, "1"]
    assert attempts.mark(attempt) == own


SAYS = "marked with weights of their own"


def test_the_review_says_so_and_no_page_before_the_end_does(room):
    """That nothing else of the table is told, tests/test_secrecy.py finds out by its canary."""
    version = room.client.app.state.attempts.open(1, room.attempt).case.rubric.version
    for page in ("/", room.address, "/progress", "/progress/export.json"):
        answer = room.client.get(page)
        assert answer.status_code == 200
        assert SAYS not in answer.text, page
        assert version not in answer.text, page
    room.does("finish")
    review = room.gets("/review").text
    assert review.count(SAYS) == 1
    assert f"rules of marking, version {version}" in review
    assert version in room.client.get("/progress/export.json").text


def test_the_review_of_a_case_with_the_usual_weights_is_silent(tmp_path, monkeypatch):
    with opened(tmp_path, one=case_text()) as client:
        [case] = client.app.state.attempts.casebook.cases.values()
        found = truths_of(case)
        monkeypatch.setattr("server.attempts.service.find_truth", lambda _, side: found[side])
        student = Student.begins(client)
        student.does("finish")
        assert SAYS not in client.get(f"{student.address}/review").text
