"""What the gate tells the app behind it: whether this machine's own browser asks."""

import asyncio

from fastapi import FastAPI

from bridge.logbook import Logbook
from dashboard.gate.asgi import OWN
from dashboard.live.routes import add_routes
from tests.dashboard.gate_tools import AT_LAPTOP, AT_LOOPBACK, PIN, ask, cookie_of, make_gate, try_pin

LOOPBACK = {"peer": "127.0.0.1", "local": "127.0.0.1", "host": AT_LOOPBACK, "origin": f"http://{AT_LOOPBACK}"}
START = {"method": "POST", "path": "/_live/start", "content_type": "application/json"}
BODY = b'{"port": "/dev/not-there"}'


def test_only_this_machine_names_a_port_of_its_own(tmp_path):
    """From the laptop any port is tried; a device that the PIN let in may choose of the list alone."""
    with Logbook.open(tmp_path / "logbook", write=True):
        pass
    app = FastAPI()
    add_routes(app, tmp_path / "logbook")
    gate = make_gate(tmp_path)
    gate._app = app

    async def scene():
        cookie = cookie_of(await try_pin(gate, PIN))
        phone = {"cookie": cookie, "origin": f"http://{AT_LAPTOP}"}
        return await ask(gate, BODY, **START, **LOOPBACK), await ask(gate, BODY, **START, **phone)

    laptop, phone = asyncio.run(scene())

    assert "There is no port" in laptop.body or "there is no port" in laptop.body
    assert "only a port of the list" in phone.body


def test_nobody_can_say_it_from_outside(tmp_path):
    """What stands for this machine is put in by the gate; a header of that name is only a header."""
    seen = []

    async def app(scope, _receive, send):
        seen.append(scope.get(OWN))
        await send({"type": "http.response.start", "status": 200, "headers": []})
        await send({"type": "http.response.body", "body": b""})

    gate = make_gate(tmp_path)
    gate._app = app

    async def scene():
        cookie = cookie_of(await try_pin(gate, PIN))
        await ask(gate, **LOOPBACK)
        await ask(gate, cookie=cookie, **{OWN: "True"})

    asyncio.run(scene())

    assert seen == [True, None]
