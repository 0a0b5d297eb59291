"""The log behind the room: nothing twice, nothing lost, nothing of another tab or visitor."""

import re
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime

import pytest
from fastapi.testclient import TestClient

from optics import ENGINE_VERSION
from server.attempts import service
from server.marking.truth import Truth
from tests.conftest import OUR_ORIGIN
from tests.student import HTMX, Student, case_text, first_case, opened

ACTS = {
    "place": {"at": "R.2", "code": "sphere+1.00"},
    "take": {"at": "R.1"},
    "step": {"at": "R.1", "step": "plus"},
    "turn": {"at": "R.3", "by": 5},
    "move": {"at": "R.1", "to": "L.1"},
    "wall": {"view": "line"},
    "letters": {},
    "fit": {"tilt_deg": 5},
    "undo": {},
    "picture": {},
    "ask": {"question": "read-down"},
    "history": {"topic": "pain"},
    "card": {"field": "right_sphere", "text": "-1.00"},
    "finish": {},
}
IN_THE_ROOM = sorted(set(ACTS) - {"card", "finish"})


@pytest.fixture(scope="module")
def house(tmp_path_factory) -> Iterator[TestClient]:
    with opened(tmp_path_factory.mktemp("house"), one=case_text()) as browser:
        yield browser


@pytest.fixture
def client(house) -> TestClient:
    house.cookies.delete("notation")
    return house


@pytest.fixture(autouse=True)
def quick_truth(monkeypatch) -> None:
    # The search takes seconds, and no test here is about what it finds.
    found = Truth(vergence=(-1.75, 0.0, 0.0), acuity_logmar=-0.1)
    monkeypatch.setattr("server.attempts.service.find_truth", lambda *_: found)


@pytest.fixture
def student(client) -> Student:
    """Someone for whom every one of `ACTS` can be done."""
    student = Student.begins(client)
    student.does("place", at="R.1", code="sphere-0.50")
    student.does("place", at="R.3", code="cylinder-0.50")
    return student


def without_nonce(room: str) -> str:
    return re.sub(r"(/adds/\d+\?|-)[0-9a-f]{8}", r"\1", room)


def counting_from(number: int, student: Student) -> list[int]:
    return [event.number for event in student.events[number:]]


def test_begin_is_one_attempt_for_one_key(client):
    start = {"case": first_case(client), "mode": "practice", "client_key": "begin-1"}

    def begin(**changes: str) -> str:
        answer = client.post("/attempts", data=start | changes, headers=HTMX)
        assert answer.status_code == 200
        return answer.headers["HX-Redirect"]

    assert begin() == begin()
    others = {begin(), begin(client_key="begin-2"), begin(mode="teaching")}
    assert len(others) == 3
    student = Student(client=client, attempt=begin().rpartition("/")[2])
    assert [event.kind for event in student.events] == ["begin"]


def test_a_start_that_is_clicked_twice_at_once_is_one_attempt(client):
    start = {"case": first_case(client), "mode": "teaching", "client_key": "begin-1"}
    client.post("/attempts", data=start | {"client_key": "earlier"}, headers=HTMX)
    with ThreadPoolExecutor(8) as pool:
        answers = list(
            pool.map(lambda _: client.post("/attempts", data=start, headers=HTMX), range(16))
        )
    assert {answer.status_code for answer in answers} == {200}
    assert len({answer.headers["HX-Redirect"] for answer in answers}) == 1
    [one] = {answer.headers["HX-Redirect"].rpartition("/")[2] for answer in answers}
    assert len(client.app.state.store.events(one)) == 1


@pytest.mark.parametrize("act", ACTS)
def test_a_known_key_gets_its_first_answer_again(student, act):
    before = student.last.number
    first = student.press(act, key="same-key", **ACTS[act])
    again = student.press(act, key="same-key", **ACTS[act])
    assert first.status_code == again.status_code == 200
    assert without_nonce(first.text) == without_nonce(again.text)
    assert counting_from(before, student) == [before + 1]
    assert student.last.client_key == "same-key"


def test_a_press_that_was_refused_leaves_its_key_free(student):
    assert student.press("place", key="same-key", at="R.1", code="sphere-0.50").status_code == 422
    assert student.press("place", key="same-key", at="R.2", code="prism4").status_code == 200


@pytest.mark.parametrize("act", IN_THE_ROOM)
def test_a_tab_that_another_has_overtaken_gets_the_room_as_it_stands(student, act):
    seen = student.last.number
    student.in_another_tab().does("place", at="L.4", code="occluder")
    before = student.events
    answer = student.press(act, seen=seen, **ACTS[act])
    assert answer.status_code == 409
    assert student.events == before
    assert '<div id="room">' in answer.text
    assert "Left eye, cell 4, 22.5 mm: occluder" in answer.text
    assert f'id="seen" value="{before[-1].number}"' in answer.text
    assert "your last press was not done" in answer.text


