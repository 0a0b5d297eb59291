"""Nothing of the eye or of chance leaves the server before the end of an attempt."""

import dataclasses
import io
import logging
import typing
from types import UnionType

import pytest
from fastapi.routing import iter_route_contexts
from fastapi.testclient import TestClient
from PIL import Image

from optics.light.lens import EyeSide
from server.attempts.sight import view_of
from server.attempts.talk import Reply
from server.evidence import EvidenceKeeper
from server.marking.truth import Truth
from server.settings import REPOSITORY
from server.web import (
    contexts,
    contexts_circuit,
    contexts_evidence,
    contexts_hand,
    contexts_pages,
    contexts_parts,
    contexts_progress,
    contexts_review,
    contexts_told,
    contexts_wall,
)
from tests.audience import Audience, Clockwork, everything_in, plays
from tests.canary import NEED_TEXTS, STEM, canary_case, decoy_case, found_in
from tests.student import Student, opened

EXPLAINING = ("/why/", "/adds/", "/told")  # teaching mode shows these when asked
PICTURE = "/pictures/"


@pytest.fixture(autouse=True)
def nothing_is_computed(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the page about the engine wait: how far its table is would differ by the clock."""
    monkeypatch.setattr(EvidenceKeeper, "_start", lambda _: None)


@pytest.fixture(scope="module")
def house(tmp_path_factory):
    with opened(tmp_path_factory.mktemp("house"), **{STEM: canary_case()}) as browser:
        yield browser


@pytest.fixture
def client(house) -> TestClient:
    return house


def secrets_of(student: Student) -> tuple[bytes, bytes]:
    attempts = student.client.app.state.attempts
    [case] = attempts.casebook.cases.values()
    [row] = [
        row
        for session_id in (1, 2, 3)
        for row in student.client.app.state.store.attempts_of(session_id)
        if row.id == student.attempt
    ]
    assert len(row.seed) == 16
    return row.seed, bytes.fromhex(case.digest)


@pytest.mark.parametrize("mode", ["teaching", "practice"])
def test_no_answer_holds_a_figure_before_the_end(client, caplog, mode):
    caplog.set_level(logging.DEBUG, logger="server")
    audience = Audience(Student.begins(client, mode))
    audience.visited.add(("POST", "/attempts"))
    plays(audience)
    numbers = audience.provokes()
    assert {403, 404, 405, 409, 413, 422} <= numbers
    secrets = secrets_of(audience.student)
    for path, answer in audience.heard:
        told = mode == "teaching" and any(part in path for part in EXPLAINING)
        if "/static/" in path:  # a length there may look like a power by chance
            assert answer.content == (REPOSITORY / path.partition("/")[2]).read_bytes()
            continue
        hits = [] if told else found_in(everything_in(answer), *secrets)
        assert not hits, f"{path} in {mode} mode tells {hits}"
        assert answer.status_code < 500, path
    assert not found_in(caplog.text, *secrets)
    everywhere = {
        (method, route.path)
        for route in iter_route_contexts(client.app.routes)
        for method in (route.methods or {"GET"})
    }
    ending = {("POST", "/attempts/{attempt_id}/finish"), ("POST", "/progress/forget")}
    assert everywhere - audience.visited == ending, "add the new route to PLAY"


@pytest.mark.parametrize("mode", ["teaching", "practice"])
def test_the_review_does_hold_them(client, mode):
    """So the search above can find what it looks for."""
    student = Student.begins(client, mode)
    student.does("finish")
    review = student.gets("/review").text
    hits = found_in(review)
    for text in NEED_TEXTS:
        assert text in review
    assert {"3.37", "1.13", "× 137", "2.61", "−0.87", "× 041"} <= set(hits)
    assert not found_in(student.client.get("/").text, *secrets_of(student))


def test_practice_explains_nothing_and_opens_the_picture_only_when_asked(client):
    student = Student.begins(client, "practice")
    student.does("ask", question="read-down")
    number = student.last.number
    shut = [f"/why/{number}", f"/adds/{number}", f"/pictures/{number}-R-0.png"]
    shut.append(f"{shut[-1]}?look=12")
    room = student.gets().text + student.gets("/room").text
    assert [student.gets(path).status_code for path in shut] == [404] * 4
    assert "/why/" not in room
    assert "/adds/" not in room
    assert "/pictures/" not in room
    student.does("picture")
    assert student.last.kind == "picture"
    assert "/pictures/" in student.gets().text
    assert [student.gets(path).status_code for path in shut] == [404, 404, 200, 200]
    why = next(event for event in student.events if event.kind == "ask").body["why"]
    assert why.partition("Half")[0] not in student.gets().text
    student.does("finish")
    assert student.gets(f"/why/{number}").status_code == 200


def test_teaching_explains_on_ask_only(client):
    student = Student.begins(client)
    room = student.does("ask", question="read-down")
    why = student.last.body["why"].partition("Half")[0]  # what follows is told in the own notation
    assert "blur left" in why
    assert why not in room
    assert why not in student.gets().text
    assert why in student.gets(f"/why/{student.last.number}").text


def test_a_picture_holds_pixels_and_nothing_else(client):
    student = Student.begins(client)
    bytes_ = student.gets("/pictures/1-L-0.png").content
    chunks, at = [], 8
    while at < len(bytes_):
        size = int.from_bytes(bytes_[at : at + 4], "big")
        chunks.append(bytes_[at + 4 : at + 8])
        at += 12 + size
    assert (set(chunks), at) == ({b"IHDR", b"IDAT", b"IEND"}, len(bytes_))
    with Image.open(io.BytesIO(bytes_)) as picture:
        assert (picture.mode, picture.info) == ("L", {})


def test_the_picture_of_one_moment_is_the_same_whoever_asks_and_however_often(client):
    student = Student.begins(client)
    first = student.gets("/pictures/1-R-0.png").content
    student.does("place", at="R.2", code="sphere-3.00")
    assert student.gets("/pictures/1-R-another.png").content == first
    assert student.gets("/pictures/2-R-0.png").content != first


@pytest.mark.parametrize("mode", ["teaching", "practice"])
def test_but_for_replies_and_pictures_no_answer_depends_on_the_eye(tmp_path, monkeypatch, mode):
    """Not in its length, its order, its headers, nor by any hash: byte for byte the same."""
    words = Reply(words="C, D.", rows=())
    monkeypatch.setattr("server.attempts.service.reading_reply", lambda *_: words)
    told = {"code": "same", "reply": "The same.", "facts": {}}
    monkeypatch.setattr("server.attempts.service.answered", lambda *_: told)
    heard = []
    for name, case in (("first", canary_case()), ("second", decoy_case())):
        (tmp_path / name).mkdir()
        with monkeypatch.context() as patches:
            Clockwork(patches)
            with opened(tmp_path / name, **{STEM: case}) as client:
                audience = Audience(Student.begins(client, mode))
                plays(audience)
                audience.provokes()
        heard.append(audience.heard)
    compared = 0
    for (path, one), (_, other) in zip(*heard, strict=True):
        if mode == "teaching" and any(part in path for part in EXPLAINING):
            continue
        if PICTURE in path and one.status_code == 200:
            assert dict(one.headers) | {"content-length": ""} == dict(other.headers) | {
                "content-length": ""
            }
            continue
        assert one.status_code == other.status_code, path
        assert one.headers.multi_items() == other.headers.multi_items(), path
        assert one.content == other.content, path
        compared += 1
    assert compared > 40


PLAIN = {str, int, float, bool, type(None)}
CONTEXTS = [
    kind
    for module in (
        contexts,
        contexts_circuit,
        contexts_evidence,
        contexts_hand,
        contexts_pages,
        contexts_parts,
        contexts_progress,
        contexts_review,
        contexts_told,
        contexts_wall,
    )
    for kind in vars(module).values()
    if dataclasses.is_dataclass(kind) and kind.__module__ == module.__name__
]


def leaves(hint: object):
    """Yield what a type is made of, tuples and unions opened."""
    if typing.get_origin(hint) in (tuple, UnionType, typing.Union):
        for part in typing.get_args(hint):
            yield from () if part is Ellipsis else leaves(part)
    else:
        yield hint


@pytest.mark.parametrize("context", CONTEXTS, ids=lambda context: context.__name__)
def test_templates_see_plain_values_only(context):
    hints = typing.get_type_hints(context)
    allowed = PLAIN | set(CONTEXTS)
    rich = {
        field.name
        for field in dataclasses.fields(context)
        if not set(leaves(hints[field.name])) <= allowed
    }
    assert not rich, f"{context.__name__} hands objects to its template: {sorted(rich)}"
    assert context.__dataclass_params__.frozen


def test_the_walk_sees_the_contexts_and_what_is_wrong_with_them():
    assert len(CONTEXTS) > 25
    assert contexts.Room in CONTEXTS
    assert set(leaves(tuple[tuple[str, dict[str, int]], ...] | None)) - PLAIN == {dict[str, int]}


def test_nothing_shows_its_figures_when_it_is_printed(client):
    student = Student.begins(client)
    student.does("ask", question="read-down")
    attempts = client.app.state.attempts
    seed, _ = secrets_of(student)
    [attempt] = [one for one in attempts.of_session(1) if one.row.id == student.attempt]
    case = attempt.case
    truth = Truth(vergence=case.eyes.right.required_vergence, acuity_logmar=-0.1)
    view = view_of(case, attempt.state)
    shown = {
        "Case": repr(case).replace(STEM, "").replace(case.digest, ""),
        "Attempt": repr(attempt),
        "State": repr(attempt.state),
        "AttemptRow": repr(attempt.row).replace(STEM, ""),
        "Event": repr(student.last),
        "Eye": repr(case.eyes.left),
        "Truth": repr(truth),
        "View": repr(view),
        "EyeView": repr(view.eye(EyeSide.RIGHT)),
        "Settings": repr(client.app.state.settings),
    }
    for name, text in shown.items():
        assert text.startswith(name)
        assert not found_in(text, seed), name
        assert student.last.body["why"] not in text, name
    assert found_in(repr(case.needs)), "the search finds nothing where all is shown"


def test_an_unexpected_fault_is_logged_without_figures(client, caplog, monkeypatch):
    student = Student.begins(client)

    def broken(case, state, **_):
        raise ZeroDivisionError("no light")

    monkeypatch.setattr("server.attempts.questions.view_of", broken)
    answer = student.press("ask", question="read-down")
    assert answer.status_code == 500
    assert "ZeroDivisionError" in caplog.text
    assert not found_in(caplog.text + everything_in(answer), *secrets_of(student))


def test_every_seed_is_its_own(client):
    rows = [Student.begins(client, "practice") for _ in range(5)]
    assert len({secrets_of(student)[0] for student in rows}) == 5
    assert len({student.letters for student in rows}) == 5
