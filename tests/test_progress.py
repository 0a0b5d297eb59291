"""What a visitor has done so far; their data taken away, and deleted."""

import json

import pytest
import sqlalchemy as sa

from server.attempts.progress import advised
from server.store.schema import attempt, event, mark, session
from tests.student import Student, case_text, opened


@pytest.fixture(scope="module")
def client(tmp_path_factory):
    with opened(tmp_path_factory.mktemp("house"), one=case_text()) as browser:
        yield browser


def finished(client, sphere: str, mode: str = "practice") -> Student:
    student = Student.begins(client, mode)
    student.does("place", at="L.4", code="occluder")
    student.does("ask", question="read-down")
    for eye, power in (("right", sphere), ("left", "-2.00")):
        student.does("card", field=f"{eye}_sphere", text=power)
    student.does("finish")
    return student


def test_progress_counts_what_is_finished_and_no_copies(client):
    client.cookies.clear()
    assert "Nothing is finished yet" in client.get("/progress").text
    good = finished(client, "-1.75")
    finished(client, "-4.00")
    back = good.press("again", number=3, client_key="copy-of-one").headers["HX-Redirect"]
    copy = Student(client=client, attempt=back.rpartition("/")[2])
    copy.does("finish")
    page = client.get("/progress").text
    assert page.count("a piano tuner, 30</a>") == 2
    assert "Myopia" in page
    assert copy.attempt not in page


@pytest.mark.parametrize(
    ("results", "level", "why"),
    [
        ([], 1, "Begin with one thing to find."),
        ([(1, False)], 1, "You have passed none of level 1 yet"),
        ([(1, True)], 1, "You have passed 1 of level 1"),
        ([(1, True), (1, True)], 2, "You passed 2 of level 1 or higher."),
        # a pass above counts below: nobody is sent back
        ([(2, True), (3, True)], 3, "You have passed 1 of level 3"),
        ([(4, True), (4, True)], 4, "You passed at every level"),
    ],
)
def test_the_next_level_has_its_reason(results, level, why):
    at, said = advised(results, [("Myopia", 3, 90.0)])
    assert at == level
    assert said.startswith(why)
    assert "least well:" not in said


def test_the_kind_of_eye_that_went_least_well_is_named():
    _, said = advised([(1, True)], [("Myopia", 3, 90.0), ("Unequal eyes", 1, 76.0)])
    assert said.endswith("this kind went least well: unequal eyes, 76 of 100.")


def test_everything_can_be_taken_away_and_what_goes_on_stays_hidden(client):
    client.cookies.clear()
    done = finished(client, "-1.75")
    going_on = Student.begins(client, "practice")
    going_on.does("ask", question="read-down")
    told = client.get("/progress/export.json")
    assert "attachment" in told.headers["Content-Disposition"]
    attempts = json.loads(told.text)["attempts"]
    assert [one["ended"] for one in attempts].count(True) == 1
    [hidden] = [one for one in attempts if not one["ended"]]
    [shown] = [one for one in attempts if one["ended"]]
    assert hidden["mark"] is None
    assert not any({"why", "facts", "case"} & set(one["facts"]) for one in hidden["events"])
    assert any("why" in one["facts"] for one in shown["events"])
    assert len(shown["events"]) == len(done.events)


def test_everything_is_deleted_when_asked_for_and_nothing_else(client):
    client.cookies.clear()
    other = finished(client, "-1.75")
    others_cookies = dict(client.cookies)
    client.cookies.clear()
    own = finished(client, "-2.00")
    assert client.post("/progress/forget").status_code == 422, "only who is sure"
    answer = client.post("/progress/forget", data={"sure": "yes"}, follow_redirects=False)
    assert answer.status_code == 303
    assert own.gets("/review").status_code == 404
    engine = client.app.state.store._engine
    with engine.connect() as connection:
        for table in (event, mark):
            query = sa.select(table).where(table.c.attempt_id == own.attempt)
            assert connection.execute(query).all() == []
        ids = set(connection.execute(sa.select(attempt.c.id)).scalars())
        assert own.attempt not in ids
        assert other.attempt in ids
        assert connection.execute(sa.select(session.c.forgotten_at)).scalars().all()[-1] is None
    client.cookies.clear()
    client.cookies.update(others_cookies)
    assert other.gets("/review").status_code == 200


def test_the_log_lets_go_of_nothing_that_was_not_forgotten(client):
    kept = finished(client, "-1.75")
    assert kept.gets("/review").status_code == 200, "which makes a mark"
    engine = client.app.state.store._engine
    for table in (event, mark):
        with engine.connect() as connection, pytest.raises(sa.exc.IntegrityError):
            connection.execute(sa.delete(table).where(table.c.attempt_id == kept.attempt))