@pytest.mark.parametrize("act", ["card", "finish"])
def test_what_stands_beside_the_room_is_told_in_words(student, act):
    seen = student.last.number
    student.in_another_tab().does("letters")
    before = student.events
    answer = student.press(act, seen=seen, **ACTS[act])
    assert (answer.status_code, student.events) == (409, before)
    assert "moved on in another tab" in answer.text
    assert 'id="room"' not in answer.text


def test_the_overtaken_tab_goes_on_from_what_it_is_shown(student):
    seen = student.last.number
    student.in_another_tab().does("letters")
    assert student.press("letters", seen=seen).status_code == 409
    assert student.press("letters", seen=seen + 1).status_code == 200


def test_the_overtaken_tab_keeps_its_place_and_its_notation(client, student):
    client.post("/notation", data={"acuity": "20"})
    seen = student.last.number
    student.in_another_tab().does("letters")
    answer = student.press("letters", seen=seen, at="L.hand", kind="disc")
    assert "20/200" in answer.text
    assert re.search(r'value="L\.hand"[^>]* checked', answer.text)
    assert re.search(r'value="disc"[^>]* checked', answer.text)


def test_events_of_the_same_tab_in_between_do_no_harm(student):
    seen = student.last.number
    for _ in range(3):
        student.does("letters", seen=seen)
    assert counting_from(seen, student) == [seen + 1, seen + 2, seen + 3]


def test_without_script_an_overtaken_tab_gets_a_page(student):
    student.in_another_tab().does("letters")
    answer = student.client.post(f"{student.address}/letters", data={"tab_id": "t", "seen": "1"})
    assert answer.status_code == 409
    assert answer.text.startswith("<!doctype html>")


@pytest.mark.parametrize("act", ACTS)
def test_presses_at_the_same_time_leave_no_gap(student, act):
    """Several of the same act from one tab: each is done or refused, none half."""
    before = student.last.number
    with ThreadPoolExecutor(4) as pool:
        answers = list(pool.map(lambda _: student.press(act, **ACTS[act]), range(4)))
    done = sum(answer.status_code == 200 for answer in answers)
    assert {answer.status_code for answer in answers} <= {200, 409, 422}
    assert done >= 1
    assert counting_from(before, student) == list(range(before + 1, before + 1 + done))


@pytest.fixture
def stranger(client) -> TestClient:
    with_session = TestClient(client.app, base_url=OUR_ORIGIN, headers={"Origin": OUR_ORIGIN})
    Student.begins(with_session)
    return with_session


@pytest.mark.parametrize("known", [True, False], ids=["another visitor", "no cookie"])
@pytest.mark.parametrize("act", ACTS)
def test_another_visitor_can_do_nothing(student, stranger, act, known):
    other = stranger if known else TestClient(student.client.app, headers={"Origin": OUR_ORIGIN})
    before = student.events
    for headers in (HTMX, {}):
        answer = other.post(f"{student.address}/{act}", data=ACTS[act], headers=headers)
        assert answer.status_code == 404
        assert "belongs to another visitor" in answer.text
    assert student.events == before


@pytest.mark.parametrize("finished", [False, True])
def test_another_visitor_sees_nothing(student, stranger, finished):
    student.does("ask", question="read-down")
    number = student.last.number
    if finished:
        student.does("finish")
    paths = ["", "/room", f"/pictures/{number}-R-x.png", f"/adds/{number}", f"/why/{number}"]
    paths += ["/review"] if finished else []
    for path in paths:
        assert student.gets(path).status_code == (303 if finished and path == "" else 200), path
    for path in [*paths, "/review"]:
        for other in (stranger, TestClient(student.client.app, headers={"Origin": OUR_ORIGIN})):
            answer = other.get(student.address + path, follow_redirects=False)
            assert answer.status_code == 404, path
            assert "piano tuner" not in answer.text
    assert student.attempt not in stranger.get("/").text
    assert student.attempt in student.client.get("/").text


def test_after_the_end_nothing_is_done_and_the_review_is_shown(student):
    student.does("ask", question="read-down")
    asked = student.last
    assert student.gets("/review").status_code == 303
    assert student.press("finish").headers["HX-Redirect"] == f"{student.address}/review"
    before = student.events
    for act, fields in ACTS.items():
        answer = student.press(act, **fields)
        assert answer.status_code == 409, act
        assert "This attempt has ended" in answer.text, act
    assert student.events == before
    assert student.gets().headers["Location"] == f"{student.address}/review"
    review = student.gets("/review")
    assert review.status_code == 200
    assert asked.body["reply"][:5] in review.text.replace("&#39;", "'")
    assert student.press("ask", key=asked.client_key, **ACTS["ask"]).status_code == 200
    assert student.events == before


