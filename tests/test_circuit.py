"""A circuit by the server's clock: stations open, close and are made up, whatever the browser does.

Every time here is the test's own: stations of 300 s, 60 s to change.
"""

import html
import re
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from server.app import create_app
from server.attempts import service
from server.attempts.circuit import STANDARD, Opened, Phase, Plan, due, standing
from server.errors import Refused
from server.marking.truth import Truth
from server.settings import Settings
from tests.conftest import OUR_ORIGIN
from tests.sitting import NOON, Clock, Sitting, left_in, ranged, sees_nothing_ahead
from tests.student import HTMX, Student, case_text, opened

CASES = {
    "quince": ranged(who="a baker"),
    "sloe": ranged(who="a sailor"),
    "damson": ranged(who="a clerk"),
    "tamarisk": ranged(who="a diver", level=2),
    "medick": case_text(who="a miller", level=3),
}


@pytest.fixture(scope="module")
def house(tmp_path_factory) -> Iterator[TestClient]:
    with opened(tmp_path_factory.mktemp("house"), **CASES) as browser:
        yield browser


@pytest.fixture
def client(house) -> TestClient:
    return house


@pytest.fixture
def clock(monkeypatch) -> Clock:
    return Clock(monkeypatch)


@pytest.fixture(autouse=True)
def quick_truth(monkeypatch) -> None:
    # The search takes a while, and no test here is about what it finds.
    at_lens = -2.00 - 1.0 / (6.0 - 0.012)  # a lens of -2.00 at 12 mm, light from 6 m
    at_cornea = at_lens / (1.0 - 0.012 * at_lens)
    found = Truth(vergence=(at_cornea, 0.0, 0.0), acuity_logmar=-0.1)
    monkeypatch.setattr("server.attempts.service.find_truth", lambda *_: found)
    monkeypatch.setattr("server.web.arrival.STEP_S", 0.001)
    sees_nothing_ahead(monkeypatch)


@pytest.fixture
def sitting(client, clock) -> Sitting:
    return Sitting.begins(client)


def plan(**changes: object) -> Plan:
    return Plan(**{"stations": 3, "levels": (1,), "minutes": 5} | changes)


def last(began_s: float, left_s: float | None = None, number: int = 1) -> Opened:
    left_at = None if left_s is None else NOON + timedelta(seconds=left_s)
    return Opened(number=number, began_at=NOON + timedelta(seconds=began_s), left_at=left_at)


@pytest.mark.parametrize(
    ("station", "at_s", "phase", "left_s"),
    [
        (None, 0, Phase.READY, 0),
        (last(0), 0, Phase.STATION, 300),
        (last(0), 299.5, Phase.STATION, 0),
        (last(0), 300, Phase.CHANGE, 60),  # at the bell it is closed
        (last(0), 359, Phase.CHANGE, 1),
        (last(0, left_s=100), 110, Phase.CHANGE, 50),
        (last(0, number=3), 299, Phase.STATION, 1),
        (last(0, number=3), 300, Phase.GATHERING, 5),
        (last(0, number=3), 305, Phase.OVER, 0),
        (last(0, left_s=10, number=3), 10, Phase.OVER, 0),
    ],
)
def test_where_a_circuit_stands(station, at_s, phase, left_s):
    now = NOON + timedelta(seconds=at_s)
    stands = standing(plan(), station, now)
    assert (stands.phase, stands.left_s(now)) == (phase, left_s)


@pytest.mark.parametrize(
    ("station", "at_s", "opens_s"),
    [
        (last(0), 359.9, None),
        (last(0), 360, 360),
        (last(0), 9000, 360),
        (last(0, left_s=100), 170, 160),
        (last(0, number=3), 9000, None),
    ],
)
def test_the_next_station_opens_by_itself(station, at_s, opens_s):
    found = due(plan(), station, NOON + timedelta(seconds=at_s))
    assert found == (None if opens_s is None else NOON + timedelta(seconds=opens_s))


