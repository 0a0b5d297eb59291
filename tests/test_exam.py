"""An exam tells nothing of its eye but what the patient says, and draws the eye for itself."""

import logging
import re
import threading
import time
from collections.abc import Iterator

import pytest
from fastapi.testclient import TestClient

from optics.light.lens import EyeSide
from server.attempts import own_eyes
from server.attempts.circuit import Plan
from server.attempts.foresight import Foresight
from server.case_eyes import UnfitError
from server.web.arrival import leaves_after_s
from tests.audience import PLAY, Audience, Clockwork, everything_in
from tests.canary import canary_case, found_in
from tests.exam_timing import durations, ways
from tests.sitting import RANGES, Clock, Sitting, ranged, sees_nothing_ahead
from tests.student import HTMX, Student, opened
from tests.twins import NEEDS, STEM, draws_twin, twin_case

QUESTION = "/attempts/{attempt_id}/ask"
SILENT = [one for one in PLAY if one[1] != QUESTION and "/circuits" not in one[1]]
ASKED = [one for one in PLAY if one[1] == QUESTION]
FINISH = ("POST", "/attempts/{attempt_id}/finish", {})


@pytest.fixture(autouse=True)
def clock(monkeypatch) -> Clock:
    return Clock(monkeypatch)


@pytest.fixture(autouse=True)
def prompt(request, monkeypatch) -> None:
    # answers need not wait where their time is not what is looked at
    if "steadily" not in request.node.name:
        monkeypatch.setattr("server.web.arrival.STEP_S", 0.001)
        sees_nothing_ahead(monkeypatch)
    monkeypatch.setattr("server.evidence.EvidenceKeeper._start", lambda _: None)


@pytest.fixture(scope="module")
def house(tmp_path_factory) -> Iterator[TestClient]:
    cases = {"quince": ranged(who="a baker"), "sloe": ranged(who="a sailor")}
    with opened(tmp_path_factory.mktemp("house"), **cases) as browser:
        yield browser


@pytest.fixture
def client(house) -> TestClient:
    return house


def opened_case(student: Student):
    attempts = student.client.app.state.attempts
    return attempts.open(1, student.attempt).case


def hears(tmp_path, monkeypatch, name: str) -> tuple[list, list]:
    """Return all that is answered to the same acts at one twin: before questions, and to them."""
    (tmp_path / name).mkdir()
    with monkeypatch.context() as patches:
        Clockwork(patches)
        draws_twin(patches, name)
        with opened(tmp_path / name, **{STEM: twin_case()}) as client:
            sitting = Sitting.begins(client, stations=2)
            audience = Audience(sitting.enters(1))
            for method, template, fields in SILENT:
                audience.does(method, template, fields, **(HTMX if method == "POST" else {}))
            audience.provokes()
            for path in (sitting.address, "/"):
                audience.listens("GET", path, None, {})
            silent = len(audience.heard)
            room = audience.student
            for act, fields in (
                ("hold", {"at": "R.2", "tool": "cross:0.50"}),
                ("show", {"face": 1}),
                ("show", {"face": 2}),
            ):
                room.does(act, **fields)
            for _, template, fields in ASKED:
                audience.does("POST", template, fields, **HTMX)
                audience.listens("GET", room.address, None, {})
            audience.does(*FINISH, **HTMX)
            audience.listens("GET", sitting.address, None, {})
            return audience.heard[:silent], audience.heard[silent:]


def test_twin_eyes_answer_alike_byte_for_byte_but_for_what_the_patient_says(tmp_path, monkeypatch):
    (first, said_first), (second, said_second) = (
        hears(tmp_path, monkeypatch, name) for name in NEEDS
    )
    for (path, one), (_, other) in zip(first, second, strict=True):
        assert one.status_code == other.status_code, path
        assert one.headers.multi_items() == other.headers.multi_items(), path
        assert one.content == other.content, path
    assert len(first) > 60
    assert {404, 409, 422} <= {one.status_code for _, one in first}
    unlike = 0
    for (path, one), (_, other) in zip(said_first, said_second, strict=True):
        assert one.status_code == other.status_code, path
        kept = [
            (name, text) for name, text in one.headers.multi_items() if name != "content-length"
        ]
        assert kept == [
            (name, text) for name, text in other.headers.multi_items() if name != "content-length"
        ]
        assert without_replies(one.text) == without_replies(other.text), path
        unlike += one.text != other.text
    assert unlike > 5, "these eyes must be told apart by what they say"


