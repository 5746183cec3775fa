"""The live page's websocket and addresses, over plain ASGI, on a recording of this process."""

import asyncio
import json
import time

import httpx
import pytest
from fastapi import FastAPI

from bridge.logbook import Logbook
from dashboard.app import create_app
from dashboard.live.routes import add_routes
from tests.dashboard.live_tools import Tab, recording


@pytest.fixture
def folder(tmp_path):
    """Return the folder of an empty logbook."""
    with Logbook.open(tmp_path / "logbook", write=True):
        pass
    return tmp_path / "logbook"


@pytest.fixture
def served(folder):
    """Return the live page's addresses alone, and what looks after the watches."""
    app = FastAPI()
    return app, add_routes(app, folder)


def has_rows(message):
    return bool(message.get("rows"))


def values(rows):
    """Return rows without their times."""
    return [row[1:] for row in rows]


async def post(app, path, **body):
    """Return the answer to a tap."""
    async with httpx.AsyncClient(transport=httpx.ASGITransport(app), base_url="http://127.0.0.1") as client:
        return (await client.post(path, json=body)).json()


def test_what_came_before_and_what_comes(folder, served):
    """A tab opened in mid-session gets the last minute at once, then each line as it is appended."""

    async def scene(going):
        for ago in range(20, 0, -1):
            going.line(rpm=1000.0 * ago, age_s=float(ago))
        async with Tab(served[0], going.session) as tab:
            first, rows = await tab.until(has_rows)
            going.line(rpm=500.0)
            _, later = await tab.until(has_rows)
        return first, rows, later

    with recording(folder) as going:
        first, rows, later = asyncio.run(scene(going))

    assert [column["name"] for column in first["columns"]] == ["lambda_1", "rpm", "throttle"]
    assert values(rows) == [[0.87, 1000.0 * ago, 40.0] for ago in range(20, 0, -1)]
    assert [row[0] for row in rows] == sorted(row[0] for row in rows)
    assert first["now"] - rows[0][0] == pytest.approx(20.0, abs=2.0)
    assert values(later) == [[0.87, 500.0, 40.0]]


def test_since_leaves_out_what_the_tab_has(folder, served):
    """A tab that comes back gets only what came after its own last row, also from another server."""

    async def scene(going):
        for ago in (9, 8, 7, 6):
            going.line(rpm=1000.0 * ago, age_s=float(ago))
        async with Tab(served[0], going.session) as tab:
            _, rows = await tab.until(has_rows)
        going.line(rpm=5000.0, age_s=5.0)
        other = FastAPI()
        add_routes(other, folder)
        async with Tab(other, going.session, since=rows[-1][0]) as tab:
            return (await tab.until(has_rows))[1]

    with recording(folder) as going:
        assert values(asyncio.run(scene(going))) == [[0.87, 5000.0, 40.0]]


def test_only_the_last_minute(folder, served):
    """Lines older than a minute or so are not sent to a tab that begins."""

    async def scene(going):
        for ago in (300, 100, 30, 3):
            going.line(rpm=float(ago), age_s=float(ago))
        async with Tab(served[0], going.session) as tab:
            return (await tab.until(has_rows))[1]

    with recording(folder) as going:
        assert [row[2] for row in asyncio.run(scene(going))] == [30.0, 3.0]


def test_tabs_share_one_watch_and_the_last_one_ends_it(folder, served):
    """Two tabs get the same rows from one follower; when both are gone nothing follows any more."""
    app, desk = served

    async def scene(going):
        going.line()
        async with Tab(app, going.session) as one:
            _, first = await one.until(has_rows)
            watch = desk.watched(going.session)
            async with Tab(app, going.session) as two:
                _, second = await two.until(has_rows)
                assert desk.watched(going.session) is watch
            assert desk.watched(going.session) is watch
        assert desk.watched(going.session) is None
        await asyncio.to_thread(watch.join)
        return first, second, watch

    with recording(folder) as going:
        first, second, watch = asyncio.run(scene(going))

    assert first == second
    assert not watch._thread.is_alive()


