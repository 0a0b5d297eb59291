"""What routes ask for by name."""

from typing import Annotated

from fastapi import Depends, Query, Request

from optics.patient.traits import Manner
from optics.sight.canvas import MOST_PARTS
from server.attempts.exams import Exams
from server.attempts.service import Attempts
from server.web.notation import COOKIE, Notation, notation_of


def attempts(request: Request) -> Attempts:
    """Return the service."""
    service: Attempts = request.app.state.attempts
    return service


def exams(request: Request) -> Exams:
    """Return who keeps the circuits."""
    kept: Exams = request.app.state.exams
    return kept


def notation(request: Request) -> Notation:
    """Return how this browser's person writes."""
    return notation_of(request.cookies.get(COOKIE))


ServiceDep = Annotated[Attempts, Depends(attempts)]
ExamsDep = Annotated[Exams, Depends(exams)]
NotationDep = Annotated[Notation, Depends(notation)]
LookDep = Annotated[int, Query(ge=0, le=MOST_PARTS)]  # the part of the wall seen closer
MannerDep = Annotated[Manner, Query()]
UNSAID = Manner.OFFERED
