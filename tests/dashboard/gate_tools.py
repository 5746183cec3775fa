"""A gate as a test knocks at it: raw ASGI, a clock of the test's own, a PIN that costs no hashing."""

import asyncio
from datetime import UTC, datetime
from urllib.parse import urlencode

from dashboard.gate import Door, Gate
from dashboard.gate.pins import keep, write_pin

PHONE, LAPTOP, PORT = "192.168.7.20", "192.168.7.2", 8742
AT_LAPTOP, AT_LOOPBACK = f"{LAPTOP}:{PORT}", f"127.0.0.1:{PORT}"
PIN = "27182845"
MADE = datetime(2026, 5, 14, 9, 20, tzinfo=UTC)


class Clock:
    """A clock that goes when it is told to."""

    def __init__(self):
        self.now = 1000.0

    def __call__(self):
        return self.now


class Answer:
    """What one request was answered."""

    def __init__(self, sent):
        self.sent = sent
        self.status = sent[0].get("status")
        self.headers = [(n.decode(), v.decode()) for n, v in sent[0].get("headers", ())]
        self.body = b"".join(m.get("body", b"") for m in sent[1:]).decode("utf-8", "replace")

    def header(self, name):
        """Return a header that stands there exactly once, or None."""
        values = [value for key, value in self.headers if key == name]
        assert len(values) <= 1
        return values[0] if values else None


async def behind(scope, receive, send):
    """Stand in for the dashboard: says `in`, echoes over websockets."""
    if scope["type"] == "websocket":
        assert (await receive())["type"] == "websocket.connect"
        await send({"type": "websocket.accept"})
        while (message := await receive())["type"] == "websocket.receive":
            await send({"type": "websocket.send", "text": message["text"]})
        return
    headers = [(b"cache-control", b"public, max-age=60")]
    await send({"type": "http.response.start", "status": 200, "headers": headers})
    await send({"type": "http.response.body", "body": b"in"})


def scope_of(kind="http", *, method="GET", path="/", peer=PHONE, host=AT_LAPTOP, local=LAPTOP, **headers):
    """Return the scope of a connection; a header given as a list is sent more than once."""
    lines = [(b"host", host.encode())] if host is not None else []
    for name, value in headers.items():
        values = value if isinstance(value, list) else [value]
        lines += [(name.replace("_", "-").encode(), one.encode()) for one in values]
    return {
        "type": kind,
        "method": method,
        "path": path,
        "query_string": b"",
        "headers": lines,
        "client": (peer, 50000) if peer else None,
        "server": (local, PORT),
    }


async def ask(gate, body=b"", chunk=None, **about):
    """Return the answer to one request; a chunk size sends the body in pieces."""
    pieces = [body[i : i + chunk] for i in range(0, len(body), chunk)] if chunk else [body]
    sent = []

    async def receive():
        piece = pieces.pop(0)
        return {"type": "http.request", "body": piece, "more_body": bool(pieces)}

    async def send(message):
        sent.append(message)

    await gate(scope_of(**about), receive, send)
    return Answer(sent)


async def try_pin(gate, pin, peer=PHONE, host=AT_LAPTOP, **about):
    """Post a PIN at the door as the page's form does."""
    about = {"origin": f"http://{host}", "content_type": "application/x-www-form-urlencoded", **about}
    body = urlencode({"pin": pin}).encode()
    return await ask(gate, body, method="POST", path="/door", peer=peer, host=host, **about)


def cookie_of(answer):
    """Return the cookie that an answer sets, as a browser would send it back."""
    return answer.header("set-cookie").split(";")[0]


class Socket:
    """A websocket's other end."""

    def __init__(self, gate, **about):
        about = {"origin": f"http://{about.get('host', AT_LAPTOP)}", **about}
        self.sent, self._inbox = [], asyncio.Queue()
        self._inbox.put_nowait({"type": "websocket.connect"})
        self._task = asyncio.ensure_future(gate(scope_of("websocket", **about), self._inbox.get, self._send))

    async def _send(self, message):
        self.sent.append(message)

    async def say(self, text):
        """Send a text and let the other end answer."""
        self._inbox.put_nowait({"type": "websocket.receive", "text": text})
        await self.settle()

    async def settle(self):
        """Let the other end do what it can."""
        for _ in range(10):
            await asyncio.sleep(0)

    async def close(self):
        """Go away."""
        self._inbox.put_nowait({"type": "websocket.disconnect", "code": 1001})
        await asyncio.gather(self._task, return_exceptions=True)


def cheap(judged):
    """Return a judge of PINs that hashes nothing and counts how often it is asked."""

    def verify(pin, _kept):
        judged.append(pin)
        return pin == PIN

    return verify


def make_gate(folder, clock=None, judged=None):
    """Return a gate with a door on a folder whose PIN is `PIN`."""
    write_pin(folder, keep(PIN, MADE))
    door = Door(
        folder,
        urls=(f"http://{AT_LAPTOP}/",),
        names=frozenset({"pit-laptop.local"}),
        now=clock or Clock(),
        verify=cheap([] if judged is None else judged),
    )
    return Gate(behind, door)
