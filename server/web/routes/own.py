"""What a visitor has done so far, and their own data: to see, to take away, to delete."""

import json
import uuid
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import Response

from server.attempts.own import own_data
from server.attempts.progress import progress
from server.web.deps import ServiceDep
from server.web.forms import ForgetForm
from server.web.present_progress import progress_page
from server.web.render import go_to, page
from server.web.sessions import SessionDep, VisitorDep

router = APIRouter(prefix="/progress")


@router.get("")
def show(session: VisitorDep, service: ServiceDep) -> Response:
    """Return what this browser has done so far."""
    return page(progress_page(progress(service, session), uuid.uuid4().hex))


@router.get("/export.json")
def export(session: SessionDep, service: ServiceDep) -> Response:
    """Return all that is kept of this browser."""
    return Response(
        json.dumps(own_data(service, session), ensure_ascii=False, indent=1),
        media_type="application/json",
        headers={
            "Content-Disposition": 'attachment; filename="least-confusion.json"',
            "Cache-Control": "no-store",
        },
    )


@router.post("/forget")
def forget(
    request: Request,
    session: SessionDep,
    service: ServiceDep,
    form: Annotated[ForgetForm, Form()],  # noqa: ARG001 - who posts it is sure
) -> Response:
    """Delete all that is kept of this browser."""
    service.forget(session)
    return go_to(request, "/")