def test_status_says_what_is(folder, served):
    """States, counts, disk, fuel and the recorder's standing trouble come with the rows."""

    async def scene(going):
        going.line()
        going.seq += 3
        going.line()
        going.put(b">D,9,broken*00000000\r\n")
        going.note("lost: port /dev/invented went away")
        going.note("waiting: it is tried again in 2 s")
        async with Tab(served[0], going.session) as tab:
            message, _ = await tab.until(
                lambda m: m.get("status", {}).get("disk") and m["status"]["troubles"]
            )
            going.note("back: the port is open again")
            after, _ = await tab.until(lambda m: "status" in m and not m["status"]["troubles"])
        return message["status"], after["status"]

    with recording(folder) as going:
        status, after = asyncio.run(scene(going))

    assert status["sensors"] == [{"part": "lambda_1", "label": "Lambda, cylinder 1", "state": "ready"}]
    assert (status["lost"], status["damaged"], status["counted"]) == (3, 1, "whole")
    assert [trouble["words"] for trouble in status["troubles"]] == ["It is tried again in 2 s."]
    assert status["recording"] is True
    assert status["fuel"]["name"] == "petrol"
    assert status["fuel"]["assumed"]
    assert [event["kind"] for event in after["events"]] == ["lost", "waiting", "back"]


def test_a_mark_is_written_at_its_moment(folder, served):
    """A tap writes a mark of the moment that the page names, and every tab is told of it."""

    async def scene(going):
        going.line()
        async with Tab(served[0], going.session) as tab:
            await tab.until(has_rows)
            t = time.monotonic() - 0.25
            answer = await post(served[0], f"/_live/{going.session}/mark", what="lap", t=t)
            told, _ = await tab.until(lambda m: m.get("status", {}).get("marks"))
        return t, answer, told["status"]["marks"]

    with recording(folder) as going:
        started = going.logbook.session(going.session).started.timestamp()
        t, answer, marks = asyncio.run(scene(going))
        (written,) = going.logbook.marks(going.session)

    assert "refused" not in answer
    assert (written.what, written.by) == ("lap", "hand")
    utc = time.time() - (time.monotonic() - t)
    assert written.t_s == pytest.approx(max(0.0, utc - started), abs=0.05)
    assert marks[0]["t"] == pytest.approx(max(t, t + (started - utc)), abs=0.05)


@pytest.mark.parametrize("what", ["start", "none of ours", None])
def test_a_mark_of_another_kind_is_refused(folder, served, what):
    """A word that no button has is refused in a sentence, and nothing is written."""

    async def scene(going):
        going.line()
        async with Tab(served[0], going.session) as tab:
            await tab.until(has_rows)
            return await post(served[0], f"/_live/{going.session}/mark", what=what)

    with recording(folder) as going:
        answer = asyncio.run(scene(going))
        assert going.logbook.marks(going.session) == ()
    assert "is no mark" in answer["refused"]


async def _ridden_to_a_chop(going, tab):
    """Ride five seconds of full throttle and a chop, all at once; return the status with the offer."""
    for i in range(500):
        going.line(rpm=7000.0 + 5.0 * i, throttle=100.0, age_s=9.0 - i / 100)
    for i in range(100):
        going.line(rpm=9500.0 - 95.0 * i, throttle=100.0, age_s=4.0 - i / 100)
    for i in range(50):
        going.line(rpm=0.0, throttle=0.0, age_s=3.0 - i / 100)
    message, _ = await tab.until(lambda m: m.get("status", {}).get("offers"))
    return message["status"]


