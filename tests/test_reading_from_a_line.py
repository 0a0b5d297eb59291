"""The chart read from a line down: what is read, what it costs, and what it shows."""

import re
from collections.abc import Iterator

import pytest
from fastapi.testclient import TestClient

from optics.sight.targets import CHART_LINES_LOGMAR
from server.attempts.clock import ANSWER_S, LETTER_S
from server.attempts.readings import acuity_of, began_too_low, note_of, right_letters, rows_from
from server.attempts.state import Said
from server.attempts.told import _asked, _reply, asking_at
from server.errors import Refused
from server.marking.looks import work_of
from server.marking.steps import steps_of
from tests.script import Script, case_of, truths_of
from tests.student import Student, case_text, opened

EVERY = slice(None)


@pytest.fixture(scope="module")
def client(tmp_path_factory) -> Iterator[TestClient]:
    folder = tmp_path_factory.mktemp("house")
    with opened(folder, one=case_text(right="plano", left="-4.00")) as browser:
        yield browser


@pytest.fixture
def student(client) -> Student:
    client.cookies.delete("notation")
    student = Student.begins(client)
    student.does("place", at="L.4", code="occluder")
    return student


def ticked(room: str) -> list[str]:
    """Return the score beside each line of the wall."""
    return re.findall(r'class="score">([^<]*)<', room)


def test_only_what_is_asked_for_is_read_ticked_and_paid_for(student):
    before_s = student.state.clock_s
    room = student.does("ask", question="read-down", start="0.3")
    rows = student.last.body["rows"]
    assert [size for size, *_ in rows] == list(CHART_LINES_LOGMAR[7 : 7 + len(rows)])
    assert [shown for _, shown, *_ in rows] == list(student.letters[7 : 7 + len(rows)])
    assert student.last.body["start"] == 0.3
    spent_s = student.state.clock_s - before_s
    assert spent_s == pytest.approx(ANSWER_S + LETTER_S * 5 * len(rows))
    scores = ticked(room)
    assert scores[:7] == [""] * 7
    assert scores[7] == "5/5"
    assert "Read from the 6/12 line down." in room
    assert "6/12 was read whole: the lines above count as read." in room


def test_the_default_reads_from_the_top_and_says_nothing_more(student):
    room = student.does("ask", question="read-down")
    assert "start" not in student.last.body
    assert student.last.body["rows"][0][0] == CHART_LINES_LOGMAR[0]
    assert "Read down as far as you can." in room
    assert 'class="note' not in room


def test_a_reading_that_began_too_low_says_so(student):
    student.does("place", at="R.2", code="sphere+4.00")
    room = student.does("ask", question="read-down", start="0.0")
    [row] = student.last.body["rows"]
    assert row[3] is False
    assert "This began too low: 6/6 was not read whole" in room
    assert "at best 6/7.5" in room
    assert "I can&#39;t make out any letters" in room


@pytest.mark.parametrize(
    ("wall", "fields", "words"),
    [
        ({}, {"start": "0.25"}, "start must be a line of the chart, 1 to -0.3 logMAR by 0.1"),
        ({}, {"start": "1.1"}, "less than or equal to 1"),
        ({}, {"start": "nan"}, "start"),
        ({}, {"start": "0.3", "question": "nearer"}, "Only reading down begins at a line"),
        ({"view": "line"}, {"start": "0.3"}, "only where the whole chart hangs"),
        ({"view": "fan"}, {"start": "0.3"}, "needs a chart of letters"),
    ],
)
def test_where_reading_cannot_begin_it_is_refused(student, wall, fields, words):
    if wall:
        student.does("wall", **wall)
    assert words in student.refused("ask", **({"question": "read-down"} | fields))


def test_only_the_lines_of_a_whole_chart_can_be_pointed_at(student):
    pointed = re.findall(r'type="radio" name="start" value="([^"]+)"', student.gets().text)
    assert pointed == [f"{line:.1f}" for line in CHART_LINES_LOGMAR]
    for view in ("line", "rings", "fan"):
        assert 'name="start"' not in student.does("wall", view=view)