@pytest.mark.parametrize(("extra", "seconds"), [(0, 300), (25, 375), (50, 450), (100, 600)])
def test_extra_time_lengthens_a_station(extra, seconds):
    assert plan(extra_percent=extra).bell(NOON) == NOON + timedelta(seconds=seconds)


def test_the_standard_needs_a_mean_and_no_low_station():
    assert STANDARD.passed([60.0, 60.0])
    assert STANDARD.passed([80.0, 40.0])
    assert not STANDARD.passed([59.0, 60.0])
    assert not STANDARD.passed([100.0, 100.0, 39.9])


@pytest.mark.parametrize(
    "changes",
    [
        *({"stations": 0}, {"stations": 13}, {"minutes": 2}, {"minutes": 21}),
        *({"levels": ()}, {"levels": (5,)}, {"extra_percent": 10}),
    ],
)
def test_a_plan_outside_what_is_allowed_is_refused(changes):
    with pytest.raises(Refused, match=r"must be"):
        plan(**changes)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"stations": 13}, "stations: “13” came, should be less than or equal to 12"),
        ({"stations": "many"}, "stations: “many” came"),
        ({"minutes": 2}, "minutes: “2” came, should be greater than or equal to 3"),
        ({"levels": []}, "levels"),
        ({"levels": 7}, "levels: “7” came, should be less than or equal to 4"),
        ({"extra": "10"}, "extra: “10” came"),
        ({"levels": 3}, "No patient of level 3 has ranges"),
    ],
)
def test_bad_settings_are_refused_in_words(client, changes, words):
    fields = {"stations": 2, "levels": 1, "minutes": 5} | changes
    answer = client.post("/circuits", data=fields, headers=HTMX)
    assert answer.status_code == 422
    assert words in html.unescape(answer.text)


def test_one_key_makes_one_circuit(client, clock):
    begun = {Sitting.begins(client, client_key="same-key").circuit for _ in range(3)}
    assert len(begun) == 1
    assert Sitting.begins(client, client_key="other-key").circuit not in begun


def test_patients_differ_where_there_are_enough(client, clock):
    for _ in range(6):
        stems = [one.case_id for one in Sitting.begins(client, stations=3).stations]
        assert sorted(stems) == ["damson", "quince", "sloe"]
    stems = [one.case_id for one in Sitting.begins(client, stations=7).stations]
    assert len(set(stems[:3])) == len(set(stems[3:6])) == 3
    stems = {one.case_id for one in Sitting.begins(client, stations=4, levels=[1, 2]).stations}
    assert stems == {"damson", "quince", "sloe", "tamarisk"}


def test_no_clock_runs_before_the_first_station(sitting, clock):
    clock.at(50_000)
    page = sitting.looks()
    assert page.status_code == 200
    assert "data-left" not in page.text
    assert sitting.opened == []
    sitting.enters(1)
    assert sitting.left_s == 300


def test_the_room_shows_station_and_time_left_and_neither_level_nor_case(sitting, clock):
    student = sitting.enters(1)
    clock.at(100.4)
    page = student.gets().text
    assert left_in(page) == 199  # never more than there is
    assert "station 1 of 2" in page
    assert 'class="tag">level' not in page
    for case in sitting.client.app.state.attempts.casebook.cases.values():
        assert case.public_id not in page
        assert case.stem not in page + student.gets("/room").text


def test_acts_count_until_the_bell_and_are_refused_in_words_after(sitting, clock):
    student = sitting.enters(1)
    clock.at(299.999)
    student.does("place", at="R.2", code="sphere-1.00")
    clock.at(300)
    before = student.events
    acts = {
        "place": {"at": "R.3", "code": "sphere-1.00"},
        "ask": {"question": "read-down"},
        "history": {"topic": "pain"},
        "card": {"field": "right_sphere", "text": "-1.00"},
        "finish": {},
    }
    for act, fields in acts.items():
        answer = student.press(act, **fields)
        assert answer.status_code == 409, act
        assert "This station has closed" in answer.text
        assert f'href="{sitting.address}"' in answer.text
    whole = sitting.client.post(f"{student.address}/letters", data={"client_key": "whole-page"})
    assert whole.status_code == 409
    assert f'href="{sitting.address}"' in whole.text
    assert student.events == before
    assert student.gets().headers["location"] == sitting.address
    assert student.gets("/room").headers["HX-Redirect"] == student.address


