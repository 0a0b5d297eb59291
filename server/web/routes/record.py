"""The record card, the end of an attempt and its review."""

import uuid
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import Response

from server.attempts import acts
from server.attempts.cards import checked_field
from server.errors import NotFound
from server.web.deps import NotationDep, ServiceDep
from server.web.forms import CardForm, GoBackForm, PressForm
from server.web.present_card import saved_field
from server.web.present_review import review_page, review_timeline
from server.web.present_room import address_of
from server.web.render import acted, go_to, page
from server.web.sessions import SessionDep

router = APIRouter(prefix="/attempts/{attempt_id}")


@router.post("/card")
def write(
    request: Request,
    attempt_id: str,
    session: SessionDep,
    service: ServiceDep,
    form: Annotated[CardForm, Form()],
) -> Response:
    """Write one field of the card, checked for how it is written."""
    text = checked_field(form.field, form.text)
    service.write(session, attempt_id, form.press(request), {form.field: text})
    return acted(request, saved_field(form.field, text), f"/attempts/{attempt_id}")


@router.post("/finish")
def finish(
    request: Request,
    attempt_id: str,
    session: SessionDep,
    service: ServiceDep,
    form: Annotated[PressForm, Form()],
) -> Response:
    """End the attempt and go to its review, or on in the circuit."""
    ended = service.act(session, attempt_id, form.press(request), acts.finish())
    return go_to(request, address_of(ended))


@router.get("/review")
def review(
    request: Request,
    attempt_id: str,
    session: SessionDep,
    service: ServiceDep,
    notation: NotationDep,
) -> Response:
    """Return what the attempt came to; one that goes on has no review yet."""
    attempt = service.open(session, attempt_id)
    if not attempt.revealed:
        return go_to(request, address_of(attempt))
    return page(review_page(service, attempt, notation, uuid.uuid4().hex))


@router.get("/review/timeline")
def timeline(
    attempt_id: str, session: SessionDep, service: ServiceDep, notation: NotationDep
) -> Response:
    """Return the attempt along the patient's time; the review asks for it once it is shown."""
    attempt = service.open(session, attempt_id)
    if not attempt.revealed:
        raise NotFound
    return page(review_timeline(service, attempt, notation))


@router.post("/again")
def go_back(
    request: Request,
    attempt_id: str,
    session: SessionDep,
    service: ServiceDep,
    form: Annotated[GoBackForm, Form()],
) -> Response:
    """Open a copy of the attempt as it was at a step."""
    copy_id = service.go_back(session, attempt_id, form.number, form.client_key)
    return go_to(request, f"/attempts/{copy_id}")
