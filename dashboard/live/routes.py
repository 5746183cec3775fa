"""The live page's own addresses, below ``/_live``: the stream, and what a tap on a button does.

The gate stands in front of them as of everything. A refusal comes back as the bridge's own sentence with status
200: it is an answer to a person, and a page of ours shows it.
"""

import asyncio
import math
import time
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

from fastapi import FastAPI, Request, WebSocket

from bridge.errors import BadValue, SootlineError
from dashboard.gate.asgi import OWN
from dashboard.live import control
from dashboard.live.about import About, look_up
from dashboard.live.stream import stream
from dashboard.live.watch import Watch

Answer = dict[str, Any]


class Desk:
    """The sessions that are looked at just now; one watch each, however many tabs."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._watches: dict[int, tuple[Watch, int]] = {}

    @asynccontextmanager
    async def looking(self, session: int) -> AsyncIterator[Watch]:
        """Follow a session as long as the context lasts; the last one to leave ends the following.

        Raises:
            UnknownThing: there is no such session.
        """
        about = await asyncio.to_thread(look_up, self.folder, session)
        # no await between looking and writing: one loop, so no two tabs make two watches
        watch, tabs = self._watches.get(session) or (self._watch(session, about), 0)
        self._watches[session] = (watch, tabs + 1)
        try:
            yield watch
        finally:
            watch, tabs = self._watches[session]
            self._watches[session] = (watch, tabs - 1)
            if tabs == 1:
                del self._watches[session]
                watch.close()

    def watched(self, session: int) -> Watch | None:
        """Return the watch of a session that somebody looks at."""
        found = self._watches.get(session)
        return found[0] if found else None

    def _watch(self, session: int, about: About) -> Watch:
        return Watch(about, lambda: look_up(self.folder, session))


def add_routes(server: FastAPI, folder: Path) -> Desk:
    """Put the live page's addresses into the server.

    Args:
        server: the app's own.
        folder: the logbook.
    """
    desk = Desk(folder)

    @server.websocket("/_live/{session}/stream")
    async def follow(ws: WebSocket, session: int) -> None:
        await ws.accept()
        try:
            async with desk.looking(session) as watch:
                await stream(ws, watch)
        except SootlineError as error:
            await ws.send_json({"gone": str(error)})
            await ws.close()

    @server.get("/_live/desk")
    async def choices() -> Answer:
        return await _answered(lambda: control.desk(folder))

    @server.post("/_live/start")
    async def begin(request: Request) -> Answer:
        body = await _body(request)
        words = [str(body.get(key) or "") for key in ("port", "bike", "place")]
        # another device may choose a port of this machine, but not name a path or an address of its own
        any_port = bool(request.scope.get(OWN))
        return await _answered(lambda: {"session": control.start(folder, *words, any_port=any_port)})

    @server.post("/_live/{session}/stop")
    async def end(session: int) -> Answer:
        return await _answered(lambda: _stop(folder, session))

    @server.post("/_live/{session}/mark")
    async def mark(session: int, request: Request) -> Answer:
        body = await _body(request)
        watch = desk.watched(session)
        if watch is None:
            return {"refused": "nobody looks at this session; open its live page"}
        answer = await _answered(lambda: _mark(folder, session, watch, body))
        watch.look_again()
        return answer

    @server.post("/_live/{session}/no-chop")
    async def dismiss(session: int, request: Request) -> Answer:
        body, watch = await _body(request), desk.watched(session)
        if watch is not None:
            watch.dismiss(_number(body.get("t"), 0.0))
        return {}

    return desk


def _mark(folder: Path, session: int, watch: Watch, body: Answer) -> Answer:
    """Mark the moment at which the button was tapped, on the clock of the lines."""
    now = time.monotonic()
    t = min(_number(body.get("t"), now), now)
    utc = watch.utc(t)
    if utc is None:
        raise BadValue("nothing has come from the logger yet, so there is no moment to mark")
    control.mark(folder, session, str(body.get("what")), utc)
    return {"t": t}


def _stop(folder: Path, session: int) -> Answer:
    control.stop(folder, session)
    return {}


async def _answered(work: Callable[[], Answer]) -> Answer:
    try:
        return await asyncio.to_thread(work)
    except SootlineError as error:
        return {"refused": str(error)}


async def _body(request: Request) -> Answer:
    """Read a small JSON object; anything else is an empty one."""
    try:
        found = await request.json()
    except ValueError:
        return {}
    return found if isinstance(found, dict) else {}


def _number(given: object, otherwise: float) -> float:
    number = float(given) if isinstance(given, int | float) else otherwise
    return number if math.isfinite(number) else otherwise
