"""When a request came, and answers that leave at a fixed time after it.

How long the engine works at an answer depends on the eye. In an exam the answer to a question
therefore leaves `STEP_S` after the request was whole; one that is not ready then, at four times
that, and so on by fours, so that even a late one tells next to nothing.
"""

import asyncio
import math
import time

from fastapi import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from server import moment

STEP_S = 0.4
TIMES = 4


def leave_steadily(request: Request) -> None:
    """Let the answer to this request leave at a fixed time, whatever it will be."""
    request.state.steady = True


def leaves_after_s(spent_s: float) -> float:
    """Return when an answer leaves that took so long to make: 0.4, 1.6, 6.4 s and so on."""
    turns = math.ceil(math.log(max(spent_s, STEP_S) / STEP_S, TIMES))
    return float(STEP_S * TIMES**turns)


class Arrival:
    """Note when the last byte of a request came: a body sent late comes late."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        state = scope.setdefault("state", {})
        state["arrived_at"], came_s = moment.now(), time.monotonic()

        async def receive_noting() -> Message:
            nonlocal came_s
            message = await receive()
            if message["type"] == "http.request" and not message.get("more_body"):
                state["arrived_at"], came_s = moment.now(), time.monotonic()
            return message

        async def send_steadily(message: Message) -> None:
            if message["type"] == "http.response.start" and state.get("steady"):
                spent_s = time.monotonic() - came_s
                await asyncio.sleep(leaves_after_s(spent_s) - spent_s)
            await send(message)

        await self.app(scope, receive_noting, send_steadily)
