"""Pictures of what an eye sees, with as many slots as cores; nobody else may keep them."""

import os
from collections.abc import AsyncIterator
from typing import Annotated

from fastapi import APIRouter, Depends, Path, Request
from fastapi.exceptions import HTTPException
from fastapi.responses import Response

from server.web.deps import LookDep, ServiceDep
from server.web.encode import png_bytes
from server.web.sessions import SessionDep

router = APIRouter(prefix="/attempts/{attempt_id}/pictures")
GONE = 499


async def slot(request: Request) -> AsyncIterator[None]:
    """Wait for a free slot; work for nobody who has gone."""
    if await request.is_disconnected():
        raise HTTPException(GONE)
    yield


SlotDep = Annotated[None, Depends(slot, scope="function", max_concurrency=os.cpu_count() or 1)]


@router.get("/{number}-{side}-{nonce}.png")
def picture(
    attempt_id: str,
    number: Annotated[int, Path(ge=1, le=10_000_000)],
    side: Annotated[str, Path(pattern="^[RL]$")],
    session: SessionDep,
    service: ServiceDep,
    _: SlotDep,
    look: LookDep = 0,
) -> Response:
    """Return the picture an eye forms at an event's state, of the wall or one part of it."""
    seen = service.picture(session, attempt_id, number, side, look)
    return Response(
        png_bytes(seen), media_type="image/png", headers={"Cache-Control": "private, no-store"}
    )
