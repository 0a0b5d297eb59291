"""The room through HTTP: lenses go in and out, the wall changes, the patient reads."""

import re
from collections.abc import Iterator
from dataclasses import replace
from types import SimpleNamespace

import pytest
from fastapi.testclient import TestClient

from optics.sight.targets import CHART_LINES_LOGMAR
from tests.student import HTMX, Student, case_text, opened


@pytest.fixture(scope="module")
def house(tmp_path_factory) -> Iterator[TestClient]:
    with opened(
        tmp_path_factory.mktemp("house"), one=case_text(right="plano", left="-4.00")
    ) as browser:
        yield browser


@pytest.fixture
def client(house) -> TestClient:
    house.cookies.delete("notation")
    return house


@pytest.fixture
def student(client, monkeypatch) -> Student:
    fixed = SimpleNamespace(token_bytes=lambda size: b"s" * size)  # every run has the same luck
    monkeypatch.setattr("server.attempts.service.secrets", fixed)
    return Student.begins(client)


def test_a_lens_is_placed_stepped_turned_moved_and_taken(student):
    assert "−0.50" in student.does("place", at="R.2", code="sphere-0.50")
    student.does("place", at="R.3", code="cylinder-1.00")
    assert student.lenses == {"R.2": ("sphere-0.50", 180.0), "R.3": ("cylinder-1.00", 180.0)}
    student.does("step", at="R.3", step="minus")
    student.does("turn", at="R.3", by=-5)
    assert student.lenses["R.3"] == ("cylinder-1.25", 175.0)
    student.does("move", at="R.3", to="L.hand")
    assert student.lenses == {"R.2": ("sphere-0.50", 180.0), "L.hand": ("cylinder-1.25", 175.0)}
    student.does("take", at="R.2")
    assert student.lenses == {"L.hand": ("cylinder-1.25", 175.0)}
    assert [event.kind for event in student.events] == [
        "begin",
        "place",
        "place",
        "step",
        "turn",
        "move",
        "take",
    ]
    assert [event.number for event in student.events] == list(range(1, 8))


def test_a_full_cell_takes_no_lens_from_elsewhere(student):
    student.does("place", at="R.2", code="sphere+1.00")
    student.does("place", at="R.1", code="sphere-1.00")
    assert "Cell 2 before the right eye" in student.refused("move", at="R.1", to="R.2")


@pytest.mark.parametrize(("code", "held"), [("sphere-2.00", 2), ("cylinder+0.50", 2), ("slit", 1)])
def test_a_set_gives_out_no_more_lenses_than_it_holds(student, code, held):
    for cell in range(1, held + 1):
        student.does("place", at=f"R.{cell}", code=code)
    assert "all are in the frame" in student.refused("place", at="L.1", code=code)
    student.does("take", at="R.1")
    student.does("place", at="L.1", code=code)


@pytest.mark.parametrize("code", ["sphere-2.10", "sphere+21.00", "prism7", "-1.00", "", "pinhole"])
def test_a_lens_that_the_set_never_held_is_refused(student, code):
    student.refused("place", at="R.2", code=code)


@pytest.mark.parametrize("act", ["take", "move", "turn"])
def test_nothing_can_be_done_with_a_lens_that_is_not_there(student, act):
    fields = {"take": {}, "move": {"to": "R.3"}, "turn": {"by": 5}}[act]
    assert "cell 1 before the left eye" in student.refused(act, at="L.1", **fields)


@pytest.mark.parametrize("at", ["R.5", "B.1", "R", "R.", "1.R", "R.2.2"])
@pytest.mark.parametrize("act", ["step", "letters", "undo"])
def test_a_place_that_is_none_is_refused_before_anything_is_written(student, at, act):
    student.does("place", at="R.1", code="sphere+1.00")
    assert "The place must be R or L" in student.refused(act, at=at, step="plus")


@pytest.mark.parametrize(
    ("code", "typed", "becomes"),
    [
        ("cylinder-1.00", 1, 1.0),
        ("cylinder-1.00", 180, 180.0),
        ("cylinder-1.00", 0, 180.0),
        ("prism4", 0, 360.0),
        ("prism4", 270, 270.0),
        ("prism4", 360, 360.0),
        ("slit", 90, 90.0),
    ],
)
def test_a_typed_direction_is_taken(student, code, typed, becomes):
    student.does("place", at="R.3", code=code)
    student.does("turn", at="R.3", to=typed)
    assert student.lenses["R.3"] == (code, becomes)


