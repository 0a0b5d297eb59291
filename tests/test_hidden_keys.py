"""What the further keys of a case hide: found where shown, told after the end and never before.

That no page tells them is looked for by `tests/test_secrecy.py`, in whose canary they stand.
"""

import dataclasses
import html

import pytest

from tests.canary import BECAUSE, HIDDEN, STATED_RIGHT_D, STEM, canary_case, found_in
from tests.student import Student, case_text, opened

NEXT_STEPS, WANTED = "What happens next</h2>", "Wanted here"


@pytest.fixture(scope="module")
def house(tmp_path_factory):
    with opened(tmp_path_factory.mktemp("house"), **{STEM: canary_case()}) as browser:
        yield browser


def test_every_hidden_figure_of_the_canary_is_found_where_it_stands():
    figures = {
        f"{value:g}"
        for table, keys in HIDDEN.items()
        for value in keys.values()
        if table != "answer"
    } | {f"{STATED_RIGHT_D:g}"}
    hits = set(found_in(canary_case()))
    unsigned = {hit.lstrip("+-") for hit in hits}
    assert {figure.lstrip("-") for figure in figures} <= unsigned
    assert BECAUSE.split()[1] in hits
    assert len(figures) == 22


def test_a_pair_of_eyes_does_not_show_what_both_share(house):
    [case] = house.app.state.attempts.casebook.cases.values()
    assert not found_in(repr(case.eyes))


def test_neither_medium_nor_nerve_is_shown_when_an_eye_is_printed(house):
    [case] = house.app.state.attempts.casebook.cases.values()
    for eye in (case.eyes.right, case.eyes.left):
        shown = {part.name for part in dataclasses.fields(eye) if part.repr}
        assert shown == {"side", "pupil_mm"}
        assert not found_in(repr(eye))


# ---- what should follow from the refraction


@pytest.mark.parametrize("mode", ["teaching", "practice"])
def test_what_should_follow_is_told_after_the_end_and_never_before(house, mode):
    student = Student.begins(house, mode)
    student.does("card", field="prescribe", text="yes")
    student.does("card", field="refer", text="same day")
    student.does("ask", question="read-down")
    number = student.last.number
    for path in ("", "/room", "/review", f"/why/{number}", f"/adds/{number}"):
        said = html.unescape(student.gets(path).text)
        assert not [words for words in (BECAUSE, WANTED, NEXT_STEPS) if words in said], path
    student.does("finish")
    review = html.unescape(student.gets("/review").text)
    for words in (BECAUSE, WANTED, NEXT_STEPS):
        assert review.count(words) == 1, words
    assert rows_of(review) == [("prescribe", "yes", "no"), ("refer", "same day", "same day ✓")]


def rows_of(review: str) -> list[tuple[str, ...]]:
    """Return the rows of the table under "What happens next"."""
    table = review.partition(NEXT_STEPS)[2].partition("</table>")[0]
    return [
        tuple(
            cell.partition(">")[2].partition("</")[0]
            for cell in row.replace("<th ", "<td ").split("<td")[1:]
        )
        for row in table.partition("<tbody>")[2].split("<tr>")[1:]
    ]


def test_what_was_not_recorded_is_said_so(house):
    student = Student.begins(house)
    student.does("finish")
    review = student.gets("/review").text
    assert rows_of(review) == [("prescribe", "–", "no"), ("refer", "–", "same day")]


def test_a_case_without_an_answer_has_no_next_steps_to_show(tmp_path):
    with opened(tmp_path, plain=case_text()) as client:
        student = Student.begins(client)
        student.does("card", field="refer", text="urgent")
        student.does("finish")
        review = student.gets("/review").text
    assert NEXT_STEPS not in review
    assert WANTED not in review
