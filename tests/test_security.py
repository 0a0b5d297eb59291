"""No other page can act for a visitor, and every answer carries the headers."""

from dataclasses import replace

import pytest
from fastapi import FastAPI
from fastapi.routing import iter_route_contexts
from fastapi.testclient import TestClient
from starlette.datastructures import Headers
from starlette.routing import Mount

from server.app import create_app
from server.web.security import SAFE_METHODS, SECURITY_HEADERS, is_from_our_pages


def unsafe_routes(app: FastAPI) -> list[tuple[str, str]]:
    return [
        (method, route.path)
        for route in iter_route_contexts(app.routes)
        for method in sorted((route.methods or set()) - SAFE_METHODS)
    ]


def probes(app: FastAPI) -> None:
    """Add routes that change something, one of them in a router of its own."""

    @app.post("/probe/{item}")
    def probe(item: str) -> str:
        return item

    @app.delete("/probe")
    def remove() -> str:
        return "gone"


def test_the_walk_sees_included_routes(app):
    probes(app)
    assert {("POST", "/probe/{item}"), ("DELETE", "/probe")} <= set(unsafe_routes(app))
    assert "/health" in {route.path for route in iter_route_contexts(app.routes)}


@pytest.mark.parametrize(
    "headers",
    [
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
        {"Origin": "http://evil.example"},
        {"Origin": "null"},
        {},
    ],
    ids=["cross-site", "same-site", "other origin", "null origin", "silent"],
)
def test_no_route_that_changes_anything_heeds_a_foreign_page(app, headers):
    probes(app)
    with TestClient(app) as foreign:
        for method, path in unsafe_routes(app):
            response = foreign.request(method, path, headers=headers)
            assert response.status_code == 403, f"{method} {path}"
            assert "did not come from a page of this server" in response.text


@pytest.mark.parametrize(
    "headers",
    [
        {"Sec-Fetch-Site": "same-origin"},
        {"Sec-Fetch-Site": "none"},
        {"Origin": "http://testserver"},
    ],
)
def test_our_own_pages_are_heeded(app, headers):
    probes(app)
    with TestClient(app) as ours:
        assert ours.post("/probe/a", headers=headers).text == '"a"'


@pytest.mark.parametrize(
    ("headers", "origins", "ours"),
    [
        ({"origin": "http://10.0.0.5:8000", "host": "10.0.0.5:8000"}, (), True),
        ({"origin": "http://10.0.0.5:8000", "host": "10.0.0.5"}, (), False),
        ({"origin": "https://School.Example", "host": "school.example"}, (), True),
        (
            {"origin": "https://school.example", "host": "inner:8000"},
            ("https://school.example",),
            True,
        ),
        ({"origin": "http://inner:8000", "host": "inner:8000"}, ("https://school.example",), False),
        (
            {"origin": "https://a.b.c", "host": "a.b", "sec-fetch-site": "cross-site"},
            ("https://a.b.c",),
            False,
        ),
        ({"origin": "", "host": ""}, (), False),
        ({"origin": "http://[", "host": "["}, ("https://a.b.c",), False),
    ],
)
def test_the_origin_must_name_our_host(headers, origins, ours):
    assert is_from_our_pages(Headers(headers), origins) is ours


@pytest.mark.parametrize("path", ["/health", "/nowhere", "/static/nowhere.js"])
def test_every_answer_carries_the_headers(client, path):
    response = client.get(path)
    assert {name: response.headers[name] for name in SECURITY_HEADERS} == SECURITY_HEADERS
    assert response.headers["Cache-Control"] == "no-store"
    assert "Strict-Transport-Security" not in response.headers


def test_answers_to_failures_carry_the_headers(app):
    @app.post("/broken")
    def broken() -> str:
        raise ZeroDivisionError("of no concern to the visitor")

    with TestClient(app, headers={"Origin": "http://testserver"}) as client:
        for response in (
            client.post("/broken"),
            client.post("/broken", headers={"Origin": "x"}),
            client.post("/broken", content=b"x" * 70_000),
            client.put("/broken"),
        ):
            assert {name: response.headers[name] for name in SECURITY_HEADERS} == SECURITY_HEADERS


def test_https_is_kept_to_once_it_is_in_use(settings):
    with TestClient(create_app(replace(settings, https=True))) as client:
        assert "max-age=" in client.get("/health").headers["Strict-Transport-Security"]


def test_nothing_executable_is_allowed_from_elsewhere_or_inline():
    policy = SECURITY_HEADERS["Content-Security-Policy"]
    assert policy.startswith("default-src 'none'")
    assert "unsafe" not in policy
    assert "http" not in policy


def test_the_static_folder_is_the_only_mount(app):
    assert [route.path for route in app.routes if isinstance(route, Mount)] == ["/static"]