@pytest.mark.parametrize(
    ("code", "typed", "words"),
    [
        ("cylinder-1.00", 181, "axis must be 1 to 180"),
        ("slit", 270, "axis must be 1 to 180"),
        ("cylinder-1.00", -1, "greater than or equal to 0"),
        ("prism4", 361, "less than or equal to 360"),
        ("cylinder-1.00", "9O", "valid integer"),
        ("cylinder-1.00", 22.5, "valid integer"),
    ],
)
def test_a_direction_off_the_scale_is_refused(student, code, typed, words):
    student.does("place", at="R.3", code=code)
    assert words in student.refused("turn", at="R.3", to=typed)
    assert student.lenses["R.3"] == (code, 180.0)


@pytest.mark.parametrize(
    ("code", "by", "becomes"),
    [("cylinder-1.00", 5, 5.0), ("cylinder-1.00", -1, 179.0), ("prism4", 5, 185.0)],
)
def test_a_turn_goes_round(student, code, by, becomes):
    student.does("place", at="R.3", code=code)
    student.does("turn", at="R.3", by=by)
    assert student.lenses["R.3"][1] == becomes
    student.does("turn", at="R.3", by=-by)
    assert student.lenses["R.3"][1] == 180.0


def test_a_step_goes_through_plano_and_skips_lenses_in_use(student):
    for cell in ("3", "4"):
        student.does("place", at=f"L.{cell}", code="sphere-0.25")
    student.does("place", at="R.2", code="sphere+0.25")
    seen = []
    for way in ("minus", "minus", "minus", "minus", "minus", "plus"):
        student.does("step", at="R.2", step=way)
        seen.append(student.lenses.get("R.2", ("plano", 180.0))[0])
    assert seen == [
        *("plano", "sphere-0.50", "sphere-0.75", "sphere-1.00", "sphere-1.25"),
        "sphere-1.00",
    ]


def test_an_eighth_is_a_step_of_its_own_where_the_case_has_it(student):
    seen, offered = [], []
    for way in ("plus-eighth", "plus", "minus-eighth", "minus", "minus-eighth", "minus"):
        room = student.does("step", at="R.2", step=way)
        seen.append(student.lenses.get("R.2", ("plano", 180.0))[0])
        offered.append(re.findall(r'value="((?:plus|minus)-eighth)"', room))
    assert seen == [
        *("sphere+0.12", "sphere+0.25", "sphere+0.12", "plano", "sphere-0.12", "sphere-0.25"),
    ]
    assert offered == [
        *([], ["minus-eighth"], [], ["minus-eighth", "plus-eighth"], [], ["plus-eighth"]),
    ]
    student.does("place", at="R.1", code="prism4")
    assert "-eighth" not in student.gets("/room?at=R.1").text


def test_the_first_step_in_an_empty_cell_is_a_cylinder_in_cell_3_and_a_sphere_elsewhere(student):
    for at in ("R.1", "R.2", "R.3", "R.hand"):
        student.does("step", at=at, step="plus")
    assert {at: code for at, (code, _) in student.lenses.items()} == {
        "R.1": "sphere+0.25",
        "R.2": "sphere+0.25",
        "R.3": "cylinder+0.25",
        "R.hand": "sphere+0.50",
    }


def test_an_axis_is_kept_through_plano(student):
    student.does("place", at="R.3", code="cylinder-0.25")
    student.does("turn", at="R.3", to=35)
    student.does("step", at="R.3", step="plus")
    assert student.lenses == {}
    student.does("step", at="R.3", step="plus")
    assert student.lenses == {"R.3": ("cylinder+0.25", 35.0)}


def test_a_step_stops_at_the_end_of_the_set(student):
    student.does("place", at="R.2", code="sphere-20.00")
    assert "no further lens" in student.refused("step", at="R.2", step="minus")
    student.does("place", at="R.1", code="occluder")
    assert "no power to step" in student.refused("step", at="R.1", step="plus")


