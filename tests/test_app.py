"""Every failure is answered by a calm sentence, and static files are cached by their names."""

import logging
from typing import Annotated

import pytest
from fastapi import FastAPI, Form
from fastapi.testclient import TestClient
from pydantic import BaseModel, Field
from starlette.exceptions import HTTPException

from server.app import create_app
from server.errors import (
    AttemptClosed,
    NotFound,
    Refused,
    ServiceError,
    StaleTab,
    StoreUnavailable,
)

FAULTS = {
    "refused": Refused("sphere_d: got <b>9</b>, must be within −20 and +20", "sphere_d"),
    "missing": NotFound("secret"),
    "stale": StaleTab("secret"),
    "closed": AttemptClosed("secret"),
    "store": StoreUnavailable("the database /secret/path cannot be used"),
    "unnamed": ServiceError("secret"),
    "bug": ZeroDivisionError("secret"),
    "gone": HTTPException(499),
    "method": HTTPException(405, headers={"Allow": "GET"}),
}


class LensForm(BaseModel):
    sphere_d: float = Field(ge=-20, le=20, multiple_of=0.25, allow_inf_nan=False)
    tab_id: str = Field(max_length=8)


@pytest.fixture
def app(settings) -> FastAPI:
    app = create_app(settings)

    @app.get("/fault/{name}")
    def fault(name: str) -> str:
        raise FAULTS[name]

    @app.post("/lens")
    def lens(form: Annotated[LensForm, Form()]) -> str:
        return "placed"

    return app


@pytest.mark.parametrize(
    ("name", "status", "words"),
    [
        ("refused", 422, "must be within −20 and +20."),
        ("missing", 404, "There is nothing at this address"),
        ("stale", 409, "in another tab"),
        ("closed", 409, "This attempt has ended"),
        ("store", 503, "This action was not saved"),
        ("unnamed", 500, "The fault is on the server"),
        ("bug", 500, "The fault is on the server"),
        ("gone", 499, "could not be answered"),
        ("method", 405, "does not take requests of that kind"),
    ],
)
@pytest.mark.parametrize("htmx", [True, False])
def test_a_fault_is_a_calm_sentence(client, name, status, words, htmx):
    response = client.get(f"/fault/{name}", headers={"HX-Request": "true"} if htmx else {})
    assert response.status_code == status
    assert response.headers["content-type"] == "text/html; charset=utf-8"
    assert words in response.text
    assert "secret" not in response.text
    assert "Traceback" not in response.text
    assert response.text.startswith(
        '<div id="alert" role="alert" class="alert">' if htmx else "<!doctype html>"
    )
    assert response.headers["Vary"] == "HX-Request"


def test_the_visitors_input_is_escaped(client):
    assert "<b>" not in client.get("/fault/refused").text
    assert "&lt;b&gt;9&lt;/b&gt;" in client.get("/fault/refused").text


def test_an_unexpected_fault_is_logged_with_its_traceback(client, caplog):
    with caplog.at_level(logging.ERROR, logger="server"):
        client.get("/fault/bug?patient=secret")
    [record] = caplog.records
    assert record.getMessage() == "GET /fault/bug failed"
    assert record.exc_info is not None


def test_a_store_out_of_reach_is_logged_with_its_place(client, caplog):
    with caplog.at_level(logging.ERROR, logger="server"):
        client.get("/fault/store")
    assert "/secret/path" in caplog.text


def test_headers_of_an_http_error_are_kept(client):
    assert client.get("/fault/method").headers["Allow"] == "GET"


@pytest.mark.parametrize(
    ("form", "words"),
    [
        (
            {"sphere_d": "99", "tab_id": "t"},
            "sphere_d: “99” came, should be less than or equal to 20.",
        ),
        ({"sphere_d": "0.3", "tab_id": "t"}, "sphere_d: “0.3” came, should be a multiple of 0.25."),
        ({"sphere_d": "nan", "tab_id": "t"}, "sphere_d: “nan” came, should be a finite number."),
        (
            {"sphere_d": "<i>", "tab_id": "t"},
            "sphere_d: “&lt;i&gt;” came, should be a valid number",
        ),
        ({"tab_id": "t"}, "sphere_d: nothing came, a value is needed."),
        ({"sphere_d": "1", "tab_id": "t" * 99}, f"tab_id: “{'t' * 39}…” came, "),
    ],
)
def test_a_wrong_field_is_named_with_what_came_and_what_is_allowed(client, form, words):
    response = client.post("/lens", data=form)
    assert response.status_code == 422
    assert words in response.text


def test_a_body_of_any_form_is_let_through_and_a_larger_one_is_not(client):
    form = {"sphere_d": "1", "tab_id": "t", "more": "x" * 60_000}
    assert client.post("/lens", data=form).text == '"placed"'
    response = client.post("/lens", data=form | {"more": "x" * 66_000})
    assert response.status_code == 413
    assert "more than this server takes at once" in response.text


def test_a_large_body_sent_in_pieces_is_stopped_too(client):
    pieces = (b"more=" + b"x" * 10_000 for _ in range(10))
    headers = {"Content-Type": "application/x-www-form-urlencoded"}
    response = client.post("/lens", content=pieces, headers=headers)
    assert response.status_code == 413
    assert "more than this server takes at once" in response.text


def test_static_files_are_cached_by_their_names(client):
    fixed = client.get("/static/htmx-4.0.1.min.js")
    assert fixed.headers["Cache-Control"] == "public, max-age=31536000, immutable"
    assert fixed.headers["content-type"].startswith("text/javascript")
    font = client.get("/static/fonts/newsreader.woff2")
    assert font.headers["Cache-Control"] == "no-cache"
    assert font.headers["content-type"] == "font/woff2"
    again = client.get(
        "/static/fonts/newsreader.woff2", headers={"If-None-Match": font.headers["ETag"]}
    )
    assert (again.status_code, again.headers["Cache-Control"]) == (304, "no-cache")


@pytest.mark.parametrize(
    "path", ["/docs", "/redoc", "/openapi.json", "/static/", "/static/../pyproject.toml"]
)
def test_nothing_else_is_served(client, path):
    assert client.get(path).status_code == 404


def test_health(client):
    assert client.get("/health").text == "ok"


def test_the_store_is_closed_with_the_application(app):
    with TestClient(app):
        pool = app.state.store._engine.pool
    assert pool.checkedout() == 0
