"""What routes ask for by name."""

from typing import Annotated

from fastapi import Depends, Request

from server.attempts.service import Attempts
from server.web.notation import COOKIE, Notation, notation_of


def attempts(request: Request) -> Attempts:
    """Return the service."""
    service: Attempts = request.app.state.attempts
    return service


def notation(request: Request) -> Notation:
    """Return how this browser's person writes."""
    return notation_of(request.cookies.get(COOKIE))


ServiceDep = Annotated[Attempts, Depends(attempts)]
NotationDep = Annotated[Notation, Depends(notation)]