def test_the_same_letters_stay_while_lenses_change_and_between_questions(student):
    letters = student.letters
    assert len(letters) == len(CHART_LINES_LOGMAR)
    for act, fields in (
        ("place", {"at": "R.2", "code": "sphere+1.00"}),
        ("step", {"at": "R.2", "step": "minus"}),
        ("place", {"at": "R.3", "code": "cylinder-1.00"}),
        ("turn", {"at": "R.3", "by": 5}),
        ("move", {"at": "R.3", "to": "L.3"}),
        ("take", {"at": "L.3"}),
        ("place", {"at": "R.1", "code": "pinhole1.2"}),
        ("ask", {"question": "read-down"}),
        ("ask", {"question": "read-down"}),
        ("fit", {"vertex_mm": 14}),
        ("wall", {"light": "off"}),
        ("history", {"topic": "pain"}),
    ):
        student.does(act, **fields)
        assert student.letters == letters, act


@pytest.mark.parametrize(
    ("before", "act", "fields"),
    [
        ([], "letters", {}),
        ([], "wall", {"view": "line"}),
        ([("wall", {"view": "line"})], "wall", {"line": 0.5}),
        ([], "place", {"at": "L.1", "code": "occluder"}),
        ([("place", {"at": "L.1", "code": "occluder"})], "take", {"at": "L.1"}),
        ([("place", {"at": "L.1", "code": "occluder"})], "move", {"at": "L.1", "to": "R.1"}),
    ],
    ids=["new letters", "chart", "line", "covered", "uncovered", "other eye covered"],
)
def test_letters_are_drawn_anew(student, before, act, fields):
    for earlier, given in before:
        student.does(earlier, **given)
    letters = student.letters
    student.does(act, **fields)
    assert student.letters != letters
    assert tuple(row for _, row in student.last.body["letters"]) == student.letters


def test_moving_the_occluder_before_the_same_eye_keeps_the_letters(student):
    student.does("place", at="L.1", code="occluder")
    letters = student.letters
    student.does("move", at="L.1", to="L.4")
    assert student.letters == letters


@pytest.mark.parametrize(("view", "rows", "a_row"), [("line", 1, 5), ("letter", 1, 1)])
def test_a_line_and_a_letter_hang_alone(student, view, rows, a_row):
    student.does("wall", view=view, line=0.2)
    assert (len(student.letters), len(student.letters[0])) == (rows, a_row)
    assert student.state.wall.rows[0].size_logmar == 0.2
    student.does("ask", question="read-line")
    [[size, shown, said, tried]] = student.last.body["rows"]
    assert (size, shown, tried) == (0.2, student.letters[0], True)
    assert len(said) == a_row


def test_the_letters_shown_stand_in_the_answer(student):
    student.does("ask", question="read-down")
    rows = student.last.body["rows"]
    assert tuple(shown for _, shown, _, _ in rows) == student.letters[: len(rows)]


def smallest_read(student: Student) -> float | None:
    """Return the smallest size of which most letters were right, None for none."""
    student.does("ask", question="read-down")
    return min(
        (
            size
            for size, shown, said, tried in student.last.body["rows"]
            if tried and sum(a == b for a, b in zip(shown, said, strict=True)) >= 3
        ),
        default=None,
    )


def test_the_occluder_and_the_pinhole_change_what_is_read(student):
    # The right eye needs nothing, the left −4.00 through a 4 mm pupil.
    assert smallest_read(student) <= 0.1
    student.does("place", at="R.1", code="occluder")
    blurred = smallest_read(student)
    assert blurred is None or blurred >= 0.8
    student.does("place", at="L.1", code="pinhole1.2")
    assert smallest_read(student) <= (0.9 if blurred is None else blurred - 0.2)
    student.does("take", at="L.1")
    student.does("place", at="L.2", code="sphere-4.00")
    assert smallest_read(student) <= 0.1


def test_the_covered_eye_sees_a_dark_picture(student):
    student.does("place", at="R.1", code="occluder")
    number = student.last.number
    open_eye = student.gets(f"/pictures/{number}-L-x.png")
    covered = student.gets(f"/pictures/{number}-R-x.png")
    assert open_eye.status_code == covered.status_code == 200
    assert covered.content != open_eye.content
    assert covered.headers["Cache-Control"] == "private, no-store"
    assert student.gets(f"/pictures/{number + 1}-L-x.png").status_code == 404


