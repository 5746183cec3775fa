"""The reading form's own addresses, below ``/_plug``: a reading, a photograph, and what is read off it.

The gate stands in front of them as of everything. A refusal comes back as the bridge's own sentence with status 200:
it is an answer to a person, and the form shows it and keeps what it holds.
"""

import asyncio
import json
import math
import re
from collections import OrderedDict
from collections.abc import Awaitable, Callable
from typing import Any, cast

from fastapi import FastAPI, Request
from fastapi.responses import Response
from starlette.requests import ClientDisconnect

from bridge.errors import BadFile, BadValue, SootlineError
from bridge.logbook.photos import MOST_BYTES
from bridge.plug.photo import PhotoReading
from bridge.plug.photo.result import LIMITS, YOURS_WINS
from bridge.plug.photo.strip import Point
from dashboard.components import photo_form, reading_form
from dashboard.components.fields import as_number, as_words
from dashboard.components.parts import as_sentence
from dashboard.data import Source
from dashboard.photo_data import Asked, View

Answer = dict[str, Any]
_KEPT_ANSWERS = 256
_FORM_BYTES = 64_000
"""No form of ours is larger."""
_PAGES = re.compile(
    r"; give --tip X,Y and --seat X,Y|: give --tip and --seat|, or neither|--tip X,Y|--seat X,Y"
)


Key = tuple[str, int, str, str]


class Written:
    """Answers to readings that were written down, so that one which is sent again is not written again.

    A phone that lost the answer on its way sends the same reading once more, under the same mark. What was changed
    meanwhile is another reading, and is written.
    """

    def __init__(self) -> None:
        self._answers: OrderedDict[Key, Answer] = OrderedDict()

    def once(self, key: Key, write: Callable[[], Answer]) -> Answer:
        """Return the answer to a mark, writing where it is a new one."""
        if key in self._answers:
            return self._answers[key]
        answer = write()
        self._answers[key] = answer
        while len(self._answers) > _KEPT_ANSWERS:
            self._answers.popitem(last=False)
        return answer


def add_plug_routes(server: FastAPI, source: Source) -> None:
    """Put the reading form's addresses into the server."""
    written = Written()
    one_at_a_time = asyncio.Lock()

    @server.post("/_plug/reading")
    async def reading(request: Request) -> Answer:
        async def write(body: Answer) -> Answer:
            async with one_at_a_time:
                return await _answered(lambda: _once(source, written, body))

        return await _with_form(request, write)

    @server.post("/_plug/photo")
    async def photo(request: Request) -> Answer:
        asked = dict(request.query_params)
        too_large = (
            f"the picture has more than {MOST_BYTES // 1_000_000} MB, more than a picture needs; save it as a"
            " JPEG, then try again"
        )
        return await _with_bytes(
            request, MOST_BYTES, too_large, lambda data: _answered(lambda: _upload(source, asked, data))
        )

    @server.post("/_plug/photo/read")
    async def read_off(request: Request) -> Answer:
        return await _with_form(
            request,
            lambda body: _answered(
                lambda: {"result": _result(source.read_off(str(body.get("file")), _asked(body)))}
            ),
        )

    @server.post("/_plug/photo/keep")
    async def keep(request: Request) -> Answer:
        return await _with_form(request, lambda body: _answered(lambda: _keep(source, body)))

    @server.get("/_plug/photo/{_session}/{file}")
    async def look(_session: int, file: str, side: int | None = None) -> Response:
        small = None if side is None else min(max(side, 16), 4000)
        try:
            data, kind = await asyncio.to_thread(source.photo_bytes, file, small)
        except SootlineError as error:
            return Response(str(error), status_code=404, media_type="text/plain")
        return Response(data, media_type=kind)


def _once(source: Source, written: Written, body: Answer) -> Answer:
    label, number, token = str(body.get("label")), _whole(body.get("session")), str(body.get("token"))
    values = body.get("values")
    told = values if isinstance(values, dict) else {}
    key = (label, number, token, json.dumps(told, sort_keys=True))
    return written.once(key, lambda: _read(source, label, number, told))


def _read(source: Source, label: str, number: int, told: Answer) -> Answer:
    done = source.read(label, session=number, **reading_form.values(told))
    corrects = f" It corrects reading {done.corrects}, which stays on record." if done.corrects else ""
    return {
        "reading": done.id,
        "saved": f"Reading {done.id} of plug {done.plug} is written down.{corrects}",
    }


