"""Nonsense is refused in words: no fault of the server, no trace of its insides, nothing kept."""

import inspect
import time
import types
import typing

import pytest
from fastapi.routing import iter_route_contexts
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pydantic import BaseModel

from optics.light.lens_case import full_set
from optics.patient.compare import Answer
from optics.patient.questions import Question
from optics.sight.view import EyeView
from server.marking.truth import Truth
from server.web import forms
from server.web.security import SAFE_METHODS
from tests.student import HTMX, Student, case_text, opened

FORMS = {
    name: form
    for name, form in inspect.getmembers(forms, inspect.isclass)
    if issubclass(form, BaseModel) and form.__module__ == forms.__name__
}
ACTS = {
    "place": "PlaceForm",
    "take": "PressForm",
    "step": "StepForm",
    "turn": "TurnForm",
    "move": "MoveForm",
    "wall": "WallForm",
    "letters": "PressForm",
    "fit": "FitForm",
    "undo": "PressForm",
    "picture": "PressForm",
    "dismiss": "PressForm",
    "hold": "HoldForm",
    "aim": "AimForm",
    "show": "ShowForm",
    "swap": "PressForm",
    "away": "PressForm",
    "ask": "AskForm",
    "history": "HistoryForm",
    "card": "CardForm",
    "again": "GoBackForm",
    "finish": "PressForm",
}
CIRCUIT_ACTS = {"circuits", "next"}  # tried in tests/circuit/
# What is good in the fields that a form needs, so that the bad one alone is refused.
GOOD = {
    "code": "sphere+1.00",
    "step": "plus",
    "to": "R.1",
    "question": "read-down",
    "topic": "pain",
    "tool": "cross:0.25",
    "face": "1",
    "number": "1",
    "field": "comments",
}
NO_NUMBERS = ("nan", "NaN", "inf", "-inf", "Infinity", "1e400", "-1e400", "1e", "0x10", "--1", "٣x")


def numbers_of(form: type[BaseModel]) -> list[str]:
    """Return the fields of a form that hold a number."""

    def leaves(hint: object) -> set[object]:
        if typing.get_origin(hint) in (typing.Union, types.UnionType, typing.Annotated):
            return set().union(*(leaves(part) for part in typing.get_args(hint)))
        return {hint} if isinstance(hint, type) else set()

    hints = typing.get_type_hints(form, include_extras=True)
    return [name for name, hint in hints.items() if {int, float} & leaves(hint)]


@pytest.fixture(scope="module")
def client(tmp_path_factory):
    with opened(tmp_path_factory.mktemp("house"), one=case_text()) as browser:
        yield browser


@pytest.fixture
def student(client) -> Student:
    return Student.begins(client)


def test_every_form_and_every_route_is_tried(client):
    others = {"StartForm", "NotationForm", "ForgetForm", "CircuitForm", "NextForm"}
    assert set(ACTS.values()) | others == set(FORMS)
    found = {
        route.path.rpartition("/")[2]
        for route in iter_route_contexts(client.app.routes)
        if "POST" in (route.methods or set())
    }
    assert found == {*ACTS, "attempts", "notation", "forget", *CIRCUIT_ACTS}
    assert numbers_of(forms.FitForm) == [
        "seen",
        "look",
        "pd_right_mm",
        "pd_left_mm",
        "height_mm",
        "tilt_deg",
        "wrap_deg",
        "vertex_mm",
    ]
    assert {"by", "to"} <= set(numbers_of(forms.TurnForm))
    assert {"line", "distance"} <= set(numbers_of(forms.WallForm))


@pytest.mark.parametrize(
    ("act", "name"),
    [(act, name) for act, form in ACTS.items() for name in numbers_of(FORMS[form])],
)
def test_what_is_no_number_is_refused_in_every_number_field(student, act, name):
    for written in NO_NUMBERS:
        fields = {key: GOOD[key] for key in FORMS[ACTS[act]].model_fields if key in GOOD}
        said = student.refused(act, **fields | {name: written})
        assert name in said, written


@pytest.mark.parametrize(
    "text",
    ["1.00", "-1.00/1.00x90", "-1-1-1", "½", "-1.00/-1.00x", "x" * 100, "−", "+-1", "-1.000.00"],
)
@pytest.mark.parametrize("field", ["right_sphere", "left_cylinder", "right_add"])
def test_garbage_for_a_power_is_refused(student, field, text):
    assert field.partition("_")[0] in student.refused("card", field=field, text=text)


