"""Stations open, close and are made up by the server's clock, whatever the browser does.

Every time here is the test's own: stations of 300 s, 60 s to change.
"""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from server.app import create_app
from server.settings import Settings
from tests.circuit.conftest import CASES
from tests.conftest import OUR_ORIGIN
from tests.sitting import NOON, Sitting, session_of
from tests.student import Student, opened


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
    rows = store.attempts_of(session_of(sitting))
    attempts = {one.attempt_id for one in sitting.stations}
    assert len([row for row in rows if row.id in attempts]) == 2
    for one in attempts:
        assert [event.kind for event in store.events(one)][:1] == ["begin"]
        assert [event.number for event in store.events(one)] == [1] + [2] * (
            len(store.events(one)) - 1
        )


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


def test_no_copy_of_a_known_patient_can_be_smuggled_into_a_station(client, clock):
    known = Student.begins(client)
    known.does("letters")
    known.does("finish")
    sitting = Sitting.begins(client)
    copy = known.press("again", key=f"circuit.{sitting.circuit}", number=1)
    assert copy.status_code == 200
    student = sitting.enters(1)
    assert student.address != copy.headers["HX-Redirect"]
    assert student.state.mode == "exam"