@pytest.mark.parametrize("kept", [True, False])
def test_a_chop_is_offered_and_answered(folder, served, kept):
    """A chop is offered, not written; keeping it writes one, refusing it writes none, and both end the offer."""

    async def scene(going):
        async with Tab(served[0], going.session) as tab:
            status = await _ridden_to_a_chop(going, tab)
            assert going.logbook.marks(going.session) == ()
            (offer,) = status["offers"]
            path = f"/_live/{going.session}/" + ("mark" if kept else "no-chop")
            await post(served[0], path, what="chop", t=offer["t"])
            await tab.until(lambda m: "status" in m and not m["status"]["offers"])
            return offer, time.monotonic()

    with recording(folder) as going:
        offer, now = asyncio.run(scene(going))
        assert [mark.what for mark in going.logbook.marks(going.session)] == (["chop"] if kept else [])
    assert now - offer["t"] == pytest.approx(4.0, abs=1.0)
    assert offer["full"] == pytest.approx(5.0, abs=0.3)


def test_a_session_that_is_not_there(served):
    """The stream of an unknown session says so in a sentence and closes."""

    async def scene():
        async with Tab(served[0], 77) as tab:
            return await tab.hear(), await tab.hear()

    said, closed = asyncio.run(scene())

    assert "77" in said["gone"]
    assert closed["type"] == "websocket.close"


@pytest.mark.parametrize("since", ["nan", "inf", "x", "1e999", ""])
def test_since_that_is_no_number(folder, served, since):
    """A ``since`` that is no plain number is as if it were left out."""

    async def scene(going):
        going.line()
        async with Tab(served[0], going.session, since=since) as tab:
            return (await tab.until(has_rows))[1]

    with recording(folder) as going:
        assert len(asyncio.run(scene(going))) == 1


def test_more_lines_than_a_screen_shows_are_joined(folder, served):
    """A thousand lines a second are thinned to what a screen shows, the newest line always among them."""

    async def scene(going):
        for i in range(2000):
            going.line(rpm=float(i), age_s=3.0 - i / 1000)
        async with Tab(served[0], going.session) as tab:
            rows = []
            while not rows or rows[-1][2] != 1999.0:
                rows += (await tab.hear()).get("rows", [])
            return rows

    with recording(folder) as going:
        rows = asyncio.run(scene(going))
    assert 150 < len(rows) < 600


def test_through_the_gate(folder):
    """Behind the gate the stream opens for the dashboard's own page and for no other."""

    async def scene(going):
        app = create_app(folder)
        going.line()
        async with Tab(app, going.session) as tab:
            _, rows = await tab.until(has_rows)
        foreign = Tab(app, going.session)
        foreign.scope["headers"][1] = (b"origin", b"http://elsewhere.example")
        await foreign.into.put({"type": "websocket.connect"})
        await app(foreign.scope, foreign.into.get, foreign.out.put)
        return rows, await foreign.out.get()

    with recording(folder) as going:
        rows, refused = asyncio.run(scene(going))

    assert len(rows) == 1
    assert refused["type"] in {"websocket.close", "websocket.http.response.start"}


@pytest.mark.parametrize("body", [b"", b"[1]", b"{", b'"x"', b'{"what": 7, "t": "now"}', b'{"t": 1e400}'])
def test_a_body_that_is_nothing(folder, served, body):
    """Whatever is sent to a button's address is answered with a sentence, and nothing is written."""

    async def scene(going):
        going.line()
        transport = httpx.ASGITransport(served[0])
        async with (
            Tab(served[0], going.session) as tab,
            httpx.AsyncClient(transport=transport, base_url="http://127.0.0.1") as client,
        ):
            await tab.until(has_rows)
            answers = [
                await client.post(path, content=body)
                for path in (f"/_live/{going.session}/mark", "/_live/start")
            ]
        return [(answer.status_code, json.loads(answer.text)) for answer in answers]

    with recording(folder) as going:
        answers = asyncio.run(scene(going))
        assert going.logbook.marks(going.session) == ()
    assert all(status == 200 and answer["refused"] for status, answer in answers)