def without_replies(page: str) -> str:
    """Return a page without what the patient said and what was read on the wall."""
    for pattern in (
        r'<p class="reply">.*?</p>',
        r'data-code="[^"]*"',
        r'(?<=class="letters) not(?=")',
        r'<path d="(M-?[\d.]+ 2\.5h5\.8)+"/>',
        r'<span class="score">.*?</span>',
    ):
        page = re.sub(pattern, "", page)
    return clock_left_out(page)


def clock_left_out(page: str) -> str:
    """Leave out the patient's time: reading aloud takes as long as what is read."""
    return re.sub(r'<p class="clock">.*?</p>', "", page)


def test_no_answer_of_an_exam_holds_a_figure(tmp_path, monkeypatch, caplog):
    caplog.set_level(logging.DEBUG, logger="server")
    with opened(tmp_path, **{STEM: canary_case() + RANGES}) as client:
        monkeypatch.setattr("server.attempts.own_eyes.drawn", lambda file, _: file)
        sitting = Sitting.begins(client, stations=1)
        student = sitting.enters(1)
        audience = Audience(student)
        for method, template, fields in PLAY:
            if "/circuits" not in template:
                audience.does(method, template, fields, **(HTMX if method == "POST" else {}))
        audience.provokes()
        audience.listens("GET", sitting.address, None, {})
        audience.listens("GET", student.address, None, {})
        [row] = sitting.stations
        case = opened_case(student)
        secrets = (row.seed, bytes.fromhex(case.digest), case.public_id.encode())
        for path, answer in audience.heard:
            if "/static/" in path:
                continue
            if path == "GET /":  # where everybody may choose among all patients
                secrets = secrets[:2]
            assert not found_in(everything_in(answer), *secrets), path
        assert not found_in(caplog.text, *secrets[:2])
        student.does("finish")
        assert sitting.looks().status_code == 200
        assert found_in(student.gets("/review").text), "the search finds what the review shows"


def test_an_exam_shows_no_picture_no_reason_no_hint_and_takes_nothing_back(client):
    student = Sitting.begins(client).enters(1)
    student.does("place", at="R.2", code="sphere-1.00")
    room = student.does("ask", question="read-down")
    number = student.last.number
    for path in (f"/why/{number}", f"/adds/{number}", f"/pictures/{number}-R-0.png"):
        assert student.gets(path).status_code == 404, path
    assert student.press("picture").status_code == 404
    assert student.gets(f"/pictures/{number}-R-0.png").status_code == 404
    assert "Undo belongs to teaching mode" in student.refused("undo")
    page = room + student.gets().text
    for word in ("/pictures/", "/why/", "/adds/", 'id="undo"', 'class="panel prompts"'):
        assert word not in page, word
    assert student.press("again", number=1).status_code == 404


def test_exam_mode_begins_in_a_circuit_only(client):
    case = next(iter(client.app.state.attempts.casebook.cases.values()))
    answer = client.post("/attempts", data={"case": case.public_id, "mode": "exam"}, headers=HTMX)
    assert answer.status_code == 422
    assert "teaching, practice" in answer.text


def test_every_eye_is_drawn_within_the_ranges_and_never_the_stated_one(client):
    book = client.app.state.attempts.casebook.cases
    needs, seeds, letters = set(), set(), set()
    for _ in range(8):
        sitting = Sitting.begins(client, stations=1)
        student = sitting.enters(1)
        case = opened_case(student)
        stated = book[case.stem]
        for side in EyeSide:
            assert case.needs[side] != stated.needs[side]
            assert -3.0 <= case.needs[side].sphere_d <= -1.0
        assert case.digest != stated.digest
        needs.add(case.needs[EyeSide.RIGHT])
        seeds.add(sitting.stations[0].seed)
        letters.add(student.letters)
    assert len(needs) == len(seeds) == len(letters) == 8


