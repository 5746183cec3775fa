"""The gate at its HTTP side: who is let through, who is turned away, and how."""

import asyncio
import re

import pytest

from dashboard.gate import Gate, pins
from dashboard.gate.asgi import FORM_BYTES
from dashboard.gate.sessions import IDLE_S
from tests.dashboard.gate_tools import (
    AT_LAPTOP,
    AT_LOOPBACK,
    LAPTOP,
    PHONE,
    PIN,
    PORT,
    Clock,
    ask,
    behind,
    cookie_of,
    make_gate,
    scope_of,
    try_pin,
)

LOOPBACK = {"peer": "127.0.0.1", "local": "127.0.0.1", "host": AT_LOOPBACK}
OWN_ORIGIN = f"http://{AT_LOOPBACK}"


def knock(gate, **about):
    """Return the answer to one request."""
    return asyncio.run(ask(gate, **about))


@pytest.fixture
def gate(tmp_path):
    """Return a gate with a door."""
    return make_gate(tmp_path)


@pytest.fixture
def alone():
    """Return a gate that serves this machine only."""
    return Gate(behind)


@pytest.mark.parametrize(
    ("host", "local"),
    [
        ("127.0.0.1", "127.0.0.1"), ("localhost", "127.0.0.1"), ("LOCALHOST", "::1"), ("[::1]", "::1"),
        ("127.0.0.1", "::ffff:127.0.0.1"),
    ],
)  # fmt: skip  # a list of words reads best in lines
def test_this_machine_comes_in_without_a_pin(gate, alone, host, local):
    """By each name of the loopback this machine's own browser is let through, with a door or without."""
    for one in (gate, alone):
        assert knock(one, host=f"{host}:{PORT}", peer=local, local=local).body == "in"


@pytest.mark.parametrize(
    "host",
    [
        None, "", "evil.example", f"evil.example:{PORT}", f"127.0.0.1.evil.example:{PORT}", "127.0.0.1", "127.0.0.1:9",
        f"0.0.0.0:{PORT}", f"[::1:{PORT}", f"user@127.0.0.1:{PORT}", f"127.0.0.1:{PORT}/", f"localhost.:{PORT}",
        f"127.0.0.1:{PORT}:1", f"127.0.0.1 :{PORT}", f"127.1:{PORT}", f"2130706433:{PORT}", f"{LAPTOP}:{PORT}",
        f"127.0.0.1:{PORT}\x00",
    ],
)  # fmt: skip  # a list of words reads best in lines
def test_another_name_is_turned_away(gate, alone, host):
    """A name that was made to point here, another port, or what is no Host is refused even from the loopback."""
    for one in (gate, alone):
        assert knock(one, peer="127.0.0.1", local="127.0.0.1", host=host).status == 400


def test_two_hosts_are_turned_away(gate):
    """A request says exactly one Host."""
    for hosts in ([AT_LOOPBACK, AT_LOOPBACK], [AT_LOOPBACK, "evil.example"]):
        assert knock(gate, **{**LOOPBACK, "host": None}, Host=hosts).status == 400


def test_the_hosts_of_the_network(gate):
    """On the network the Host is the address at which the connection arrived, or a chosen name, with the port."""
    for host in (AT_LAPTOP, f"pit-laptop.local:{PORT}", f"PIT-laptop.local:{PORT}"):
        assert knock(gate, host=host).status == 303
    for host in (f"192.168.7.3:{PORT}", LAPTOP, f"other.local:{PORT}", f"localhost:{PORT}", AT_LOOPBACK):
        assert knock(gate, host=host).status == 400


def test_ipv6_on_the_network(gate):
    """An IPv6 address is right in any way of writing it."""
    for host in ("[fd00::2]", "[fd00:0:0:0:0:0:0:2]", "[FD00::0002]"):
        assert knock(gate, host=f"{host}:{PORT}", local="fd00::2", peer="fd00::9").status == 303
    assert knock(gate, host=f"[fd00::3]:{PORT}", local="fd00::2", peer="fd00::9").status == 400


@pytest.mark.parametrize(
    "about",
    [
        {"peer": PHONE},
        {"peer": None},
        {"peer": "127.0.0.1", "host": f"pit-laptop.local:{PORT}"},
        {"peer": "127.0.0.1", "X_Forwarded_For": "127.0.0.1"},
        {"peer": "127.0.0.1", "Forwarded": "for=127.0.0.1"},
        {"peer": "127.0.0.1", "Via": "1.1 pit"},
    ],
)
def test_half_a_loopback_is_not_this_machine(gate, alone, about):
    """Only both ends and the Host together are this machine; a proxy's word is not taken."""
    about = {"local": "127.0.0.1", "host": AT_LOOPBACK, **about}

    assert knock(gate, **about).status == 303
    assert knock(alone, **about).body != "in"


