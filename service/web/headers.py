"""Headers that every answer carries, so that a browser does not do more with it than meant."""

from typing import Final

from starlette.datastructures import MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from dashboards.assets import STYLE_SOURCES

CONTENT_POLICY: Final = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        f"style-src {STYLE_SOURCES}",
        "img-src 'self' data:",
        "font-src 'self'",
        "connect-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "object-src 'none'",
        "frame-ancestors 'none'",
    )
)

ALWAYS: Final = {
    "content-security-policy": CONTENT_POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=()",
}
"""Set on every answer, errors included."""

TLS_ONLY: Final = "max-age=31536000; includeSubDomains"
"""A year, as ASVS 5.0.0 V3.4.1 asks: a browser that was here once comes by TLS only (RFC 6797)."""


class SecurityHeaders:
    """Adds the headers to every HTTP answer; pages and API answers are not kept by caches.

    An answer that names its own cache-control (a script under a versioned address) keeps it.

    Parameters
    ----------
    app : ASGI application
        What is wrapped.
    tls : bool
        Whether TLS stands in front, so that browsers are told to come by TLS only.
    """

    def __init__(self, app: ASGIApp, *, tls: bool = False) -> None:
        self.app = app
        self.fixed = ALWAYS | ({"strict-transport-security": TLS_ONLY} if tls else {})

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on and dress the answer."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def send_dressed(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in self.fixed.items():
                    headers[name] = value
                headers.setdefault("cache-control", "no-store")
            await send(message)

        await self.app(scope, receive, send_dressed)
