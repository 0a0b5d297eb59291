"""The cookie: set only where a page asks for it, worth nothing in the database."""

from dataclasses import replace

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from starlette.responses import PlainTextResponse

from server.app import create_app
from server.store import schema
from server.web.sessions import COOKIE, KnownSessionDep, SessionDep, VisitorDep, token_hash


@pytest.fixture
def app(settings) -> FastAPI:
    return with_probes(create_app(settings))


def with_probes(app: FastAPI) -> FastAPI:
    @app.get("/page")
    def page(session_id: VisitorDep) -> PlainTextResponse:
        return PlainTextResponse(str(session_id))

    @app.get("/picture")
    def picture(session_id: SessionDep) -> PlainTextResponse:
        return PlainTextResponse(str(session_id))

    @app.get("/perhaps")
    def perhaps(session_id: KnownSessionDep) -> PlainTextResponse:
        return PlainTextResponse(str(session_id))

    return app


def test_a_visitor_keeps_one_session(client):
    assert client.get("/page").text == client.get("/page").text == client.get("/picture").text


def test_two_visitors_have_two_sessions(app, client):
    assert client.get("/page").text != TestClient(app).get("/page").text


def test_the_cookie_is_kept_from_scripts_and_other_sites(client):
    cookie = client.get("/page").headers["set-cookie"].lower()
    assert cookie.startswith(f"{COOKIE}=")
    for part in ("httponly", "samesite=lax", "path=/", "max-age=15552000"):
        assert part in cookie
    assert "domain" not in cookie
    assert "secure" not in cookie


def test_over_https_the_cookie_is_bound_to_the_host(settings):
    app = with_probes(create_app(replace(settings, https=True)))
    with TestClient(app, base_url="https://testserver") as client:
        cookie = client.get("/page").headers["set-cookie"]
        assert cookie.startswith(f"__Host-{COOKIE}=")
        assert "Secure" in cookie
        assert client.get("/picture").status_code == 200


def test_the_database_holds_only_the_hash(app, client):
    client.get("/page")
    token = client.cookies[COOKIE]
    with app.state.store._reading() as connection:
        row = connection.execute(schema.session.select()).one()
    assert row.token_hash == token_hash(token)
    assert token not in repr(row)
    assert len(token) == 43  # 256 bits


def test_pictures_and_health_never_set_the_cookie(client):
    assert client.get("/picture").status_code == 404
    assert client.get("/perhaps").text == "None"
    client.get("/page")
    for path in ("/picture", "/perhaps", "/health"):
        assert "set-cookie" not in client.get(path).headers


@pytest.mark.parametrize("forged", ["x", "a" * 43, "%00", "é"])
def test_a_made_up_cookie_opens_nothing(app, client, forged):
    cookie = {"Cookie": f"{COOKIE}={forged}".encode()}
    assert client.get("/picture", headers=cookie).status_code == 404
    answer = client.get("/page", headers=cookie)
    assert answer.headers["set-cookie"].split(";")[0] != f"{COOKIE}={forged}"