def test_the_same_key_gets_its_answer_after_the_bell_and_a_new_one_does_not(sitting, clock):
    student = sitting.enters(1)
    clock.at(299.9)
    first = student.press("ask", key="at-the-bell", question="read-down")
    clock.at(300.2)
    again = student.press("ask", key="at-the-bell", question="read-down")
    assert first.status_code == again.status_code == 200
    assert first.text == again.text
    assert student.press("ask", key="after-it", question="read-down").status_code == 409
    assert [event.kind for event in student.events] == ["begin", "ask"]


def test_what_arrived_before_the_bell_counts_however_long_its_answer_takes(
    sitting, clock, monkeypatch
):
    student = sitting.enters(1)
    answered = service._reading

    def slowly(attempt, moment):
        clock.at(302)  # the bell rings while the patient reads, and the page is looked at
        assert sitting.looks().status_code == 200
        return answered(attempt, moment)

    monkeypatch.setattr(service, "_reading", slowly)
    clock.at(299.9)
    student.does("ask", question="read-down")
    assert student.last.kind == "ask"
    assert student.last.at == NOON + timedelta(seconds=299.9)


def test_a_body_that_is_sent_late_comes_late(client, clock):
    sitting = Sitting.begins(client)
    student = sitting.enters(1)
    clock.at(299)

    def body() -> Iterator[bytes]:
        yield b"client_key=slow-body&"
        clock.at(301)
        yield b"tab_id=tab-1"

    form = {"Content-Type": "application/x-www-form-urlencoded"} | HTMX
    answer = client.post(f"{student.address}/letters", content=body(), headers=form)
    assert answer.status_code == 409


def test_two_tabs_at_the_bell(sitting, clock):
    student = sitting.enters(1)
    other = student.in_another_tab()
    other.does("letters")
    stale = student.press("letters", seen=1)
    assert stale.status_code == 409
    assert 'id="room"' in stale.text
    clock.at(300)
    assert "This station has closed" in student.press("letters", seen=1).text
    assert "This station has closed" in other.press("letters").text


def test_a_station_left_early_stays_closed_and_the_next_opens_at_once(sitting, clock):
    student = sitting.enters(1)
    clock.at(100)
    answer = student.press("finish", key="leaving")
    assert answer.headers["HX-Redirect"] == sitting.address
    assert sitting.title == "Station 1 is closed"
    assert "You have left it early" in sitting.looks().text
    assert sitting.left_s == 60
    assert student.press("finish", key="leaving").status_code == 200
    assert "This station has closed" in student.press("letters").text
    clock.at(110)
    second = sitting.enters(2)
    assert second.attempt != student.attempt
    assert sitting.left_s == 300
    assert sitting.opened == [0, 110]
    assert student.press("letters").status_code == 409


def test_next_pressed_twice_or_in_two_tabs_opens_one_station_once(sitting, clock):
    sitting.enters(1)
    clock.at(310)
    with ThreadPoolExecutor(6) as pool:
        answers = list(pool.map(lambda _: sitting.presses_next(2), range(12)))
    assert {answer.status_code for answer in answers} == {303}
    assert sitting.opened == [0, 310]
    store = sitting.client.app.state.store
    rows = store.attempts_of(sitting_session(sitting))
    attempts = {one.attempt_id for one in sitting.stations}
    assert len([row for row in rows if row.id in attempts]) == 2
    for one in attempts:
        assert [event.kind for event in store.events(one)][:1] == ["begin"]
        assert [event.number for event in store.events(one)] == [1] + [2] * (
            len(store.events(one)) - 1
        )


def sitting_session(sitting: Sitting) -> int:
    circuits = sitting.client.app.state.exams._circuits
    for session_id in range(1, 5):
        if circuits.find(sitting.circuit, session_id):
            return session_id
    raise LookupError


