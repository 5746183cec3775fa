"""The live page's websocket: for each tab a task that sends what is new since its own last row."""

import asyncio
import contextlib
import json
import math
import time
from itertools import groupby
from typing import Any

from fastapi import WebSocket, WebSocketDisconnect

from dashboard.live.decoder import Row
from dashboard.live.watch import Watch

SPACING_S = 0.025
"""Between two messages to a tab at least [s]. New bytes are sent as soon as they are decoded, since a fixed beat
would add half of itself to every line's age."""
STATUS_S = 0.5
"""Everything but the rows is sent this often [s], and at once where it has changed."""


async def stream(ws: WebSocket, watch: Watch) -> None:
    """Send until the tab goes away.

    What a slow tab has not taken holds nothing up: its next message has the newest minute at most, whatever
    it has missed.

    Args:
        ws: accepted; ``?since=`` is the time of the last row that the tab has.
        watch: the session.
    """
    event = asyncio.Event()
    unsubscribe = watch.subscribe(asyncio.get_running_loop(), event)
    sending = asyncio.create_task(_send(ws, watch, event, _since(ws.query_params.get("since"))))
    leaving = asyncio.create_task(_until_gone(ws))
    try:
        await asyncio.wait({sending, leaving}, return_when=asyncio.FIRST_COMPLETED)
    finally:
        unsubscribe()
        for task in (sending, leaving):
            task.cancel()
            with contextlib.suppress(asyncio.CancelledError, WebSocketDisconnect, RuntimeError, OSError):
                await task


async def _send(ws: WebSocket, watch: Watch, event: asyncio.Event, since: float | None) -> None:
    layout: list[dict[str, Any]] | None = None
    version, told_at = -1, 0.0
    while True:
        event.clear()
        rows = watch.rows_since(since)
        if rows:
            since = rows[-1].t
        now, status = time.monotonic(), ""
        if watch.version != version or now - told_at >= STATUS_S:
            version, told_at = watch.version, now
            status = json.dumps(watch.status(), separators=(",", ":"))
        for part in _parts(rows) or [[]]:
            columns = watch.layout(part[0].layout) if part else layout
            text = _message(watch, part, columns if columns != layout else None, status)
            layout, status = columns, ""
            await ws.send_text(text)
        await asyncio.sleep(SPACING_S)
        with contextlib.suppress(TimeoutError):
            await asyncio.wait_for(event.wait(), STATUS_S)


def _parts(rows: list[Row]) -> list[list[Row]]:
    """Part rows where what their values stand for changes."""
    return [list(part) for _, part in groupby(rows, key=lambda row: row.layout)]


def _message(watch: Watch, rows: list[Row], columns: list[dict[str, Any]] | None, status: str) -> str:
    """Return one message: ``now`` on the arrivals' clock, rows as ``[t, value, ...]``, what has changed."""
    head: dict[str, Any] = {"now": round(time.monotonic(), 4), "last": watch.last_line_s}
    if columns is not None:
        head["columns"] = columns
    if rows:
        head["rows"] = [[round(row.t, 4), *row.values] for row in rows]
    text = json.dumps(head, separators=(",", ":"))
    return f'{text[:-1]},"status":{status}}}' if status else text


async def _until_gone(ws: WebSocket) -> None:
    """Take what the tab sends, which is nothing, until it goes."""
    with contextlib.suppress(WebSocketDisconnect):
        while True:
            await ws.receive_text()


def _since(text: str | None) -> float | None:
    """Read the time of a tab's last row; what is no plain number is as if left out."""
    try:
        value = float(text or "")
    except ValueError:
        return None
    return value if math.isfinite(value) else None
