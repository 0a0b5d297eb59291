"""What a circuit's plan and clock allow, and what a bell refuses.

Every time here is the test's own: stations of 300 s, 60 s to change.
"""

import html
from collections.abc import Iterator
from datetime import timedelta

import pytest

from server.attempts import service
from server.attempts.circuit import STANDARD, Opened, Phase, Plan, due, standing
from server.errors import Refused
from tests.sitting import NOON, Sitting, left_in
from tests.student import HTMX


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

    def slowly(*given):
        clock.at(302)  # the bell rings while the patient reads, and the page is looked at
        assert sitting.looks().status_code == 200
        return answered(*given)

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