@pytest.mark.parametrize(("pressed", "opened_at"), [(1, [0]), (2, [0]), (3, [0])])
def test_while_a_station_is_open_none_can_be_opened(sitting, clock, pressed, opened_at):
    sitting.enters(1)
    clock.at(20)
    assert sitting.presses_next(pressed).headers["location"] == sitting.address
    assert sitting.opened == opened_at


def test_a_station_cannot_be_skipped(sitting, clock):
    assert sitting.presses_next(2).status_code == 303
    assert sitting.opened == []
    assert sitting.presses_next(13).status_code == 422


def test_who_was_away_finds_the_true_time_and_stations_made_up(client, clock):
    sitting = Sitting.begins(client, stations=4)
    sitting.enters(1)
    clock.at(360 + 360 + 100)  # in the third: two times a station and the change
    third = sitting.sits()
    assert sitting.opened == [0, 360, 720]
    assert sitting.left_s == 200
    assert "station 3 of 4" in third.gets().text
    second = Student(client=client, attempt=str(sitting.stations[1].attempt_id))
    assert [(one.kind, (one.at - NOON).total_seconds()) for one in second.events] == [
        ("begin", 360),
        ("finish", 660),
    ]
    clock.at(100_000)
    assert "not passed" in sitting.looks().text.lower()
    assert sitting.opened == [0, 360, 720, 1080]


def test_the_next_station_opens_by_itself_after_a_minute(sitting, clock):
    sitting.enters(1)
    clock.at(330)
    assert sitting.title == "Station 1 is closed"
    assert "The bell has rung" in sitting.looks().text
    assert sitting.left_s == 30
    clock.at(365)
    sitting.sits()
    assert sitting.opened == [0, 360]
    assert sitting.left_s == 295


def test_a_restart_goes_on_with_the_true_time_and_the_same_eyes(tmp_path: Path, clock):
    with opened(tmp_path, **CASES) as client:
        sitting = Sitting.begins(client, stations=2)
        student = sitting.enters(1)
        student.does("ask", question="read-down")
        [case] = [client.app.state.attempts.open(session, student.attempt).case for session in (1,)]
        cookies, events = dict(client.cookies), student.events
    for path in (tmp_path / "cases").iterdir():
        path.unlink()  # even a casebook without the patient keeps the eye
    settings = Settings(data_folder=tmp_path / "data", cases_folder=tmp_path / "cases")
    clock.at(200)
    with TestClient(
        create_app(settings), base_url=OUR_ORIGIN, headers={"Origin": OUR_ORIGIN}, cookies=cookies
    ) as client:
        again = replace(sitting, client=client)
        assert again.left_s == 100
        student = again.sits()
        assert student.events == events
        same = client.app.state.attempts.open(1, student.attempt).case
        assert (same.eyes, same.needs, same.digest) == (case.eyes, case.needs, case.digest)
        student.does("ask", question="read-down")


def test_a_server_stopped_between_opening_and_seating_seats_the_patient_later(sitting, clock):
    circuits = sitting.client.app.state.exams._circuits
    circuits.open_station(sitting.circuit, 1, NOON)
    clock.at(40)
    sitting.sits()
    assert sitting.opened == [0]
    assert sitting.left_s == 260


def test_no_eye_is_reviewed_before_the_circuit_is_over(sitting, clock):
    student = sitting.enters(1)
    student.does("ask", question="read-down")
    asked = student.last.number
    student.does("finish")

    def shut() -> list[int]:
        return [
            student.gets("/review/timeline").status_code,
            student.gets(f"/why/{asked}").status_code,
            student.gets("/pictures/1-R-0.png").status_code,
            student.press("again", number=1).status_code,
        ]

    for at_s, number in ((10, 0), (20, 2)):
        clock.at(at_s)
        if number:
            sitting.enters(number)
        assert student.gets("/review").headers["location"] == sitting.address
        assert student.gets().headers["location"] == sitting.address
        assert shut() == [404] * 4
    clock.at(320)  # the last bell rings, and what arrived before it may still be written
    assert sitting.title == "The last bell has rung"
    assert shut() == [404] * 4
    clock.at(325)
    report = sitting.looks().text
    assert f'href="{student.address}/review"' in report
    assert student.gets("/review").status_code == 200
    assert shut() == [200, 200, 200, 200]


