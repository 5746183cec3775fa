"""A recording as a test makes it: in this process, with a logger of a few lines, and a tab that is no browser."""

import asyncio
import json
import time
from contextlib import contextmanager
from datetime import UTC, datetime

from bridge.link.capture import CaptureWriter
from bridge.logbook import Logbook
from bridge.wire import ChannelLine, Data, Identity, State, encode

CHANNELS = (("lambda_1", "1"), ("rpm", "/min"), ("throttle", "%"))


class Recording:
    """A session that this process records, as far as the logbook can tell."""

    def __init__(self, logbook, port="/dev/invented"):
        self.logbook = logbook
        self.session = logbook.new_session(
            bike=None, place="Hollow Lane", source=port, started=datetime.now(UTC)
        )
        self.writer = CaptureWriter(logbook.raw_path(self.session))
        self.seq = 0
        self.began = time.monotonic()
        self.put(self.block())

    def block(self):
        """Return the bytes with which a logger introduces itself."""
        head = [Identity(1, "test", "1", "1", 1_000_000, len(CHANNELS), 1)]
        head += [ChannelLine(i, name, unit) for i, (name, unit) in enumerate(CHANNELS)]
        return b"".join(map(encode, [*head, State(0, "lambda_1", "ready")]))

    def put(self, data, age_s=0.0):
        """Append bytes that came so long ago [s]."""
        self.writer.append(data, int((time.monotonic() - age_s) * 1e9), int((time.time() - age_s) * 1e9))

    def line(self, lambda_=0.87, rpm=6000.0, throttle=40.0, age_s=0.0):
        """Append one data line written so long ago [s]."""
        tick = int((time.monotonic() - age_s - self.began + 1000.0) * 1e6)
        self.put(encode(Data(self.seq, tick, (lambda_, rpm, throttle))), age_s)
        self.seq += 1

    def note(self, text):
        """Append a note of the recorder."""
        self.writer.note(text, time.monotonic_ns(), time.time_ns())


@contextmanager
def recording(folder, **about):
    """Give a recording that goes on while the context lasts."""
    with Logbook.open(folder, write=True) as logbook:
        made = Recording(logbook, **about)
        try:
            yield made
        finally:
            made.writer.close()


class Tab:
    """The browser's end of the stream, over plain ASGI."""

    def __init__(self, app, session, since=None):
        self.app = app
        self.scope = {
            "type": "websocket",
            "path": f"/_live/{session}/stream",
            "raw_path": f"/_live/{session}/stream".encode(),
            "query_string": b"" if since is None else f"since={since}".encode(),
            "headers": [(b"host", b"127.0.0.1:8742"), (b"origin", b"http://127.0.0.1:8742")],
            "client": ("127.0.0.1", 50000),
            "server": ("127.0.0.1", 8742),
            "scheme": "ws",
            "subprotocols": [],
            "root_path": "",
        }
        self.out, self.into = asyncio.Queue(), asyncio.Queue()

    async def __aenter__(self):
        await self.into.put({"type": "websocket.connect"})
        self.task = asyncio.create_task(self.app(self.scope, self.into.get, self.out.put))
        assert (await self.out.get())["type"] == "websocket.accept"
        return self

    async def __aexit__(self, *_):
        await self.into.put({"type": "websocket.disconnect", "code": 1001})
        await asyncio.wait_for(self.task, 5.0)

    async def hear(self):
        """Return the next message."""
        sent = await asyncio.wait_for(self.out.get(), 10.0)
        return json.loads(sent["text"]) if sent["type"] == "websocket.send" else sent

    async def until(self, wanted):
        """Return the first message for which ``wanted`` holds, and all rows up to it."""
        rows = []
        while True:
            message = await self.hear()
            rows += message.get("rows", [])
            if wanted(message):
                return message, rows
