"""What a visitor reads when a request fails: one calm sentence, never a traceback.

Every such answer is made by `failure_page`, from the table of errors below it.
"""

import logging
import secrets
from collections.abc import Callable, Coroutine, Mapping, Sequence
from http import HTTPStatus
from typing import Any

from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from server.attempts.service import Attempt
from server.errors import (
    AttemptClosed,
    NotFound,
    Refused,
    ServiceError,
    StaleTab,
    StationClosed,
    StoreUnavailable,
)
from server.web.contexts_pages import FailureFragment, FailurePage
from server.web.forms import PressForm
from server.web.notation import COOKIE, notation_of
from server.web.present import room
from server.web.render import page, wants_fragment

logger = logging.getLogger(__name__)

Handler = Callable[[Request, Any], Coroutine[Any, Any, Response]]

LONGEST_ECHO = 40
MOST_FAULTS_SHOWN = 3

# An empty message stands for the error's own, which is written for the visitor.
SERVICE_ANSWERS: Mapping[type[ServiceError], tuple[int, str, str]] = {
    NotFound: (
        404,
        "Not found",
        "There is nothing at this address, or it belongs to another visitor",
    ),
    Refused: (422, "Not accepted", ""),
    StaleTab: (
        409,
        "Changed in another tab",
        "This attempt has moved on in another tab. Reload this page to see where it stands",
    ),
    AttemptClosed: (
        409,
        "This attempt has ended",
        "It takes no more actions. Reload this page to read its record",
    ),
    StationClosed: (
        409,
        "This station has closed",
        "What came before the bell, or before you left, counts. This came later and is not taken",
    ),
    StoreUnavailable: (
        503,
        "The records cannot be reached",
        "This action was not saved. Try again in a moment, or tell whoever runs this server",
    ),
}
HTTP_MESSAGES: Mapping[int, str] = {
    400: "The request could not be understood",
    403: "This is not allowed",
    404: "There is nothing at this address",
    405: "This address does not take requests of that kind",
    413: "That is more than this server takes at once",
}
NOT_DONE = (
    "Another tab has acted in this attempt, so your last press was not done."
    " This is how it stands now."
)
OUTSIDE_THE_ROOM = ("card", "finish")  # acts whose answer does not take the room's place
BROKEN = (
    500,
    "Something went wrong",
    "The fault is on the server and has been noted there. What was saved before is still saved",
)


def failure_page(
    request: Request, status: int, title: str, message: str, on: tuple[str, str] = ("", "")
) -> HTMLResponse:
    """Return the answer to a failed request: a fragment for htmx, else a whole page.

    ``on`` is the address and the words of a link that leads on.
    """
    kind = FailureFragment if wants_fragment(request) else FailurePage
    shown = kind(title=title, message=message.rstrip(".") + ".", leads_to=on[0], leads_words=on[1])
    return page(shown, status)


async def on_service_error(request: Request, fault: ServiceError) -> Response:
    """Answer an error that the service raised on purpose."""
    answer = SERVICE_ANSWERS.get(type(fault))
    if answer is None:
        raise fault
    if isinstance(fault, StaleTab) and isinstance(fault.fresh, Attempt):
        return await on_stale_tab(request, fault.fresh)
    if isinstance(fault, StationClosed):
        on = (f"/circuits/{fault.circuit_id}", "On in the circuit")
        return failure_page(request, *answer, on)
    if isinstance(fault, StoreUnavailable):
        logger.error("%s", fault)
    status, title, message = answer
    return failure_page(request, status, title, message or str(fault))


async def on_stale_tab(request: Request, fresh: Attempt) -> Response:
    """Answer a tab that another has overtaken: with the room as it stands, if it asked for it."""
    if fresh.state.finished:
        return failure_page(request, *SERVICE_ANSWERS[AttemptClosed])
    act = request.url.path.rpartition("/")[2]
    if act in OUTSIDE_THE_ROOM or not wants_fragment(request):
        return failure_page(request, *SERVICE_ANSWERS[StaleTab])
    # already checked by the route, for which too an empty field is one left out
    fields = {name: text for name, text in (await request.form()).items() if text}
    shown = PressForm.model_validate(fields)
    notation = notation_of(request.cookies.get(COOKIE))
    nonce = secrets.token_hex(4)
    seen = room(fresh, shown.at, shown.kind, notation, nonce, NOT_DONE, shown.looks())
    return page(seen, 409)


async def on_http_error(request: Request, fault: HTTPException) -> Response:
    """Answer an error of the web layer, such as an address that leads nowhere."""
    status = fault.status_code
    known = status in HTTPStatus.__members__.values()
    title = HTTPStatus(status).phrase if known else "Not answered"
    message = HTTP_MESSAGES.get(status, "The request could not be answered")
    response = failure_page(request, status, title, message)
    response.headers.update(fault.headers or {})
    return response


async def on_bad_input(request: Request, fault: RequestValidationError) -> Response:
    """Answer a form that does not hold what it should."""
    return failure_page(request, 422, "Not accepted", describe(fault.errors()))


HANDLERS: dict[int | type[Exception], Handler] = {
    ServiceError: on_service_error,
    HTTPException: on_http_error,
    RequestValidationError: on_bad_input,
}


def describe(faults: Sequence[Mapping[str, Any]]) -> str:
    """Return for each wrong field its name, what came and what is allowed."""
    sentences = [_sentence(fault) for fault in faults[:MOST_FAULTS_SHOWN]]
    return ". ".join(sentences)


def _sentence(fault: Mapping[str, Any]) -> str:
    names = [part for part in fault["loc"][1:] if isinstance(part, str)]
    field = names[-1] if names else "form"
    if fault["type"] == "missing":
        return f"{field}: nothing came, a value is needed"
    allowed = str(fault["msg"]).removeprefix("Value error, ").removeprefix("Input ")
    came = fault.get("input")
    if not isinstance(came, str | int | float):
        return f"{field}: {allowed}"
    return f"{field}: “{_shortened(str(came))}” came, {allowed}"


def _shortened(text: str) -> str:
    text = text.encode(errors="replace").decode()  # half a character cannot be sent back
    return text if len(text) <= LONGEST_ECHO else text[: LONGEST_ECHO - 1] + "…"


class LastResort:
    """Turn an error that nobody expected into a calm answer, and log it with its traceback.

    It stands inside the security headers, so that this answer carries them too.
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        started = False

        async def send_noting(message: Message) -> None:
            nonlocal started
            started = True
            await send(message)

        try:
            await self.app(scope, receive, send_noting)
        except Exception:
            if started:
                raise  # half an answer is out: the server cuts the connection and logs it
            logger.exception("%s %s failed", scope["method"], scope["path"])
            await failure_page(Request(scope), *BROKEN)(scope, receive, send)
