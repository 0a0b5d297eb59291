"""What a circuit shows before it is over, and what after it."""

import html
import re
from dataclasses import replace

from tests.sitting import Sitting, session_of


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
    session = session_of(sitting)
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
    attempts, session = client.app.state.attempts, session_of(sitting)

    def listed(**wanted: bool) -> bool:
        rows = [one.row.id for one in attempts.of_session(session, **wanted)]
        return student.attempt in rows

    student.does("finish")
    assert not listed(exams=True)
    clock.at(100_000)
    sitting.looks()
    assert listed(exams=True)
    assert not listed()