@pytest.mark.parametrize(
    "text", ["<script>alert(1)</script>", "\"'><img src=x onerror=y>", "{{ 7*7 }}"]
)
def test_what_is_written_is_never_taken_for_markup(student, monkeypatch, text):
    monkeypatch.setattr("server.attempts.service.find_truth", found_at_once)
    pages = [student.does("card", field="comments", text=text)]
    student.does("card", field="right_prism", text=text)
    pages.append(student.gets().text)
    pages.append(student.refused("card", field="right_sphere", text=text))
    pages.append(student.press("card", field="right_sphere", text=text).text)
    student.does("finish")
    pages.append(student.gets("/review").text)
    for page in pages[:2] + pages[3:]:
        assert "<script>alert" not in page
        assert "<img src=x" not in page
        assert "49" not in page or "{{" not in text or "7*7" in page
    assert any("&lt;script&gt;" in page or "&lt;img" in page or "7*7" in page for page in pages)


def found_at_once(case, side):
    return Truth(vergence=case.eyes.eye(side).required_vergence, acuity_logmar=0.0)


@pytest.mark.parametrize("path", ["/attempts", "/notation", "{here}/card", "{here}/letters", "/no"])
def test_ten_megabytes_are_too_much(client, student, path):
    body = b"text=" + b"x" * 10_000_000
    headers = {"Content-Type": "application/x-www-form-urlencoded"}
    answer = client.post(path.format(here=student.address), content=body, headers=headers)
    assert answer.status_code == 413
    assert "more than this server takes at once" in answer.text


UNKNOWN = ["nobody", "a" * 22, "%00", "..%2f", "é", "'; DROP TABLE event; --", "a" * 5000]


@pytest.mark.parametrize("attempt", UNKNOWN, ids=lambda text: text[:12])
@pytest.mark.parametrize("has_session", [True, False])
def test_an_attempt_that_is_none_is_not_found(client, student, attempt, has_session):
    browser = client if has_session else TestClient(client.app, headers=client.headers)
    for path in ("", "/room", "/review", "/why/1", "/adds/1", "/pictures/1-R-x.png"):
        assert browser.get(f"/attempts/{attempt}{path}").status_code == 404, path
    for act in ACTS:
        data = {key: GOOD[key] for key in FORMS[ACTS[act]].model_fields if key in GOOD}
        if act in ("turn", "aim"):
            data = {"by": "5"}
        if act == "fit":
            data = {"tilt_deg": "5"}
        assert browser.post(f"/attempts/{attempt}/{act}", data=data).status_code == 404, act


@pytest.mark.parametrize(
    ("path", "status"),
    [
        ("/why/99", 404),
        ("/why/-1", 404),
        ("/why/x", 422),
        ("/why/" + "9" * 5000, 422),
        ("/adds/0", 404),
        ("/adds/99", 404),
        ("/adds/nan", 422),
        ("/pictures/0-R-x.png", 422),
        ("/pictures/99-R-x.png", 404),
        ("/pictures/1-B-x.png", 422),
        ("/pictures/1-R.png", 404),
        ("/pictures/1-R-x.png?look=20", 200),
        ("/pictures/1-R-x.png?look=21", 422),
        ("/pictures/1-R-x.png?look=-1", 422),
        ("/pictures/1-R-x.png?look=R", 422),
        ("/room?look=99", 422),
        ("/pictures/1-R-x.gif", 404),
        ("/room?at=X.9", 422),
        ("?at=%00", 422),
        ("/room?kind=%3Cb%3E", 200),
        ("/place", 405),
        ("/nothing", 404),
    ],
)
def test_addresses_that_lead_nowhere(student, path, status):
    answer = student.gets(path)
    assert answer.status_code == status
    assert "<b>" not in answer.text or status == 200
    assert "Traceback" not in answer.text