def test_a_tab_overtaken_by_the_end_is_told_of_the_end(student):
    seen = student.last.number
    student.in_another_tab().does("finish")
    answer = student.press("letters", seen=seen)
    assert answer.status_code == 409
    assert "This attempt has ended" in answer.text


@pytest.mark.parametrize("act", ["place", "step", "turn", "move", "take", "wall", "letters", "fit"])
def test_undo_is_an_event_and_takes_back_the_last_change(student, act):
    before, number = student.state, student.last.number
    student.does(act, **ACTS[act])
    student.does("ask", question="read-line")
    changed = student.state
    assert (changed.frame, changed.wall, changed.fit) != (before.frame, before.wall, before.fit)
    student.does("undo")
    after = student.state
    assert {*after.frame.fitted} == {*before.frame.fitted}
    assert (after.wall, after.fit) == (before.wall, before.fit)
    assert after.frame.vertex_mm == before.frame.vertex_mm
    assert [event.kind for event in student.events[number:]] == [act, "ask", "undo"]
    assert len(after.talk) == 1


def test_what_was_read_of_other_letters_is_not_ticked_after_undo(student):
    student.does("wall", view="letter", line="0.3")
    student.does("wall", view="line")
    student.does("ask", question="read-line")
    assert 'class="score">' in student.gets().text
    student.does("undo")
    page = student.gets()
    assert page.status_code == 200
    assert len(student.letters[0]) == 1
    assert student.state.read == ()


@pytest.mark.parametrize(
    ("act", "fields"),
    [
        ("hold", {"at": "R.2", "tool": "cross:0.50"}),
        ("aim", {"aim": "power"}),
        ("swap", {}),
        ("place", {"at": "R.4", "code": "cylinder-0.50"}),
    ],
)
def test_undo_takes_back_what_was_shown_with_the_last_change(student, act, fields):
    student.does("hold", at="R.2", tool="cross:0.25")
    student.does("show", face=1)
    before = student.state
    student.does(act, **fields)
    student.does("show", face=1)
    student.does("show", face=2)
    student.does("undo")
    after = student.state
    assert (after.hand, after.frame, after.before) == (before.hand, before.frame, before.before)
    assert "Show the first and the second" in student.refused("ask", question="which")


def test_undo_goes_back_step_by_step_and_then_refuses(student):
    student.does("undo")
    assert set(student.lenses) == {"R.1"}
    student.does("undo")
    assert student.lenses == {}
    assert "nothing to undo" in student.refused("undo")


def test_undo_belongs_to_teaching_mode(client):
    student = Student.begins(client, "practice")
    student.does("letters")
    assert "Undo belongs to teaching mode" in student.refused("undo")
    assert 'id="undo"' not in student.gets().text


def test_replies_are_read_from_the_log(student, monkeypatch):
    student.does("ask", question="read-down")
    reply = student.last.body["reply"]
    page = student.gets().text

    def consulted(*_: object) -> None:
        raise AssertionError("the engine was asked again for what stands in the log")

    for name in ("read_rows", "view_of", "reading_reply"):
        monkeypatch.setattr(f"server.attempts.service.{name}", consulted)
    assert reply in page
    assert without_nonce(student.gets().text) == without_nonce(page)
    again = student.press("ask", key=student.last.client_key, question="read-down")
    assert reply in again.text
    student.does("letters")
    assert reply in student.does("finish") + student.gets("/review").text


def test_a_question_is_answered_for_the_lenses_of_its_moment(student, monkeypatch):
    """A lens that comes while the answer is computed makes it compute again."""
    read_rows, calls = service.read_rows, []

    def slow(view, rows, owned_logmar):
        calls.append(rows)
        if len(calls) == 1:
            student.does("place", at="L.1", code="occluder")
        return read_rows(view, rows, owned_logmar)

    monkeypatch.setattr(service, "read_rows", slow)
    student.does("ask", question="read-down")
    assert [event.kind for event in student.events[-2:]] == ["place", "ask"]
    assert len(calls) == 2
    assert (
        tuple(row[1] for row in student.last.body["rows"])
        == student.letters[: len(student.last.body["rows"])]
    )


def test_every_event_has_its_time_and_engine(student):
    assert {event.engine_version for event in student.events} == {ENGINE_VERSION}
    times = [event.at for event in student.events]
    assert times == sorted(times)
    assert abs((datetime.now(UTC) - times[-1]).total_seconds()) < 60