def _upload(source: Source, asked: dict[str, str], data: bytes) -> Answer:
    label, number = asked.get("label", ""), _whole(asked.get("session"))
    shown = source.upload(label, number, data, _asked(dict(asked)))
    answer: Answer = {
        "file": shown.file,
        "url": f"/_plug/photo/{number}/{shown.file}",
        "session": number,
        "width": shown.width,
        "height": shown.height,
        "tip": shown.tip,
        "seat": shown.seat,
    }
    if shown.photo is None or shown.found is None:
        result = "<p>Give the length of the nose, tip to seat, and the ring is looked for.</p>"
        return answer | {"saved": "The picture is kept, without place and device.", "result": result}
    return answer | {
        "saved": f"Photograph {shown.photo.id} is kept, without place and device.",
        "result": _result(shown.found),
    }


def _keep(source: Source, body: Answer) -> Answer:
    kept = source.keep(
        str(body.get("label")), _whole(body.get("session")), str(body.get("file")), _asked(body)
    )
    return {
        "saved": f"{photo_form.in_short(kept)} It is kept beside your own reading, which always goes first."
    }


def _result(found: PhotoReading) -> str:
    profile = None
    if found.profile_mm is not None and found.profile_lightness is not None:
        profile = (found.profile_mm.tolist(), found.profile_lightness.tolist())
    first, *because = _but_limits(found.in_words())
    # not rounded twice: the button says the tenth that the sentence says
    exact = {"ring_depth_mm": found.ring_depth_mm, "ring_depth_sd_mm": found.ring_depth_sd_mm}
    return photo_form.result(
        found.to_json() | exact, [first, *(_on_page(words) for words in because)], profile
    )


def _but_limits(sentences: list[str]) -> list[str]:
    """Return what is said of this picture alone; the known limits stand on the form already."""
    return [words for words in sentences if words not in (*LIMITS, YOURS_WINS)]


def _on_page(words: str) -> str:
    """Return a sentence of the command line as the page has it: marks are dragged here, not given by options."""
    return (
        _PAGES.sub("", words)
        .replace("tap them", "drag the marks there")
        .replace("must be tapped", "must be marked")
    )


def _asked(body: Answer) -> Asked:
    view = body.get("view")
    if view not in ("cut", "magnifier"):
        raise BadValue("say whether the picture shows the shell cut away, or looks down its mouth")
    return Asked(
        cast("View", view),
        as_number(body.get("nose_mm"), "the nose length"),
        _point(body.get("tip")),
        _point(body.get("seat")),
        as_number(body.get("rim_mm"), "how deep the nose is seen"),
    )


def _point(given: object) -> Point | None:
    if not isinstance(given, list) or len(given) != 2:
        return None
    if not all(isinstance(n, int | float) and math.isfinite(n) for n in given):
        raise BadValue("a mark stands nowhere on the picture; drag it anew")
    return float(given[0]), float(given[1])


async def _with_bytes(
    request: Request, most: int, too_large: str, work: Callable[[bytes], Awaitable[Answer]]
) -> Answer:
    """Take in what was sent, stop as soon as it is larger than it may be, and answer."""
    data = bytearray()
    try:
        async for piece in request.stream():
            data += piece
            if len(data) > most:
                return {"refused": _sentence(BadFile(too_large))}
    except ClientDisconnect:  # nobody is there any more to be told
        return {}
    return await work(bytes(data))


async def _with_form(request: Request, work: Callable[[Answer], Awaitable[Answer]]) -> Answer:
    """Take in a small JSON object and answer."""
    too_large = f"the form has more than {_FORM_BYTES // 1000} kB, more than a form needs; load the page anew"
    return await _with_bytes(request, _FORM_BYTES, too_large, lambda data: work(_form(data)))


async def _answered(work: Callable[[], Answer]) -> Answer:
    try:
        return await asyncio.to_thread(work)
    except SootlineError as error:
        return {"refused": _sentence(error)}


def _sentence(error: SootlineError) -> str:
    return as_sentence(_on_page(str(error)))


def _form(data: bytes) -> Answer:
    """Read a JSON object; anything else is an empty one."""
    try:
        found = json.loads(data)
    except (ValueError, RecursionError):
        return {}
    return found if isinstance(found, dict) else {}


def _whole(given: object) -> int:
    words = as_words(given) or ""
    if not (words.isascii() and words.isdigit() and len(words) <= 9):
        raise BadValue("say which session the plug is read for")
    return int(words)