def test_a_copy_of_an_exam_has_its_eyes_and_no_bell(client, clock):
    sitting = Sitting.begins(client, stations=1)
    student = sitting.enters(1)
    student.does("place", at="R.2", code="sphere-1.00")
    student.does("finish")
    sitting.looks()
    copied = student.press("again", number=2).headers["HX-Redirect"]
    copy = replace(student, attempt=copied.rpartition("/")[2])
    clock.at(9000)
    copy.does("take", at="R.2")
    session = sitting_session(sitting)
    attempts = client.app.state.attempts
    own, other = (attempts.open(session, one.attempt).case for one in (student, copy))
    assert own is other
    assert "data-left" not in copy.gets().text


def test_the_report_says_what_each_eye_came_to_and_whether_it_was_enough(client, clock):
    sitting = Sitting.begins(client, stations=2, extra="50")
    student = sitting.enters(1)  # the end point of every eye is -2.00 here
    for field, text in (("right_sphere", "-2.00"), ("left_sphere", "-2.50")):
        student.does("card", field=field, text=text)
    clock.at(420)
    student.does("finish")
    second = sitting.enters(2)
    second.does("card", field="right_sphere", text="-2.00")
    clock.at(450)
    second.does("finish")
    page = html.unescape(sitting.looks().text)
    totals = [
        int(re.search(r'class="number">(\d+)</span>', one.gets("/review").text)[1])
        for one in (student, second)
    ]
    assert totals[0] > totals[1], "the second left one eye unwritten"
    for total in totals:
        assert f"<b>{total}</b>" in page, "the report has the marks of the reviews"
    said = re.search(r"<h1>(Passed|Not passed): (\d+) of 100 on average", page)
    assert abs(int(said[2]) - sum(totals) / 2.0) <= 1.0
    assert said[1] == ("Passed" if int(said[2]) >= 60 and min(totals) >= 40 else "Not passed")
    assert "0.50 D" in page
    assert "over-minus" in page
    assert "Station 2, left eye: nothing was written that can be marked." in page
    assert "Station 1, left eye: 0.50 D from the end point, over-minus." in page
    assert "50 % extra time" in page
    assert "2:00 of it was used" in page  # 420 s, of which 300 are the station's own
    assert "no station under 40" in page


def test_a_circuit_of_others_is_not_found(client, clock, sitting):
    student = sitting.enters(1)
    cookies = dict(client.cookies)
    client.cookies.clear()
    try:
        client.get("/")
        for path in (sitting.address, "/circuits/nobody", student.address):
            assert client.get(path).status_code == 404, path
        assert sitting.presses_next(2).status_code == 404
    finally:
        client.cookies.clear()
        client.cookies.update(cookies)


def test_the_start_page_leads_to_circuits_and_not_to_their_patients(client, clock, sitting):
    student = sitting.enters(1)
    page = client.get("/").text
    assert f'<a href="{sitting.address}">Go on' in page
    assert student.attempt not in page
    assert "an honest self-test" in page
    clock.at(100_000)
    sitting.looks()
    page = client.get("/").text
    assert f'<a href="{sitting.address}">Report' in page
    assert student.attempt not in page


def test_exams_are_listed_where_asked_for_and_only_when_nothing_is_hidden(client, clock):
    sitting = Sitting.begins(client, stations=2)
    student = sitting.enters(1)
    attempts, session = client.app.state.attempts, sitting_session(sitting)

    def listed(**wanted: bool) -> bool:
        rows = [one.row.id for one in attempts.of_session(session, **wanted)]
        return student.attempt in rows

    student.does("finish")
    assert not listed(exams=True)
    clock.at(100_000)
    sitting.looks()
    assert listed(exams=True)
    assert not listed()
