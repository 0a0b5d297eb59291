"""Sessions: who a request comes from, known by a random cookie and nothing else.

The cookie holds a 256-bit token; the database holds its SHA-256, so that a copy of the
database opens no session. Only a route that asks for `VisitorDep` can set the cookie.
"""

import hashlib
import secrets
from datetime import UTC, datetime
from typing import Annotated

from fastapi import Depends, Request
from starlette.datastructures import MutableHeaders
from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from server.errors import NotFound
from server.settings import Settings
from server.store.log import Store

COOKIE = "least-confusion"
TOKEN_BYTES = 32
COOKIE_LIFE_S = 180 * 24 * 3600


def the_store(request: Request) -> Store:
    """Return the application's store."""
    store: Store = request.app.state.store
    return store


StoreDep = Annotated[Store, Depends(the_store)]


def known_session(request: Request, store: StoreDep) -> int | None:
    """Return the session of the cookie, or None."""
    settings: Settings = request.app.state.settings
    token = request.cookies.get(cookie_name(https=settings.https))
    return store.find_session(token_hash(token), datetime.now(UTC)) if token else None


KnownSessionDep = Annotated[int | None, Depends(known_session)]


def required_session(session_id: KnownSessionDep) -> int:
    """Return the session of the cookie; without one, nothing here belongs to the visitor."""
    if session_id is None:
        raise NotFound("no session")
    return session_id


SessionDep = Annotated[int, Depends(required_session)]


def visitor(request: Request, session_id: KnownSessionDep, store: StoreDep) -> int:
    """Return the session of the cookie, or begin one; either way the cookie lives on."""
    settings: Settings = request.app.state.settings
    token = request.cookies.get(cookie_name(https=settings.https))
    if session_id is None or token is None:
        token = secrets.token_urlsafe(TOKEN_BYTES)
        session_id = store.open_session(token_hash(token), datetime.now(UTC))
    request.state.session_token = token
    return session_id


VisitorDep = Annotated[int, Depends(visitor)]


def cookie_name(*, https: bool) -> str:
    """Return the cookie's name; the prefix makes browsers refuse one set by a neighbour."""
    return f"__Host-{COOKIE}" if https else COOKIE


def token_hash(token: str) -> str:
    """Return what the database knows the token by."""
    return hashlib.sha256(token.encode()).hexdigest()


class SessionCookie:
    """Send the cookie that `visitor` asked for, whatever response the route returned."""

    def __init__(self, app: ASGIApp, *, https: bool) -> None:
        self.app = app
        self.https = https

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        state = scope.setdefault("state", {})

        async def send_with_cookie(message: Message) -> None:
            token = state.get("session_token")
            if message["type"] == "http.response.start" and token is not None:
                headers = MutableHeaders(scope=message)
                headers.append("Set-Cookie", self._cookie(token))
            await send(message)

        await self.app(scope, receive, send_with_cookie)

    def _cookie(self, token: str) -> str:
        carrier = Response()
        carrier.set_cookie(
            cookie_name(https=self.https),
            token,
            max_age=COOKIE_LIFE_S,
            path="/",
            secure=self.https,
            httponly=True,
            samesite="lax",
        )
        return carrier.headers["set-cookie"]