@pytest.mark.parametrize(
    "data",
    [
        {"case": "nobody"},
        {"case": "random:9"},
        {"case": "../cases/one"},
        {"case": "x" * 41},
        {},
        {"client_key": "short"},
        {"mode": "x" * 41},
        {"client_key": "with a space"},
        {"client_key": "x" * 65},
    ],
)
def test_an_attempt_does_not_begin_with_nonsense(client, student, data):
    [case] = client.app.state.attempts.casebook.cases.values()
    given = data if "case" in data or not data else data | {"case": case.public_id}
    before = len(client.app.state.store.attempts_of(1))
    assert client.post("/attempts", data=given).status_code in {404, 422}
    assert len(client.app.state.store.attempts_of(1)) == before


def test_no_route_heeds_a_foreign_origin(client, student):
    before, tried = student.events, 0
    for route in iter_route_contexts(client.app.routes):
        for method in (route.methods or set()) - SAFE_METHODS:
            path = route.path.format(attempt_id=student.attempt, circuit_id="nobodys")
            for foreign in ("http://elsewhere.example", "null", "http://testserver.example"):
                answer = client.request(
                    method, path, data=GOOD, headers={"Origin": foreign}, follow_redirects=False
                )
                assert answer.status_code == 403, f"{method} {path}"
                tried += 1
    assert tried >= 3 * (len(ACTS) + 2)
    assert student.events == before


@pytest.mark.parametrize(
    ("content_type", "body"),
    [
        ("application/json", b'{"at": "R.2", "step": "plus"}'),
        ("text/plain", b"step=plus"),
        ("multipart/form-data", b"step=plus"),
        ("multipart/form-data; boundary=x", b"--x\r\nnonsense"),
        ("multipart/form-data; boundary=x", b"--x\r\nContent-Disposition: form-data\r\n\r\na\r\n"),
        (
            "multipart/form-data; boundary=x",
            b'--x\r\nContent-Disposition: form-data; name="step"; filename="a"\r\n\r\nup\r\n--x--',
        ),
        (
            "multipart/form-data; boundary=x; charset=utf-7",
            b'--x\r\nContent-Disposition: form-data; name="step"\r\n\r\n+2AA-\r\n--x--',
        ),
        (
            "multipart/form-data; boundary=x; charset=undefined",
            b'--x\r\nContent-Disposition: form-data; name="step"\r\n\r\nup\r\n--x--',
        ),
        ("application/x-www-form-urlencoded", b"\xff\xfe=%ff%fe&step=%ed%a0%80"),
        ("application/x-www-form-urlencoded", b"&" * 50_000),
        ("application/x-www-form-urlencoded", b"a=1&" * 15_000),
        ("", b"step=plus"),
    ],
)
def test_a_body_of_another_kind_is_refused(student, content_type, body):
    before = student.events
    for headers in (HTMX, {}):
        answer = student.client.post(
            f"{student.address}/step",
            content=body,
            headers=headers | ({"Content-Type": content_type} if content_type else {}),
        )
        assert answer.status_code in {400, 413, 422}, answer.text
    assert student.events == before


LONGEST_S = 25.0  # a busy machine tries less; an idle one more than two thousand posts
NONSENSE = st.one_of(
    st.text(max_size=50),
    st.integers().map(str),
    st.floats().map(str),
    st.sampled_from(
        ["", "0", "-0", "R.2", "L.hand", "on", "chart", "1e308", "\x00", "\ud7ff", "%"]
    ),
)
PLAUSIBLE = {
    "at": st.sampled_from([f"{side}.{place}" for side in "RL" for place in (1, 2, 3, 4, "hand")]),
    "to": st.one_of(st.sampled_from(["R.1", "L.3", "R.hand"]), st.integers(0, 360).map(str)),
    "code": st.sampled_from(sorted(full_set().lenses)),
    "step": st.sampled_from(["plus", "minus", "plus-eighth"]),
    "by": st.integers(-90, 90).map(str),
    "view": st.sampled_from(["chart", "line", "rings", "fan", "block", "duochrome", "dots"]),
    "line": st.floats(-0.3, 1.0).map(str),
    "distance": st.floats(1, 10).map(str),
    "light": st.sampled_from(["on", "off"]),
    "question": st.sampled_from([question.value for question in Question]),
    "manner": st.sampled_from(["offered", "forced", "leading"]),
    "tool": st.sampled_from(["cross:0.25", "pair:0.50", "over:1.00", "plano:0.00", "cross:9.00"]),
    "face": st.integers(0, 2).map(str),
    "aim": st.sampled_from(["axis", "power", "set"]),
    "block": st.integers(0, 180).map(str),
    "topic": st.sampled_from(["onset", "pain"]),
    "field": st.sampled_from(["right_sphere", "left_axis", "comments", "vertex", "refer"]),
    "text": st.sampled_from(["-1.00", "+2", "90", "6/6", "12", "none"]),
    "vertex_mm": st.floats(8, 20).map(str),
    "tilt_deg": st.floats(-5, 20).map(str),
    "wrap_deg": st.floats(-5, 15).map(str),
    "pd_left_mm": st.floats(24, 40).map(str),
    "seen": st.integers(0, 12).map(str),
    "look": st.integers(0, 20).map(str),
    "tab_id": st.sampled_from(["one", "two"]),
    "client_key": st.text("abc", min_size=6, max_size=7),
    "mode": st.sampled_from(["teaching", "practice"]),
    "case": st.sampled_from(["random:1", "{case}"]),
    "acuity": st.sampled_from(["6", "20"]),
}
FIELDS = sorted({name for form in FORMS.values() for name in form.model_fields})
MANY = settings(
    max_examples=75,
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=list(HealthCheck),
)