@pytest.mark.parametrize(
    ("acuity", "largest"),
    [("6", "6/60"), ("20", "20/200"), ("decimal", "0.10"), ("logmar", "1.00")],
)
def test_the_notation_changes_the_names_of_lines(client, student, acuity, largest):
    client.post("/notation", data={"acuity": acuity, "cylinder": "minus"})
    for page in (student.gets().text, student.gets("/room").text, student.does("letters")):
        sizes = re.findall(r'class="size">([^<]+)<', page)
        assert len(sizes) == len(CHART_LINES_LOGMAR)
        assert sizes[0] == largest


@pytest.mark.parametrize(
    "fields",
    [{"view": "poster"}, {"line": 2}, {"distance": 0}, {"distance": 100}, {"light": "dim"}],
)
def test_a_wall_that_is_none_is_refused(student, fields):
    student.refused("wall", **fields)


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"pd_right_mm": 23}, "24 to 40 mm"),
        ({"pd_left_mm": 23.5}, "24 to 40 mm"),
        ({"height_mm": -7}, "-6 to 6 mm"),
        ({"tilt_deg": 21}, "-5 to 20 degrees"),
        ({"wrap_deg": 15.5}, "-5 to 15 degrees"),
        ({"vertex_mm": 7.5}, "8 to 20 mm"),
        ({"vertex_mm": 50}, "less than or equal to 40"),
        ({}, "Name a setting"),
    ],
)
def test_a_fit_outside_its_limits_is_refused(student, fields, words):
    assert words in student.refused("fit", **fields)


def test_the_vertex_distance_moves_every_place(student):
    student.does("fit", vertex_mm=14)
    assert student.state.frame.vertex_mm == (14.0, 17.5, 21.0, 24.5, 30.0)
    student.does("fit", pd_left_mm=30)
    assert student.state.fit.pd_left_mm == 30.0
    assert student.state.frame.vertex_mm[0] == 14.0


@pytest.mark.parametrize("topic", ["onset", "which_eye", "pain", "flashes", "health", "spectacles"])
def test_the_history_is_answered_in_the_cases_words(client, student, topic):
    [case] = client.app.state.attempts.casebook.cases.values()
    assert case.history[topic] in student.does("history", topic=topic)
    assert student.last.body["reply"] == case.history[topic]


def test_a_question_that_is_none_is_refused(student):
    assert "no question 'weight'" in student.refused("history", topic="weight")
    student.refused("ask", question="read-up")


def test_without_script_a_press_leads_back_to_the_page(client, student):
    answer = client.post(
        f"{student.address}/letters", data={"client_key": "plain-1"}, follow_redirects=False
    )
    assert (answer.status_code, answer.headers["Location"]) == (303, student.address)
    refusal = client.post(f"{student.address}/take", data={"at": "R.1"}, follow_redirects=False)
    assert refusal.status_code == 422
    assert refusal.text.startswith("<!doctype html>")


def test_a_mode_or_patient_that_is_none_is_refused(client):
    [case] = client.app.state.attempts.casebook.cases.values()
    start = {"case": case.public_id, "mode": "teaching"}
    assert client.post("/attempts", data=start | {"mode": "exam"}, headers=HTMX).status_code == 422
    assert client.post("/attempts", data=start | {"case": "one"}, headers=HTMX).status_code == 404


def test_going_back_opens_a_copy_that_never_counts(client, student):
    student.does("place", at="L.4", code="occluder")
    student.does("place", at="R.1", code="sphere-1.00")
    kept = student.events
    student.does("finish")
    back = {"number": 2, "client_key": "back-key-1"}
    copies = [student.press("again", **back).headers["HX-Redirect"] for _ in range(2)]
    assert copies[0] == copies[1], "the same press opens the same copy"
    copy = replace(student, attempt=copies[0].rpartition("/")[2])
    assert copy.lenses == {"L.4": ("occluder", 180.0)}
    assert copy.state.copied_from == student.attempt
    assert "it does not count" in copy.gets().text
    copy.does("place", at="R.1", code="sphere-2.00")
    assert student.events[: len(kept)] == kept


def test_there_is_no_going_back_before_the_end_nor_beyond_it(student):
    assert student.press("again", number=1, client_key="too-early").status_code == 404
    student.does("finish")
    for number in (student.last.number, student.last.number + 5):
        assert student.press("again", number=number, client_key="beyond-it").status_code == 404
