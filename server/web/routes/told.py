"""What the answers told: after the end, and in teaching mode on ask."""

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import Response

from server.attempts.nominal import NominalKeeper
from server.attempts.state import state_of
from server.attempts.told import known_of
from server.errors import NotFound
from server.keeper import Progress
from server.web.contexts_told import ToldWaiting
from server.web.deps import NotationDep, ServiceDep
from server.web.present import FIRST_AT, parse_at
from server.web.present_told import next_ones, told_so_far, told_view
from server.web.render import page
from server.web.sessions import SessionDep

router = APIRouter(prefix="/attempts/{attempt_id}")


def keeper(request: Request) -> NominalKeeper:
    """Return who keeps the tables of nominal eyes."""
    kept: NominalKeeper = request.app.state.nominal
    return kept


KeeperDep = Annotated[NominalKeeper, Depends(keeper)]


def _waiting(address: str, found: Progress) -> Response:
    return page(
        ToldWaiting(address=address, done=found.done, total=found.total, failed=found.failed)
    )


@router.get("/review/told")
def told_after(
    attempt_id: str,
    session: SessionDep,
    service: ServiceDep,
    kept: KeeperDep,
    notation: NotationDep,
) -> Response:
    """Return what each question told; the first request for an age begins its table."""
    attempt = service.open(session, attempt_id)
    if not attempt.revealed:
        raise NotFound
    eyes = kept.ask(attempt.case.age_y, begin=True)
    if isinstance(eyes, Progress):
        return _waiting(f"/attempts/{attempt_id}/review/told", eyes)
    return page(told_view(attempt, eyes, service.truths(attempt.case), notation))


@router.get("/review/next/{number}")
def next_after(
    attempt_id: str,
    number: int,
    session: SessionDep,
    service: ServiceDep,
    kept: KeeperDep,
    at: str = FIRST_AT,
) -> Response:
    """Return what would have told most at a step."""
    attempt = service.open(session, attempt_id)
    if not attempt.revealed or not 1 <= number <= attempt.state.number:
        raise NotFound
    side = parse_at(at)[0]
    eyes = kept.ask(attempt.case.age_y, begin=False)
    if isinstance(eyes, Progress):
        return _waiting(f"/attempts/{attempt_id}/review/next/{number}?at={at}", eyes)
    events = attempt.events[:number]
    return page(next_ones(state_of(events), side, known_of(events, side, eyes)))


@router.get("/told")
def told_now(
    attempt_id: str,
    session: SessionDep,
    service: ServiceDep,
    kept: KeeperDep,
    notation: NotationDep,
    at: str = FIRST_AT,
) -> Response:
    """Return what is known of the selected eye now; teaching mode only."""
    attempt = service.open(session, attempt_id)
    if attempt.state.mode != "teaching" or attempt.state.finished:
        raise NotFound
    side = parse_at(at)[0]
    eyes = kept.ask(attempt.case.age_y, begin=True)
    if isinstance(eyes, Progress):
        return _waiting(f"/attempts/{attempt_id}/told?at={side.value}.2", eyes)
    return page(told_so_far(attempt, side, eyes, notation))
