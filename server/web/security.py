"""Guards around every request: its origin, its size, and the headers of the answer.

All are plain ASGI: they neither buffer an answer nor cut off work behind it.
"""

from collections.abc import Mapping

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from server.web.failures import failure_page

SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})
LARGEST_BODY_BYTES = 64 * 1024

CONTENT_SECURITY_POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data:",
        "font-src 'self'",
        "connect-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
        "object-src 'none'",
    )
)
POWERFUL_FEATURES = (
    "accelerometer",
    "autoplay",
    "camera",
    "display-capture",
    "geolocation",
    "gyroscope",
    "hid",
    "magnetometer",
    "microphone",
    "midi",
    "payment",
    "serial",
    "usb",
    "xr-spatial-tracking",
)
SECURITY_HEADERS: Mapping[str, str] = {
    "Content-Security-Policy": CONTENT_SECURITY_POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": ", ".join(f"{feature}=()" for feature in POWERFUL_FEATURES),
}
HTTPS_ONLY = "max-age=31536000"  # one year


class SecurityHeaders:
    """Put the security headers on every answer, and keep it out of caches unless it says so."""

    def __init__(self, app: ASGIApp, *, https: bool) -> None:
        self.app = app
        self.headers = dict(SECURITY_HEADERS)
        if https:
            self.headers["Strict-Transport-Security"] = HTTPS_ONLY

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                headers.update(self.headers)
                headers.setdefault("Cache-Control", "no-store")
            await send(message)

        await self.app(scope, receive, send_with_headers)


class SameOrigin:
    """Refuse a request that changes something unless one of our own pages sent it."""

    def __init__(self, app: ASGIApp, *, public_origins: tuple[str, ...]) -> None:
        self.app = app
        self.public_origins = public_origins

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if (
            scope["type"] != "http"
            or scope["method"] in SAFE_METHODS
            or is_from_our_pages(Headers(scope=scope), self.public_origins)
        ):
            await self.app(scope, receive, send)
            return
        response = failure_page(
            Request(scope),
            403,
            "Not allowed",
            "This request did not come from a page of this server. Open the page again and retry",
        )
        await response(scope, receive, send)


def is_from_our_pages(headers: Headers, public_origins: tuple[str, ...]) -> bool:
    """Return whether the browser says that one of our pages, or the visitor, sent this.

    Browsers set `Sec-Fetch-Site` themselves, but leave it out on plain http beyond this
    machine; there, `Origin` must name the host. Without either, the sender is unknown.
    """
    site = headers.get("sec-fetch-site")
    if site is not None:
        return site in {"same-origin", "none"}
    origin = headers.get("origin", "").lower()
    if public_origins:
        return origin in public_origins
    host = origin.partition("://")[2]
    return host != "" and host == headers.get("host", "").lower()


class BodyLimit:
    """Refuse a body larger than any of our forms."""

    def __init__(self, app: ASGIApp, *, largest_bytes: int = LARGEST_BODY_BYTES) -> None:
        self.app = app
        self.largest_bytes = largest_bytes

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        if _declared_bytes(scope) > self.largest_bytes:
            response = failure_page(
                Request(scope), 413, "Too large", "That is more than this server takes at once"
            )
            await response(scope, receive, send)
            return
        seen_bytes = 0

        async def receive_counting() -> Message:
            # A body sent in pieces declares no length.
            nonlocal seen_bytes
            message = await receive()
            seen_bytes += len(message.get("body", b""))
            if seen_bytes > self.largest_bytes:
                raise HTTPException(413)
            return message

        await self.app(scope, receive_counting, send)


def _declared_bytes(scope: Scope) -> int:
    text = Headers(scope=scope).get("content-length", "")
    return int(text) if text.isascii() and text.isdigit() else 0