def test_without_a_door_nobody_else_comes_in(alone):
    """Served for this machine only, another device gets nothing, not even a place for a PIN."""
    for path in ("/", "/door", "/assets/page.css"):
        assert knock(alone, path=path).status == 403
    assert "serve --host" in knock(alone, path="/door", **LOOPBACK).body


@pytest.mark.parametrize("path", ["/", "/session/1", "/doors", "/anything", "/favicon.ico"])
def test_a_page_leads_to_the_door(gate, path):
    """A device that has not been let in is led from every page to the door."""
    answer = knock(gate, path=path)

    assert (answer.status, answer.header("location"), answer.body) == (303, "/door", "")


@pytest.mark.parametrize(
    "path",
    [
        "/_dash-layout",
        "/_dash-dependencies",
        "/_dash-component-suites/dash/dcc/x.js",
        "/assets/page.css",
        "/_",
    ],
)
def test_all_else_is_refused(gate, path):
    """What is not a page is refused with 401, libraries and styles too."""
    assert knock(gate, path=path).status == 401


def test_a_change_is_refused(gate):
    """A POST without a session is refused, with our own Origin."""
    for method in ("POST", "PUT", "DELETE", "PATCH", "BREW"):
        answer = knock(gate, method=method, path="/_dash-update-component", origin=f"http://{AT_LAPTOP}")
        assert answer.status == 401


@pytest.mark.parametrize(
    "origin",
    [
        None, "http://evil.example", "null", "http://127.0.0.1:9", "file://", "http://[::1", "", f"https://{AT_LOOPBACK}",
        f"{OWN_ORIGIN}/", f"{OWN_ORIGIN}.evil.example", [OWN_ORIGIN, OWN_ORIGIN], AT_LOOPBACK, f"http://localhost:{PORT}",
    ],
)  # fmt: skip  # a list of words reads best in lines
def test_a_foreign_page_changes_nothing(gate, alone, origin):
    """A POST from another page, or without an Origin, is refused on this machine itself, for its own page too."""
    headers = {} if origin is None else {"origin": origin}
    for one in (gate, alone):
        for path in ("/_dash-update-component", "/door/new", "/door/end"):
            assert knock(one, method="POST", path=path, **LOOPBACK, **headers).status == 403


def test_our_own_page_may_post(alone):
    """The page that this server gave out is let through."""
    assert knock(alone, method="POST", **LOOPBACK, origin=OWN_ORIGIN).body == "in"


def test_the_right_pin_opens(gate):
    """The PIN gives a cookie that scripts cannot read and other sites cannot send, and with it all is open."""

    async def story():
        answer = await try_pin(gate, PIN)
        cookie = cookie_of(answer)
        paths = ("/", "/_dash-layout", "/assets/page.css")
        return answer, [await ask(gate, path=path, cookie=f"a=b; {cookie}") for path in paths]

    answer, inside = asyncio.run(story())

    assert (answer.status, answer.header("location")) == (303, "/")
    assert {part.strip() for part in answer.header("set-cookie").split(";")[1:]} == {
        "Path=/", "Max-Age=604800", "HttpOnly", "SameSite=Strict",
    }  # fmt: skip  # a list of words reads best in lines
    assert [one.body for one in inside] == ["in"] * 3


@pytest.mark.parametrize("pin", ["31415926", "", PIN[:-1], PIN + "0", "' or 1=1", "２７１８２８４５"])
def test_a_wrong_pin_does_not(gate, pin):
    """A wrong PIN gives the page again, no cookie, and words on when to try again."""
    answer = asyncio.run(try_pin(gate, pin))

    assert answer.status == 403
    assert answer.header("set-cookie") is None
    assert "Not let in" in answer.body
    assert "try again now" in answer.body


def test_a_foreign_page_cannot_post_the_pin(gate):
    """The right PIN from a foreign page, or without an Origin, is refused."""
    for origin in ("http://evil.example", "null"):
        assert asyncio.run(try_pin(gate, PIN, origin=origin)).status == 403


@pytest.mark.parametrize(
    "cookie",
    [
        "", "x", f"sootline-{PORT}=", f"sootline-{PORT}=0", f"sootline-{PORT}={PIN}",
        f"sootline-{PORT}=" + "A" * 43, f"sootline-{PORT}=\xff\xfe", "a" * 9000, ";;;=;=",
    ],
)  # fmt: skip  # a list of words reads best in lines
def test_a_forged_cookie_opens_nothing(gate, cookie):
    """Cookies that nobody was given open nothing, while a true session goes on."""

    async def story():
        await try_pin(gate, PIN)
        return await ask(gate, path="/_dash-layout", cookie=cookie)

    assert asyncio.run(story()).status == 401


