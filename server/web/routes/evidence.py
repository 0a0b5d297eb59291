"""How true the engine is: the page, and how far its table has come."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from server.evidence import EvidenceKeeper
from server.keeper import Progress
from server.web.deps import NotationDep
from server.web.present_evidence import how_true_page, progress_part, waiting_page
from server.web.render import go_to, page, wants_fragment

router = APIRouter(prefix="/how-true")


def keeper(request: Request) -> EvidenceKeeper:
    """Return who computes and keeps the evidence."""
    kept: EvidenceKeeper = request.app.state.evidence
    return kept


KeeperDep = Annotated[EvidenceKeeper, Depends(keeper)]


@router.get("")
def how_true(kept: KeeperDep, notation: NotationDep) -> Response:
    """Return the page; the first request begins the work."""
    found = kept.ask(begin=True)
    if isinstance(found, Progress):
        return page(waiting_page(found))
    return page(how_true_page(found, notation))


@router.get("/progress")
def progress(request: Request, kept: KeeperDep) -> Response:
    """Return how far the table is, or the way to the page once it is done."""
    found = kept.ask(begin=False)
    if isinstance(found, Progress) and wants_fragment(request):
        return page(progress_part(found))
    return go_to(request, "/how-true")