@st.composite
def posts(draw: st.DrawFn) -> tuple[str, dict[str, str]]:
    """Draw an address and a form: each field fitting, nonsense, or not there."""
    act = draw(st.sampled_from([*sorted(set(ACTS) - {"finish"}), "/attempts", "/notation"]))
    form = FORMS[{"/attempts": "StartForm", "/notation": "NotationForm"}.get(act) or ACTS[act]]
    data: dict[str, str] = {}
    for name in form.model_fields:
        how = draw(st.integers(0, 9))
        if how < 6 and name in PLAUSIBLE and name != "client_key":
            data[name] = draw(PLAUSIBLE[name])
        elif how == 6:
            data[name] = draw(NONSENSE)
    if draw(st.integers(0, 9)) == 0:
        data[draw(st.sampled_from(FIELDS))] = draw(NONSENSE)
    return act, data


def test_a_stream_of_nonsense_never_breaks_the_server(client, monkeypatch):
    """Thousands of posts, half of them sensible: every answer is one that was meant."""
    told, seen, start = {}, 0, time.monotonic()
    monkeypatch.setattr("server.attempts.service.read_rows", lambda *_: ())
    told_same = Answer(chances={"same": 1.0})
    monkeypatch.setattr("server.attempts.service.answer_to", lambda *_: told_same)
    monkeypatch.setattr("server.attempts.words.said_words", lambda *_: "The same.")
    monkeypatch.setattr("server.attempts.service.why_of_answer", lambda *_: "")
    monkeypatch.setattr(EyeView, "reading", None)  # the optics are tried elsewhere

    @MANY
    @given(stream=st.lists(posts(), min_size=20, max_size=40), htmx=st.booleans())
    def run(stream, htmx):
        nonlocal seen
        if time.monotonic() - start > LONGEST_S:
            return
        student = Student.begins(client, "teaching" if htmx else "practice")
        [case] = client.app.state.attempts.casebook.cases.values()
        for act, data in stream:
            path = act if act.startswith("/") else f"{student.address}/{act}"
            fields = {name: text.replace("{case}", case.public_id) for name, text in data.items()}
            answer = client.post(
                path, data=fields, headers=HTMX if htmx else {}, follow_redirects=False
            )
            assert answer.status_code in {200, 303, 404, 409, 422}, f"{path} {fields}"
            assert "Traceback" not in answer.text
            told[answer.status_code] = told.get(answer.status_code, 0) + 1
            seen += 1
        numbers = [event.number for event in student.events]
        assert numbers == list(range(1, len(numbers) + 1))
        assert student.gets().status_code == 200

    run()
    assert seen >= 500
    assert min(told.get(status, 0) for status in (200, 303, 409, 422)) >= 20, told


def test_an_empty_part_of_the_wall_from_a_stale_tab_is_the_whole_wall(client):
    student = Student.begins(client)
    client.post(f"{student.address}/letters", data={"tab_id": "one"}, headers=HTMX)
    stale = {"tab_id": "two", "seen": "1", "look": ""}
    answer = client.post(f"{student.address}/letters", data=stale, headers=HTMX)
    assert answer.status_code == 409
    assert 'id="room"' in answer.text