def test_a_true_cookie_under_another_name_opens_nothing(gate):
    """The token counts under this port's name only."""

    async def story():
        token = cookie_of(await try_pin(gate, PIN)).split("=")[1]
        return [
            await ask(gate, path="/_x", cookie=f"{name}={token}")
            for name in ("sootline", "sootline-1", "pin")
        ]

    assert [answer.status for answer in asyncio.run(story())] == [401] * 3


def test_a_session_does_not_pardon_a_foreign_host_or_origin(gate):
    """With a true cookie a wrong Host is still 400 and a foreign Origin still 403."""

    async def story():
        cookie = cookie_of(await try_pin(gate, PIN))
        host = await ask(gate, cookie=cookie, host=f"evil.example:{PORT}")
        origin = await ask(gate, method="POST", path="/_x", cookie=cookie, origin="http://evil.example")
        own = await ask(gate, method="POST", path="/_x", cookie=cookie, origin=f"http://{AT_LAPTOP}")
        return host.status, origin.status, own.status

    assert asyncio.run(story()) == (400, 403, 200)


def test_a_session_ends_unused(tmp_path):
    """After twelve hours without use the cookie opens nothing more."""
    clock = Clock()
    gate = make_gate(tmp_path, clock)

    async def story():
        cookie = cookie_of(await try_pin(gate, PIN))
        clock.now += IDLE_S - 1
        before = await ask(gate, cookie=cookie)
        clock.now += IDLE_S
        return before.status, (await ask(gate, cookie=cookie)).status

    assert asyncio.run(story()) == (200, 303)


def test_logging_out(gate):
    """Logging out clears the cookie and ends the session at the server; another device stays in."""

    async def story():
        one, two = (
            cookie_of(await try_pin(gate, PIN)),
            cookie_of(await try_pin(gate, PIN, peer="192.168.7.21")),
        )
        page = await ask(gate, path="/door", cookie=one)
        out = await ask(gate, method="POST", path="/door/leave", cookie=one, origin=f"http://{AT_LAPTOP}")
        return page, out, await ask(gate, cookie=one), await ask(gate, cookie=two)

    page, out, one, two = asyncio.run(story())
    assert "Log out" in page.body
    assert "Max-Age=0" in out.header("set-cookie")
    assert (out.status, one.status, two.status) == (303, 303, 200)


@pytest.mark.parametrize("change", [pins.new_pin, pins.end_sessions])
def test_pin_on_the_command_line_ends_all_sessions(gate, tmp_path, change):
    """What `sootline pin` writes beside a running server ends its sessions at once."""

    async def story():
        cookie = cookie_of(await try_pin(gate, PIN))
        before = await ask(gate, cookie=cookie)
        change(tmp_path)
        return before.status, (await ask(gate, cookie=cookie)).status

    assert asyncio.run(story()) == (200, 303)


@pytest.mark.parametrize("damage", ["gone", "damaged"])
def test_without_its_file_nobody_is_let_in(gate, tmp_path, damage):
    """Where the PIN's file goes or breaks while serving, sessions end, the PIN opens nothing, and the door says so."""

    async def story():
        cookie = cookie_of(await try_pin(gate, PIN))
        if damage == "gone":
            (tmp_path / pins.FILE).unlink()
        else:
            (tmp_path / pins.FILE).write_text("{", encoding="utf-8")
        return await ask(gate, cookie=cookie), await try_pin(gate, PIN), await ask(gate, path="/door")

    inside, tried, page = asyncio.run(story())
    assert inside.status == 303
    assert tried.header("set-cookie") is None
    assert "make a PIN" in page.body


def test_this_machines_own_page(gate, tmp_path):
    """The own page makes a PIN, shows it with the address as a QR code, and ends sessions; nobody else gets to it."""

    async def story():
        cookie = cookie_of(await try_pin(gate, PIN))
        before = await ask(gate, path="/door", **LOOPBACK)
        went = await ask(gate, method="POST", path="/door/new", **LOOPBACK, origin=OWN_ORIGIN)
        after = await ask(gate, path="/door", **LOOPBACK)
        others = [
            await ask(gate, method="POST", path=path, cookie=cookie, origin=f"http://{AT_LAPTOP}")
            for path in ("/door/new", "/door/end")
        ]
        return before, went, after, await ask(gate, cookie=cookie), others

    before, went, after, phone, others = asyncio.run(story())
    assert f"http://{AT_LAPTOP}/" in before.body
    assert "<svg" in before.body
    assert PIN not in before.body
    assert "1 let in" in before.body
    assert (went.status, went.header("location")) == (303, "/door")
    shown = re.search(r'class="pin">(\d{8})<', after.body)[1]
    assert pins.verify(shown, pins.read_pin(tmp_path))
    assert "0 let in" in after.body
    assert phone.status == 303
    assert [one.status for one in others] == [404, 404]

    pins.new_pin(tmp_path)
    assert shown not in knock(gate, path="/door", **LOOPBACK).body


