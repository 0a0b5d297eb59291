"""The start page, beginning an attempt, and how this browser's person writes."""

import uuid
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import Response

from server.errors import NotFound
from server.web.deps import ExamsDep, NotationDep, ServiceDep
from server.web.encode import png_bytes
from server.web.forms import NotationForm, StartForm
from server.web.notation import COOKIE, COOKIE_LIFE_S, Notation
from server.web.present_circuit import circuit_start
from server.web.present_home import home_page, words_page
from server.web.present_watch import watch_page, watch_picture
from server.web.render import go_to, page
from server.web.sessions import VisitorDep

router = APIRouter()


@router.get("/")
def home(
    session: VisitorDep, service: ServiceDep, kept: ExamsDep, notation: NotationDep
) -> Response:
    """Return the start page."""
    past = service.of_session(session)
    key = uuid.uuid4().hex
    start = circuit_start(kept.of_session(session), f"{key}-circuit")
    return page(home_page(service.casebook, past, start, notation, key))


@router.get("/help")
def show_help() -> Response:
    """Return the help and glossary."""
    return page(words_page("help"))


@router.get("/watch")
def watch(notation: NotationDep) -> Response:
    """Return the demonstration."""
    return page(watch_page(notation))


@router.get("/watch/{number}.png")
def watch_step(number: int) -> Response:
    """Return the picture of a step of the demonstration, the same for everybody."""
    grey = watch_picture(number)
    if grey is None:
        raise NotFound
    return Response(
        png_bytes(grey), media_type="image/png", headers={"Cache-Control": "public, max-age=3600"}
    )


@router.post("/attempts")
def start(
    request: Request,
    session: VisitorDep,
    service: ServiceDep,
    form: Annotated[StartForm, Form()],
) -> Response:
    """Begin an attempt."""
    attempt_id = service.start(session, form.case, form.mode, form.client_key, guided=form.guided)
    return go_to(request, f"/attempts/{attempt_id}")


@router.post("/notation")
def set_notation(request: Request, form: Annotated[NotationForm, Form()]) -> Response:
    """Keep how acuities and cylinders are written."""
    response = go_to(request, "/")
    kept = Notation(acuity=form.acuity, cylinder=form.cylinder).cookie
    response.set_cookie(COOKIE, kept, max_age=COOKIE_LIFE_S, httponly=True, samesite="lax")
    return response
