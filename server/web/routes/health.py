"""Whether the server answers."""

from fastapi import APIRouter
from fastapi.responses import PlainTextResponse

router = APIRouter()


@router.get("/health")
def health() -> PlainTextResponse:
    """Say that the server is up."""
    return PlainTextResponse("ok")
