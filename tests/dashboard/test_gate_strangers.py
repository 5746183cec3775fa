"""Ten thousand wrong PINs, and websockets of those who have no business there."""

import asyncio
from ipaddress import ip_address

import pytest

from dashboard.gate import pins
from dashboard.gate.sessions import IDLE_S
from tests.dashboard.gate_tools import (
    AT_LAPTOP,
    AT_LOOPBACK,
    PIN,
    PORT,
    Clock,
    Socket,
    ask,
    cookie_of,
    make_gate,
    try_pin,
)

WRONG = [f"{31_000_000 + i}" for i in range(10_000)]


def test_ten_thousand_wrong_pins_from_one_address(tmp_path):
    """At ten a second from one address, not ten of ten thousand are looked at, and the right one is not either."""
    clock, judged = Clock(), []
    gate = make_gate(tmp_path, clock, judged)

    async def story():
        answers = []
        for pin in WRONG:
            answers.append(await try_pin(gate, pin))
            clock.now += 0.1
        return answers, await try_pin(gate, PIN)

    answers, right = asyncio.run(story())
    assert len(judged) < 12
    assert {answer.status for answer in answers} == {403, 429}
    assert not any(answer.header("set-cookie") for answer in [*answers, right])
    assert PIN not in judged
    assert right.status == 429
    assert int(right.header("retry-after")) <= 901


def test_ten_thousand_wrong_pins_from_ten_thousand_addresses(tmp_path):
    """With an address for each try, what is looked at is bounded over all, and who is in stays in and may come back."""
    clock, judged = Clock(), []
    gate = make_gate(tmp_path, clock, judged)

    async def story():
        cookie = cookie_of(await try_pin(gate, PIN))
        for i, pin in enumerate(WRONG):
            await try_pin(gate, pin, peer=str(ip_address(0x0A000000 + i)))
            clock.now += 0.1
        inside = await ask(gate, cookie=cookie)
        back = await try_pin(gate, PIN)
        own = await ask(gate, peer="127.0.0.1", local="127.0.0.1", host=AT_LOOPBACK)
        return inside.body, back.header("location"), own.body

    assert asyncio.run(story()) == ("in", "/", "in")
    assert len(judged) - 2 <= 30 + 1000 / 10 + 1


def test_ten_thousand_from_one_ipv6_network(tmp_path):
    """The many addresses of one IPv6 network count as one."""
    clock, judged = Clock(), []
    gate = make_gate(tmp_path, clock, judged)

    async def story():
        for i, pin in enumerate(WRONG):
            about = {"peer": f"fd00::1:{i:x}", "local": "fd00::2", "host": f"[fd00::2]:{PORT}"}
            await try_pin(gate, pin, **about)
            clock.now += 0.1

    asyncio.run(story())
    assert len(judged) < 12


def test_a_thousand_at_once(tmp_path):
    """A thousand tries in the same moment are counted before they are judged."""
    judged = []
    gate = make_gate(tmp_path, judged=judged)

    async def story():
        return await asyncio.gather(*(try_pin(gate, pin) for pin in WRONG[:1000]))

    asyncio.run(story())
    assert len(judged) == 5


def test_the_words_do_not_tell_wrong_from_unjudged(tmp_path):
    """A wrong PIN that has to wait and one that was not looked at are told the same words."""
    clock = Clock()
    gate = make_gate(tmp_path, clock)

    async def story():
        return [await try_pin(gate, pin) for pin in WRONG[:6]]

    *_, fifth, sixth = asyncio.run(story())
    assert (fifth.status, sixth.status) == (403, 429)
    assert fifth.body == sixth.body
    assert "try again in 30 seconds" in sixth.body


def test_after_the_wait_the_right_one_opens(tmp_path):
    """Who waits as long as was said is let in by the right PIN."""
    clock = Clock()
    gate = make_gate(tmp_path, clock)

    async def story():
        for pin in WRONG[:5]:
            answer = await try_pin(gate, pin)
        early = await try_pin(gate, PIN)
        clock.now += int(answer.header("retry-after"))
        return early.status, (await try_pin(gate, PIN)).header("location")

    assert asyncio.run(story()) == (429, "/")


def test_a_pin_changed_while_it_is_judged_opens_nothing(tmp_path):
    """A PIN that was right when it was given and is changed before it was judged lets nobody in."""
    gate = make_gate(tmp_path)

    def verify(pin, _kept):
        pins.new_pin(tmp_path)
        return pin == PIN

    gate._door._verify = verify
    assert asyncio.run(try_pin(gate, PIN)).header("set-cookie") is None


