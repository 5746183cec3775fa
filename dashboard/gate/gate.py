"""The gate: one pure ASGI class before everything, websockets included.

Pure ASGI on purpose, since middleware of the framework never sees a websocket. In order: the Host must be where the
connection arrived (400), what asks for a change must come from our own page (403); then this machine's own browser
goes through, and any other device only with a session that a PIN has opened (303 to the door for a page, 401 for
all else, 403 for a websocket).
"""

from pathlib import Path

from bridge.errors import SootlineError
from dashboard.gate import door_pages
from dashboard.gate.asgi import (
    OWN,
    App,
    FormRefusedError,
    Headers,
    Message,
    Receive,
    Scope,
    Send,
    answer,
    is_page,
    read_form,
    refuse_socket,
    safety_headers,
    with_headers,
)
from dashboard.gate.door import Door, DoorState
from dashboard.gate.knock import (
    Knock,
    OnThisMachine,
    host_is_right,
    is_own,
    on_loopback,
    origin_is_right,
    read_knock,
)
from dashboard.gate.sessions import LONGEST_S

DOOR = "/door"
_HTML = "text/html; charset=utf-8"
_ASSETS = Path(__file__).parents[1] / "assets"
_FILES = {
    "/door/icon.svg": ("image/svg+xml", _ASSETS / "icon.svg"),
    "/door/serif.woff2": ("font/woff2", _ASSETS / "fonts" / "serif-latin.woff2"),
}


class Gate:
    """Lets connections through to an app, or turns them away.

    Args:
        app: what stands behind it.
        door: how other devices come in; without one, this machine alone is served.
        script_hashes: the inline scripts that the app's document may run, as ``'sha256-...'``.
        on_this_machine: whether both ends of a connection are this machine; the loopback unless told otherwise.
    """

    def __init__(
        self,
        app: App,
        door: Door | None = None,
        *,
        script_hashes: tuple[str, ...] = (),
        on_this_machine: OnThisMachine = on_loopback,
    ) -> None:
        self._app, self._door = app, door
        self._hashes, self._on_this_machine = script_hashes, on_this_machine
        self._files = {path: (kind, file.read_bytes()) for path, (kind, file) in _FILES.items()}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one connection, or turn it away."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
        elif scope["type"] == "websocket":
            await self._socket(scope, receive, send)
        elif scope["type"] == "http":
            await self._request(scope, receive, send)

    async def _socket(self, scope: Scope, receive: Receive, send: Send) -> None:
        knock = read_knock(scope)
        names = self._door.names if self._door else frozenset()
        token = _token(knock)
        if not host_is_right(knock, names) or not origin_is_right(knock):
            await refuse_socket(receive, send)
        elif is_own(knock, self._on_this_machine):
            await self._app(scope, receive, send)
        elif self._door is not None and self._door.admits(token):
            watched = _Watched(self._door, token, receive, send)
            await self._app(scope, watched.receive, watched.send)
        else:
            await refuse_socket(receive, send)

    async def _request(self, scope: Scope, receive: Receive, send: Send) -> None:
        knock = read_knock(scope)
        right = host_is_right(knock, self._door.names if self._door else frozenset())
        send = with_headers(send, safety_headers(knock.path, knock.host if right else None, self._hashes))
        if not right:
            await answer(
                send, 400, "The dashboard is not served under this name; open it as the terminal says."
            )
        elif not origin_is_right(knock):
            await answer(send, 403, "This request does not come from the dashboard's own page.")
        elif is_own(knock, self._on_this_machine):
            await self._for_own({**scope, OWN: True}, receive, send)
        elif self._door is None:
            await answer(send, 403, "The dashboard serves this machine only.")
        else:
            await self._for_others(scope, receive, send, knock, self._door)

    async def _for_own(self, scope: Scope, receive: Receive, send: Send) -> None:
        asked = (scope["method"], scope["path"])
        if asked == ("GET", DOOR):
            state = self._door.state() if self._door else DoorState()
            await answer(send, 200, door_pages.own(state), kind=_HTML)
        elif self._door is not None and asked in (("POST", "/door/new"), ("POST", "/door/end")):
            try:
                await (self._door.new_pin() if asked[1] == "/door/new" else self._door.end_sessions())
            except SootlineError as error:
                await answer(send, 500, str(error))
            else:
                await _go_to(send, DOOR)
        elif scope["path"] in self._files:
            await self._file(scope, send)
        elif _is_at_door(scope["path"]):
            await answer(send, 404, "There is no such page at the door.")
        else:
            await self._app(scope, receive, send)

    async def _for_others(self, scope: Scope, receive: Receive, send: Send, knock: Knock, door: Door) -> None:
        path, method = scope["path"], scope["method"]
        token = _token(knock)
        inside = door.admits(token)
        if path in self._files:
            await self._file(scope, send)
        elif path == DOOR and method == "POST":
            await self._try(scope, receive, send, knock, door)
        elif path == DOOR and method in ("GET", "HEAD"):
            page = door_pages.inside() if inside else door_pages.entrance(trouble=door.trouble)
            await answer(send, 200, page, kind=_HTML)
        elif path == "/door/leave" and method == "POST":
            door.leave(token)
            await _go_to(send, DOOR, cookie=_cookie(knock, "", 0))
        elif _is_at_door(path):
            await answer(send, 404, "There is no such page at the door.")
        elif inside:
            await self._app(scope, receive, send)
        elif is_page(path) and method in ("GET", "HEAD"):
            await _go_to(send, DOOR)
        else:
            await answer(send, 401, "This device has not been let in; open the dashboard's first page.")

    async def _try(self, scope: Scope, receive: Receive, send: Send, knock: Knock, door: Door) -> None:
        try:
            pin = (await read_form(scope, receive)).get("pin", "")
        except FormRefusedError as refused:
            await answer(send, refused.status, str(refused), headers=((b"connection", b"close"),))
            return
        tried = await door.try_pin(knock.peer, pin.strip())
        if tried.token is not None:
            await _go_to(send, "/", cookie=_cookie(knock, tried.token, int(LONGEST_S)))
            return
        page = door_pages.entrance(tried.wait_s, door.trouble)
        later: Headers = ((b"retry-after", str(int(tried.wait_s) + 1).encode()),) if tried.wait_s else ()
        await answer(send, 403 if tried.judged else 429, page, kind=_HTML, headers=later)

    async def _file(self, scope: Scope, send: Send) -> None:
        kind, data = self._files[scope["path"]]
        await answer(send, 200, data, kind=kind)


