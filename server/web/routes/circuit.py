"""Circuits: begun, led from station to station, reported."""

from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import Response

from server.attempts.circuit import Phase
from server.web.deps import ExamsDep
from server.web.forms import CircuitForm, NextForm
from server.web.present_circuit import circuit_page, report_page
from server.web.render import go_to, page
from server.web.sessions import SessionDep, VisitorDep

router = APIRouter(prefix="/circuits")


@router.post("")
def begin(
    request: Request,
    session: VisitorDep,
    kept: ExamsDep,
    form: Annotated[CircuitForm, Form()],
) -> Response:
    """Begin a circuit; its first station is not open yet."""
    return go_to(request, f"/circuits/{kept.begin(session, form.plan(), form.client_key)}")


@router.get("/{circuit_id}")
def show(request: Request, circuit_id: str, session: SessionDep, kept: ExamsDep) -> Response:
    """Return the circuit's page; while a station is open, the way into it."""
    found = kept.look(session, circuit_id)
    stands = found.standing
    if stands.phase is Phase.STATION:
        return go_to(request, f"/attempts/{found.stations[stands.number - 1].attempt_id}")
    if stands.phase is Phase.OVER:
        return page(report_page(found, kept.report(found)))
    return page(circuit_page(found))


@router.post("/{circuit_id}/next")
def open_next(
    request: Request,
    circuit_id: str,
    session: SessionDep,
    kept: ExamsDep,
    form: Annotated[NextForm, Form()],
) -> Response:
    """Open the next station, if it is the one that was meant, and lead on."""
    kept.open_next(session, circuit_id, form.station, request.state.arrived_at)
    return go_to(request, f"/circuits/{circuit_id}")