def test_a_new_pin_forgets_the_tries_against_the_old_one(tmp_path):
    """Making a new PIN is the owner's way to let a device in while strangers try."""
    gate = make_gate(tmp_path)

    async def story():
        for pin in WRONG[:6]:
            await try_pin(gate, pin)
        pins.new_pin(tmp_path, PIN)
        return (await try_pin(gate, PIN)).header("location")

    assert asyncio.run(story()) == "/"


@pytest.mark.parametrize("path", ["/live", "/_dash-ws-callback"])
@pytest.mark.parametrize(
    "about",
    [
        {},
        {"cookie": f"sootline-{PORT}=" + "A" * 43},
        {"host": f"evil.example:{PORT}"},
        {"peer": "127.0.0.1", "local": "127.0.0.1", "host": AT_LOOPBACK, "origin": "http://evil.example"},
        {"peer": "127.0.0.1", "local": "127.0.0.1", "host": AT_LOOPBACK, "origin": []},
        {"peer": "127.0.0.1", "local": "127.0.0.1", "host": f"evil.example:{PORT}"},
        {"peer": "127.0.0.1", "local": "127.0.0.1", "host": AT_LOOPBACK, "Via": "1.1 pit"},
    ],
)
def test_a_websocket_is_refused_before_it_opens(tmp_path, path, about):
    """Without a session, under another name or from a foreign page no websocket opens."""
    gate = make_gate(tmp_path)

    async def story():
        socket = Socket(gate, path=path, **about)
        await socket.settle()
        return [message["type"] for message in socket.sent]

    assert asyncio.run(story()) == ["websocket.close"]


def test_a_foreign_origin_with_a_true_cookie_opens_no_websocket(tmp_path):
    """A session does not pardon a foreign page."""
    gate = make_gate(tmp_path)

    async def story():
        cookie = cookie_of(await try_pin(gate, PIN))
        socket = Socket(gate, cookie=cookie, origin="http://evil.example")
        await socket.settle()
        return [message["type"] for message in socket.sent]

    assert asyncio.run(story()) == ["websocket.close"]


def test_this_machines_websocket_opens(tmp_path):
    """The own browser's websocket opens without a PIN."""
    gate = make_gate(tmp_path)

    async def story():
        socket = Socket(gate, peer="127.0.0.1", local="127.0.0.1", host=AT_LOOPBACK)
        await socket.say("hello")
        await socket.close()
        return [message.get("text", message["type"]) for message in socket.sent]

    assert asyncio.run(story()) == ["websocket.accept", "hello"]


@pytest.mark.parametrize("how", ["log out", "end all", "new PIN", "time"])
def test_a_websocket_ends_with_its_session(tmp_path, how):
    """However a session ends, an open websocket of it says nothing more, either way."""
    clock = Clock()
    gate = make_gate(tmp_path, clock)

    async def story():
        cookie = cookie_of(await try_pin(gate, PIN))
        socket = Socket(gate, path="/live", cookie=cookie)
        await socket.say("one")
        if how == "log out":
            await ask(gate, method="POST", path="/door/leave", cookie=cookie, origin=f"http://{AT_LAPTOP}")
        elif how == "end all":
            pins.end_sessions(tmp_path)
        elif how == "new PIN":
            pins.new_pin(tmp_path)
        else:
            clock.now += IDLE_S
        await socket.say("two")
        await socket.close()
        return [message.get("text", message["type"]) for message in socket.sent]

    assert asyncio.run(story()) == ["websocket.accept", "one", "websocket.close"]


def test_a_websocket_that_only_sends_ends_with_its_session(tmp_path):
    """The live page's stream, which hears nothing, is stopped at the next thing that it wants to send."""
    gate = make_gate(tmp_path)
    stopped = []

    async def stream(_scope, receive, send):
        await receive()
        await send({"type": "websocket.accept"})
        try:
            while True:
                await send({"type": "websocket.send", "text": "row"})
                await asyncio.sleep(0)
        except OSError:
            stopped.append(True)

    gate._app = stream

    async def story():
        socket = Socket(gate, path="/live", cookie=cookie_of(await try_pin(gate, PIN)))
        await socket.settle()
        pins.end_sessions(tmp_path)
        await asyncio.wait_for(socket._task, 5)
        return [message["type"] for message in socket.sent]

    kinds = asyncio.run(story())
    assert "websocket.send" in kinds
    assert kinds[-1] == "websocket.close"
    assert stopped == [True]


def test_what_is_neither_request_nor_websocket_is_left_alone(tmp_path):
    """The server's own start and stop go through, another kind of connection to nowhere."""
    gate = make_gate(tmp_path)
    seen = []

    async def app(scope, _receive, _send):
        seen.append(scope["type"])

    gate._app = app
    for kind in ("lifespan", "something new"):
        asyncio.run(gate({"type": kind}, None, None))

    assert seen == ["lifespan"]
