"""This machine only: a gate in front of everything, websockets too.

Pure ASGI on purpose, since middleware of the framework never sees a websocket. A page of a foreign site that
has its name resolve to 127.0.0.1 sends its own name as Host, and one that posts to us sends its own Origin;
both are turned away here.
"""

from collections.abc import Awaitable, Callable, MutableMapping
from typing import Any
from urllib.parse import urlsplit

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

LOOPBACK = frozenset({"127.0.0.1", "localhost", "::1"})
_CHANGES = frozenset({"POST", "PUT", "PATCH", "DELETE"})

# The page needs nothing but what this server has. Dash puts its start-up script and plotly its styles inline.
_POLICY = (
    "default-src 'self'; script-src 'self' 'unsafe-inline' 'unsafe-eval' blob:; style-src 'self'"
    " 'unsafe-inline'; img-src 'self' data: blob:; font-src 'self' data:; connect-src 'self' ws: data:;"
    " worker-src 'self' blob:; frame-ancestors 'none'; base-uri 'none'; form-action 'self'"
)
_HEADERS = (
    (b"content-security-policy", _POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
)


def is_loopback(host: str) -> bool:
    """Return whether a Host header, or the host part of an Origin, names this machine; any port will do."""
    try:
        return urlsplit(f"//{host}").hostname in LOOPBACK
    except ValueError:
        return False


class Guard:
    """The gate: answers 421 to a foreign Host, 403 to a foreign Origin, and lets the rest through."""

    def __init__(self, app: App) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one connection, or turn it away."""
        if scope["type"] not in ("http", "websocket"):
            await self.app(scope, receive, send)
            return
        refused = _refusal(scope)
        if refused is None:
            await self.app(scope, receive, _with_headers(send) if scope["type"] == "http" else send)
        elif scope["type"] == "websocket":
            await receive()
            await send({"type": "websocket.close", "code": 1008, "reason": refused[1]})
        else:
            status, words = refused
            headers = [(b"content-type", b"text/plain; charset=utf-8"), *_HEADERS]
            await send({"type": "http.response.start", "status": status, "headers": headers})
            await send({"type": "http.response.body", "body": words.encode()})


def _refusal(scope: Scope) -> tuple[int, str] | None:
    """Return status and sentence where this connection is to be turned away."""
    headers = [(name.decode("latin-1").lower(), value.decode("latin-1")) for name, value in scope["headers"]]
    hosts = [value for name, value in headers if name == "host"]
    if len(hosts) != 1 or not is_loopback(hosts[0]):
        return 421, "The dashboard serves this machine only; open it as http://127.0.0.1."
    if scope["type"] == "websocket" or scope["method"] in _CHANGES:
        origins = [value for name, value in headers if name == "origin"]
        if len(origins) != 1 or not _same_place(origins[0], hosts[0]):
            return 403, "This request does not come from the dashboard's own page."
    return None


def _same_place(origin: str, host: str) -> bool:
    """Return whether an Origin is the very page that the Host served: scheme http, same name, same port."""
    try:
        parts = urlsplit(origin)
    except ValueError:
        return False
    return parts.scheme in ("http", "https") and parts.netloc == host and is_loopback(parts.netloc)


def _with_headers(send: Send) -> Send:
    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            message["headers"] = [*message.get("headers", []), *_HEADERS]
        await send(message)

    return sending
