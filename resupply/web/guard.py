"""What every request passes first: the right host, the right origin, a small enough body.

A page on the web can make a browser send requests to this machine. So the Host header must name
this server (no rebinding of foreign names), and whatever changes or plans something must come
from this server's own page (Origin).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from starlette.datastructures import Headers
from starlette.responses import PlainTextResponse

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

__all__ = ["Guard"]

_HEADERS = (
    (b"x-content-type-options", b"nosniff"),
    # Tile servers want to know who asks; they learn the origin, never the trip.
    (b"referrer-policy", b"strict-origin-when-cross-origin"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"cache-control", b"no-store"),
)


@dataclass(frozen=True, slots=True)
class Guard:
    """ASGI layer around the application."""

    app: ASGIApp
    hosts: frozenset[str]
    """Allowed values of Host, each with its port."""
    policy: str
    """Content-Security-Policy of every answer."""

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or answer why not."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        refusal = self._refusal(scope)
        if refusal is not None:
            await PlainTextResponse(refusal, status_code=403)(scope, receive, send)
            return

        async def send_safely(message: Message) -> None:
            if message["type"] == "http.response.start":
                extra = [*_HEADERS, (b"content-security-policy", self.policy.encode())]
                message = {**message, "headers": [*message.get("headers", []), *extra]}
            await send(message)

        await self.app(scope, receive, send_safely)

    def _refusal(self, scope: Scope) -> str | None:
        headers = Headers(scope=scope)
        if headers.get("host", "").lower() not in self.hosts:
            return "This address is not served here."
        origin = headers.get("origin")
        own = {f"http://{host}" for host in self.hosts}
        if scope["method"] not in ("GET", "HEAD") and origin not in own:
            return "Only this server's own page may ask that."
        # A link to the page, in a letter or on another site, may be followed; nothing else.
        followed = scope["path"] == "/" and headers.get("sec-fetch-mode") == "navigate"
        own_site = headers.get("sec-fetch-site", "none") in ("same-origin", "none")
        if not own_site and not followed:
            return "Only this server's own page may ask that."
        return None