class _Watched:
    """A websocket that ends with its session: nothing passes either way afterwards."""

    def __init__(self, door: Door, token: str | None, receive: Receive, send: Send) -> None:
        self._door, self._token = door, token
        self._receive, self._send = receive, send

    async def receive(self) -> Message:
        message = await self._receive()
        if message["type"] == "websocket.receive" and not self._door.admits(self._token):
            await self._close()
            return {"type": "websocket.disconnect", "code": 1008}
        return message

    async def send(self, message: Message) -> None:
        if message["type"] != "websocket.close" and not self._door.admits(self._token):
            await self._close()
            raise ConnectionError("the session of this websocket is over")  # as where the browser went away
        await self._send(message)

    async def _close(self) -> None:
        await self._send({"type": "websocket.close", "code": 1008, "reason": "the session is over"})


def _is_at_door(path: str) -> bool:
    return path == DOOR or path.startswith(DOOR + "/")


def _cookie_name(knock: Knock) -> str:
    return f"sootline-{knock.port}"  # browsers share cookies between the ports of one address


def _token(knock: Knock) -> str | None:
    return knock.cookies.get(_cookie_name(knock))


def _cookie(knock: Knock, token: str, seconds: int) -> bytes:
    name = _cookie_name(knock)
    return f"{name}={token}; Path=/; Max-Age={seconds}; HttpOnly; SameSite=Strict".encode()


async def _go_to(send: Send, path: str, *, cookie: bytes | None = None) -> None:
    headers: list[tuple[bytes, bytes]] = [(b"location", path.encode())]
    if cookie is not None:
        headers.append((b"set-cookie", cookie))
    await answer(send, 303, "", headers=tuple(headers))