def test_the_eye_stands_in_the_log_and_not_in_the_book(client):
    student = Sitting.begins(client, stations=1).enters(1)
    begun = student.events[0]
    need = begun.body["case"]["right"]["need"]
    case = opened_case(student)
    assert case.file.right.need == need
    assert need not in repr(begun) + repr(case) + repr(student.state)


def test_an_eye_that_cannot_be_is_drawn_again(client, monkeypatch):
    case = next(iter(client.app.state.attempts.casebook.cases.values()))
    good, made = own_eyes.case_in, []

    def sometimes(stem, body):
        made.append(body["right"]["need"])
        if len(made) < 3:
            raise UnfitError(("right",), "cannot be")
        return good(stem, body)

    monkeypatch.setattr(own_eyes, "case_in", sometimes)
    found = own_eyes.drawn_case(case, b"s" * 16)
    assert len(set(made)) == 3
    assert found.file.right.need == made[2]


def test_answers_leave_steadily_whatever_they_are(client, monkeypatch):
    student = Sitting.begins(client).enters(1)
    waits = durations(
        [
            lambda: student.press("ask", key="one-key", question="read-down"),
            lambda: student.press("ask", key="one-key", question="read-down"),  # known already
            lambda: student.press("ask", question="which"),  # refused
        ]
    )
    assert all(any(at <= wait <= at + 0.1 for at in (0.4, 1.6, 6.4)) for wait in waits), waits
    assert durations([lambda: student.press("letters")])[0] < 0.4


def test_what_can_be_asked_is_worked_out_ahead_and_only_the_newest(monkeypatch):
    monkeypatch.undo()  # here it does see ahead
    worked, gate = [], threading.Event()

    def works(moment) -> None:
        worked.append(moment())
        gate.wait(10)

    monkeypatch.setattr("server.attempts.foresight.work_out", works)
    foresight = Foresight()
    for number in range(5):
        foresight.see("one", lambda number=number: number)
        while not worked:  # the first is being worked at while the others come
            time.sleep(0.001)
    foresight.see("two", lambda: "two")
    foresight.await_sight("two")  # has not begun: left to who asks
    gate.set()
    foresight.await_sight("one")
    foresight.close()
    assert worked[0] == 0
    assert set(worked[1:]) <= {4}
    assert not foresight._futures


def test_an_exam_answers_with_its_sight_worked_out_beside(client, monkeypatch):
    monkeypatch.undo()
    monkeypatch.setattr("server.web.arrival.STEP_S", 0.001)
    student = Sitting.begins(client).enters(1)
    for code in ("sphere-1.00", "sphere-1.50", "sphere-2.00"):
        student.does("place", at="R.2", code=code)
        student.does("take", at="R.2")
    assert "said-" in student.does("ask", question="read-down")


def test_questions_outside_an_exam_do_not_wait(client, monkeypatch):
    monkeypatch.setattr("server.web.arrival.STEP_S", 60.0)
    student = Student.begins(client)
    assert durations([lambda: student.press("ask", question="read-down")])[0] < 30.0


@pytest.mark.parametrize(
    ("spent_s", "leaves_s"), [(0.0, 0.4), (0.39, 0.4), (0.41, 1.6), (1.7, 6.4), (6.5, 25.6)]
)
def test_answers_leave_steadily_at_one_of_few_times_and_never_before_it_is_made(spent_s, leaves_s):
    assert leaves_after_s(spent_s) == pytest.approx(leaves_s)


def test_the_timing_command_asks_what_the_engine_must_work_at():
    assert len(ways()) == 8
    assert Plan(minutes=20).station_s == 1200
