"""What the gate needs of ASGI: its types, whole answers, small forms, and the headers that go on everything."""

import asyncio
from collections.abc import Awaitable, Callable, Iterable, MutableMapping
from typing import Any
from urllib.parse import parse_qs

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]
Headers = tuple[tuple[bytes, bytes], ...]

OWN = "sootline.own"
"""Stands in a scope that the gate has found to be this machine's own browser."""
FORM_BYTES = 256
FORM_SECONDS = 10.0
_KEPT = ("/_dash-component-suites/", "/assets/")  # libraries and styles: no data, and megabytes on a phone
_FORM = b"application/x-www-form-urlencoded"


class FormRefusedError(Exception):
    """A form that is no form, too large or too slow; carries the HTTP status.

    Example scenarios: a megabyte posted as a PIN; a body that trickles in for minutes.
    """

    def __init__(self, status: int, words: str) -> None:
        super().__init__(words)
        self.status = status


def is_page(path: str) -> bool:
    """Return whether a path is a page's; the rest are Dash's own addresses and the assets."""
    return not path.startswith(("/_", "/assets/"))


def safety_headers(path: str, host: str | None, script_hashes: Iterable[str] = ()) -> Headers:
    """Return the headers that every answer carries.

    Args:
        path: what was asked for; only libraries and styles may be kept by the browser.
        host: the Host that was checked, for the page's own websocket; None where it was refused.
        script_hashes: ``'sha256-...'`` of the scripts that stand inline in the document; no other inline script runs.

    The referrer policy must not be ``no-referrer``: browsers then post forms with ``Origin: null``.
    """
    scripts = " ".join(["'self'", *script_hashes])
    socket = f" ws://{host}" if host else ""
    policy = (
        f"default-src 'self'; script-src {scripts}; style-src 'self' 'unsafe-inline'; img-src 'self' data: blob:;"
        f" font-src 'self' data:; connect-src 'self'{socket}; object-src 'none'; frame-ancestors 'none';"
        " base-uri 'none'; form-action 'self'"
    )
    kept: Headers = () if path.startswith(_KEPT) else ((b"cache-control", b"no-store"),)
    return (
        (b"content-security-policy", policy.encode("latin-1")),
        (b"x-content-type-options", b"nosniff"),
        (b"referrer-policy", b"same-origin"),
        (b"cross-origin-resource-policy", b"same-origin"),
        *kept,
    )


def with_headers(send: Send, headers: Headers) -> Send:
    """Return a send that puts these headers on the answer, in place of the app's own of the same names."""
    names = {name for name, _ in headers}

    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            own = [(n, v) for n, v in message.get("headers", ()) if bytes(n).lower() not in names]
            message = {**message, "headers": [*own, *headers]}
        await send(message)

    return sending


async def answer(
    send: Send,
    status: int,
    body: str | bytes,
    *,
    kind: str = "text/plain; charset=utf-8",
    headers: Headers = (),
) -> None:
    """Send one whole answer."""
    data = body.encode() if isinstance(body, str) else body
    head = [(b"content-type", kind.encode()), (b"content-length", str(len(data)).encode()), *headers]
    await send({"type": "http.response.start", "status": status, "headers": head})
    await send({"type": "http.response.body", "body": data})


async def refuse_socket(receive: Receive, send: Send) -> None:
    """Refuse a websocket before it opens; the server makes an HTTP 403 of that."""
    await receive()
    await send({"type": "websocket.close", "code": 1008})


async def read_form(scope: Scope, receive: Receive) -> dict[str, str]:
    """Read a small form.

    Returns:
        Its fields; of a field given more than once, the last.

    Raises:
        FormRefusedError: it is not urlencoded (415), over 256 bytes (413), not text (400), or took over 10 s (408).
    """
    headers = {bytes(name).lower(): bytes(value) for name, value in scope["headers"]}
    if headers.get(b"content-type", b"").split(b";")[0].strip().lower() != _FORM:
        raise FormRefusedError(415, "This is not a form.")
    length = headers.get(b"content-length", b"0")
    if not length.isdigit() or len(length) > 9 or int(length) > FORM_BYTES:
        raise FormRefusedError(413, "This form is too large.")
    try:
        async with asyncio.timeout(FORM_SECONDS):
            body = await _read(receive)
    except TimeoutError:
        raise FormRefusedError(408, "This form took too long.") from None
    try:
        fields = parse_qs(body.decode("ascii"), max_num_fields=4, errors="strict")
    except ValueError:
        raise FormRefusedError(400, "This form cannot be read.") from None
    return {name: values[-1] for name, values in fields.items()}


async def _read(receive: Receive) -> bytes:
    body = bytearray()
    more = True
    while more:
        message = await receive()
        if message["type"] != "http.request":
            raise FormRefusedError(400, "This form broke off.")
        body += message.get("body", b"")
        more = message.get("more_body", False)
        if len(body) > FORM_BYTES:
            raise FormRefusedError(413, "This form is too large.")
    return bytes(body)