def test_ending_all_sessions_from_the_own_page(gate):
    """The own page's button logs every device out and keeps the PIN."""

    async def story():
        cookie = cookie_of(await try_pin(gate, PIN))
        await ask(gate, method="POST", path="/door/end", **LOOPBACK, origin=OWN_ORIGIN)
        return await ask(gate, cookie=cookie), await try_pin(gate, PIN)

    out, again = asyncio.run(story())
    assert (out.status, again.status, again.header("location")) == (303, 303, "/")


def test_a_large_form_is_refused_unread(gate):
    """A body over the limit is refused by what it says of itself, or as soon as more than the limit has come."""
    read = []

    async def big(length):
        sent = []

        async def receive():
            read.append(1)
            return {"type": "http.request", "body": b"p" * 100, "more_body": True}

        async def send(message):
            sent.append(message)

        about = {
            "origin": f"http://{AT_LAPTOP}",
            "content_type": "application/x-www-form-urlencoded",
            **length,
        }
        await gate(scope_of(method="POST", path="/door", **about), receive, send)
        return sent[0]["status"], len(read)

    assert asyncio.run(big({"content_length": str(FORM_BYTES + 1)})) == (413, 0)
    assert asyncio.run(big({"content_length": "9" * 40})) == (413, 0)
    assert asyncio.run(big({"content_length": "-1"})) == (413, 0)
    assert asyncio.run(big({})) == (413, 3)


def test_a_slow_form_is_given_up(gate, monkeypatch):
    """A body that does not come is given up, so that nobody holds the door open."""
    monkeypatch.setattr("dashboard.gate.asgi.FORM_SECONDS", 0.01)

    async def story():
        sent = []

        async def send(message):
            sent.append(message)

        about = {"origin": f"http://{AT_LAPTOP}", "content_type": "application/x-www-form-urlencoded"}
        await gate(scope_of(method="POST", path="/door", **about), asyncio.Event().wait, send)
        return sent[0]["status"]

    assert asyncio.run(story()) == 408


@pytest.mark.parametrize("kind", ["application/json", "text/plain", "multipart/form-data; boundary=x", ""])
def test_only_a_form_is_read(gate, kind):
    """A body of another kind is refused."""
    assert asyncio.run(try_pin(gate, PIN, content_type=kind)).status == 415


def test_a_form_may_come_in_pieces(gate):
    """A form that arrives byte by byte is read as one; more fields than a form has, or other bytes, are refused."""
    about = {"method": "POST", "path": "/door", "origin": f"http://{AT_LAPTOP}"}
    about["content_type"] = "application/x-www-form-urlencoded; charset=utf-8"

    assert asyncio.run(ask(gate, f"pin={PIN}".encode(), chunk=1, **about)).header("location") == "/"
    assert asyncio.run(ask(gate, b"a=1&b=2&c=3&d=4&e=5", **about)).status == 400
    assert asyncio.run(ask(gate, b"pin=\xff\xfe", **about)).status == 400


def test_every_answer_carries_the_policy(gate, alone):
    """Each answer of gate and dashboard keeps the browser here; no inline script, no eval, nothing kept."""
    answers = [
        knock(alone, **LOOPBACK),
        knock(gate),
        knock(gate, path="/door"),
        knock(gate, path="/_x"),
        knock(gate, host="evil.example"),
        knock(gate, method="POST", origin="null"),
    ]
    for answer in answers:
        policy = answer.header("content-security-policy")
        assert "default-src 'self';" in policy
        assert "script-src 'self';" in policy
        assert "frame-ancestors 'none'" in policy
        assert "http" not in policy
        assert "eval" not in policy
        assert answer.header("x-content-type-options") == "nosniff"
        assert answer.header("referrer-policy") == "same-origin"
        assert answer.header("cache-control") == "no-store"
    assert f"connect-src 'self' ws://{AT_LOOPBACK};" in answers[0].header("content-security-policy")


def test_libraries_may_be_kept(alone):
    """Dash's libraries and our styles keep their own word on how long they may be kept."""
    for path in ("/_dash-component-suites/x.js", "/assets/page.css"):
        assert knock(alone, path=path, **LOOPBACK).header("cache-control") == "public, max-age=60"


def test_the_door_has_what_it_needs(gate):
    """Icon and font of the door are there before the PIN, and no other file by that way."""
    assert knock(gate, path="/door/icon.svg").header("content-type") == "image/svg+xml"
    assert knock(gate, path="/door/serif.woff2").status == 200
    for path in ("/door/../gate/pins.py", "/door/pin.json", "/door/", "/door/%2e%2e/page.css"):
        assert knock(gate, path=path).status == 404