def test_the_line_is_told_in_the_readers_notation_everywhere(client, student):
    student.does("ask", question="read-down", start="0.3")
    client.post("/notation", data={"acuity": "decimal", "cylinder": "minus"})
    assert "Read from the 0.50 line down." in student.gets().text
    student.does("finish")
    pages = [student.gets("/review").text, student.gets("/review/timeline").text]
    for page in pages:
        assert "Read from the 0.50 line down." in page
        assert "logMAR]" not in page
    assert "0.50 was read whole" in pages[0]


def said(start: float | None, *rights: int) -> Said:
    """Return a reading from a line with so many letters right in each row."""
    first = 1.0 if start is None else start
    rows = tuple(
        (round(first - 0.1 * row, 1), "CDHKN", "CDHKN"[:right] + "?" * (5 - right), right > 0)
        for row, right in enumerate(rights)
    )
    return Said(number=1, question="read-down", asked="", reply="", rows=rows, start_logmar=start)


# a letter is worth 0.02 from a line's 0.1 (common practice, no source)
@pytest.mark.parametrize(
    ("start", "rights", "acuity", "low"),
    [
        (0.3, (5, 5, 3, 0), 0.3 - 0.1 - 0.06, False),
        (0.3, (5, 0), 0.3, False),
        (0.3, (4, 5), 0.4 - 0.18, True),
        (0.0, (0,), 0.1, True),
        (1.0, (5, 4, 0), 1.0 - 0.08, False),
        (None, (4, 2), 1.1 - 0.12, False),
    ],
)
def test_lines_above_count_only_if_the_first_was_read_whole(start, rights, acuity, low):
    reading = said(start, *rights)
    assert right_letters(reading.rows) == sum(rights)
    assert acuity_of(reading.rows) == pytest.approx(acuity)
    assert began_too_low(reading) == low
    assert ("too low" in note_of(reading)) == low
    assert bool(note_of(reading)) == (start is not None)


def test_a_dark_reading_of_no_rows_has_no_note():
    assert note_of(Said(number=1, question="read-down", asked="", reply="", start_logmar=0.3)) == ""


def test_the_rows_from_a_line_are_the_charts(tmp_path):
    wall = Script(case_of(tmp_path)).state.wall
    assert rows_from(wall, None) == wall.rows
    assert rows_from(wall, 1.0) == wall.rows
    assert rows_from(wall, -0.3) == wall.rows[-1:]
    assert rows_from(wall, 0.6) == wall.rows[4:]
    with pytest.raises(Refused, match=r"got 0\.65"):
        rows_from(wall, 0.65)


def looks(script: Script):
    steps = steps_of(script.case, script.events, truths_of(script.case))
    return [look for work in work_of(steps, dict.fromkeys("RL")).values() for look in work.looks]


def test_marking_takes_no_acuity_from_a_reading_that_began_too_low(tmp_path):
    script = Script(case_of(tmp_path)).covers("L")
    script.reads(0.2, start=0.3).reads(0.34, start=0.3)
    whole, low = looks(script)
    assert (whole.acuity_logmar, whole.too_low) == (pytest.approx(0.2), False)
    assert (low.acuity_logmar, low.too_low) == (None, True)
    assert low.read_logmar == pytest.approx(0.34)


def test_what_the_answers_told_hears_only_the_letters_that_were_read(tmp_path):
    script = Script(case_of(tmp_path)).covers("L").reads(0.2, start=0.4)
    [(state, reading)] = _asked(script.events)
    side, asking = asking_at(state, "read-down")
    assert (side, asking is not None) == ("R", True)
    heard = _reply(reading)
    assert [(row.size_logmar, row.right, row.tried) for row in heard] == [
        *((0.4, 5, True), (0.3, 5, True), (0.2, 5, True), (0.1, 0, False)),
    ]
