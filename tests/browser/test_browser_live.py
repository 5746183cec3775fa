"""The live page in a real browser: a recording begun, watched, marked and stopped by clicking."""

import re
import socket
import subprocess
import sys
import threading
import time
from contextlib import contextmanager

import pytest
import uvicorn
from playwright.sync_api import expect

from bridge.emulator import Phase
from bridge.logbook import Logbook
from dashboard.app import create_app
from tests.browser.hands import PHONE, riding, start

pytestmark = pytest.mark.browser


@pytest.fixture
def logger():
    """Return the port of a virtual logger in a process of its own."""
    command = [sys.executable, "-m", "bridge", "emulate", "--seed", "3", "--rate", "50"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        yield process.stdout.readline().strip()
        process.terminate()


@pytest.fixture
def chopping(monkeypatch):
    """Return the port of a virtual logger without a button: soon full throttle, a chop that nobody marks."""
    script = (
        Phase(1.0, 20.0, 4000.0),
        Phase(4.5, 100.0, 9500.0, rise=0.3),
        Phase(1.2, 100.0, 0.0, rise=0.9, burning=False),
        Phase(60.0, 0.0, 0.0, burning=False),
    )
    with riding(monkeypatch, script) as port:
        yield port


@pytest.fixture(autouse=True)
def stopped_at_the_end(folder):
    """End every recorder that a test has left running."""
    yield
    with Logbook.open(folder, write=False) as logbook:
        pids = [logbook.recorder(number) for number in logbook.unfinished()]
    for pid in filter(None, pids):
        subprocess.run(["kill", "-TERM", str(pid)], check=False)


def value(page, channel):
    """Return where a channel's number stands."""
    return page.locator(f"[data-channel={channel}]")


NUMBER = re.compile(r"^[\d.\u2009\u202f ]+$")


def test_from_start_to_sheet(open_page, logger, folder):
    """Started, watched, marked and stopped by clicking; the session is sealed with its mark, its sheet a link away."""
    page = open_page("/live")
    start(page, logger)
    expect(value(page, "rpm")).to_have_text(NUMBER)
    expect(value(page, "lambda_1")).to_have_text("–")
    expect(page.locator(".live-mixture .live-state").first).to_have_text("warming")
    before = value(page, "egt_1").text_content()
    expect(value(page, "lambda_1")).to_have_text(NUMBER)
    expect(value(page, "egt_1")).not_to_have_text(before)
    expect(page.locator(".live-run")).to_contain_text("no line lost")

    page.get_by_role("button", name="AFR").click()
    expect(page.locator(".live-mixture .live-name")).to_contain_text("AFR of e5, 14.31 : 1")
    page.get_by_role("button", name="Lap", exact=True).click()
    expect(page.locator(".live-said")).to_contain_text("is written down")
    page.get_by_role("button", name="Stop").click()
    page.get_by_role("button", name="Tap again").click()
    page.get_by_role("link", name="The sheet of session 3").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Long Straight")

    with Logbook.open(folder, write=False) as logbook:
        found = logbook.run(3)
        assert found.session.state == "sealed"
        assert found.bike.name == "Hollow Lane 400"
        laps = [mark for mark in found.marks if (mark.what, mark.by) == ("lap", "hand")]
        assert len(laps) == 1
        assert 2.0 < laps[0].t_s < found.session.seconds


def test_stop_wants_a_second_tap(open_page, logger, folder):
    """One tap on stop stops nothing and says so; four seconds later the button is as it was."""
    page = open_page("/live")
    start(page, logger)
    page.get_by_role("button", name="Stop").click()
    expect(page.locator(".live-said")).to_contain_text("tap it again within 4 s")
    expect(page.locator(".live-said")).to_contain_text("Still recording")
    expect(page.get_by_role("button", name="Stop")).to_be_visible()

    with Logbook.open(folder, write=False) as logbook:
        assert logbook.recorder(3) is not None


def test_a_port_that_is_not_there(open_page, folder):
    """The recorder's own sentence stands beside the form, which keeps what was typed."""
    page = open_page("/live")
    page.get_by_label("Place").fill("Nowhere")
    page.get_by_label("Port", exact=True).fill("/dev/not-there")
    page.get_by_role("button", name="Start recording").click()
    expect(page.get_by_role("alert")).to_contain_text("There is no port '/dev/not-there'")

    expect(page.get_by_label("Place")).to_have_value("Nowhere")
    with Logbook.open(folder, write=False) as logbook:
        assert len(logbook.sessions()) == 2


def test_a_second_tab_has_the_last_minute_at_once(open_page, logger):
    """A page opened in mid-session shows the numbers and what came before it was opened; both go on."""
    first = open_page("/live")
    start(first, logger)
    expect(value(first, "lambda_1")).to_have_text(NUMBER)
    second = open_page("/live", PHONE)
    expect(value(second, "rpm")).to_have_text(NUMBER)
    second.get_by_role("button", name="Mark", exact=True).click()
    expect(second.locator(".live-said")).to_contain_text("is written down")

    drawn = second.evaluate(
        """(() => {  // how much of the engine-speed picture's right quarter is not the ground
            const canvas = document.querySelector('.live-revs canvas');
            const pen = canvas.getContext('2d');
            const [w, h] = [canvas.width, canvas.height];
            const data = pen.getImageData(Math.floor(w * 0.9), 0, Math.floor(w * 0.08), h).data;
            let other = 0;
            for (let i = 0; i < data.length; i += 4) if (data[i] < 120) other++;
            return other;
        })()"""
    )
    assert drawn > 20
    assert second.evaluate("document.documentElement.scrollWidth") == PHONE["width"]
    expect(value(first, "rpm")).to_have_text(NUMBER)


@contextmanager
def server_on(port, folder):
    """Serve on one port of this machine."""
    config = uvicorn.Config(create_app(folder), host="127.0.0.1", port=port, log_level="error")
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    until = time.monotonic() + 20.0
    while not server.started and time.monotonic() < until:
        time.sleep(0.02)
    try:
        yield
    finally:
        server.should_exit = True
        thread.join(15.0)
        assert not thread.is_alive()


def test_the_dashboard_restarted(browser, logger, folder):
    """A dashboard that goes leaves the recording running; when it is back, the page goes on by itself."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    window = browser.new_context()
    page = window.new_page()
    page.set_default_timeout(20_000)
    with server_on(port, folder):
        page.goto(f"http://127.0.0.1:{port}/live")
        start(page, logger)
        expect(value(page, "rpm")).to_have_text(NUMBER)
        with Logbook.open(folder, write=False) as logbook:
            pid = logbook.recorder(3)
    expect(page.locator(".live-troubles")).to_contain_text("lost the dashboard")
    expect(value(page, "rpm")).to_have_text("–")
    with server_on(port, folder):
        expect(page.locator(".live-troubles")).to_be_empty()
        expect(value(page, "rpm")).to_have_text(NUMBER)
        with Logbook.open(folder, write=False) as logbook:
            assert logbook.recorder(3) == pid
        window.close()


def test_old_numbers_are_not_shown(open_page, logger, folder):
    """A second after the last line its numbers are gone and the age is said in words."""
    page = open_page("/live")
    start(page, logger)
    expect(value(page, "rpm")).to_have_text(NUMBER)
    with Logbook.open(folder, write=False) as logbook:
        pid = logbook.recorder(3)
    subprocess.run(["kill", "-STOP", str(pid)], check=True)
    try:
        expect(page.locator(".live-troubles")).to_contain_text(re.compile(r"No line for \d+ s"))
        for channel in ("rpm", "throttle", "egt_1"):
            expect(value(page, channel)).to_have_text("–")
    finally:
        subprocess.run(["kill", "-CONT", str(pid)], check=True)
    expect(value(page, "rpm")).to_have_text(NUMBER)


def test_a_chop_is_offered(open_page, chopping, folder):
    """A chop that nobody marked is offered in words, and written only once it is kept."""
    page = open_page("/live", PHONE)
    start(page, chopping)
    expect(page.locator(".live-offer")).to_contain_text(re.compile(r"A chop at \d\d:\d\d:\d\d\?"))
    with Logbook.open(folder, write=False) as logbook:
        assert logbook.marks(3) == ()
    page.get_by_role("button", name="Keep it").click()
    expect(page.locator(".live-offer")).to_have_count(0)

    with Logbook.open(folder, write=False) as logbook:
        assert [mark.what for mark in logbook.marks(3)] == ["chop"]


def test_leaving_the_page_ends_its_stream(open_page, logger):
    """The stream is closed when another page takes the live page's place, and opened when it comes back."""
    page = open_page("/live")
    streams = []
    page.on("websocket", lambda ws: streams.append(ws) if "_live" in ws.url else None)
    start(page, logger)
    expect(value(page, "rpm")).to_have_text(NUMBER)
    page.get_by_role("link", name="Sootline").click()
    expect(page.get_by_role("heading", name="Sessions")).to_be_visible()
    until = time.monotonic() + 10.0
    while not all(ws.is_closed() for ws in streams) and time.monotonic() < until:
        page.wait_for_timeout(50)
    assert [ws.is_closed() for ws in streams] == [True]

    page.get_by_role("link", name="Live").click()
    expect(value(page, "rpm")).to_have_text(NUMBER)


def test_big_enough_to_hit(open_page, logger):
    """Every button is at least 56 px high, the choice of lambda or AFR 44 px, and nothing is wider than a phone."""
    page = open_page("/live", PHONE)
    start(page, logger)
    heights = page.evaluate(
        "[...document.querySelectorAll('.live-button')].map(b => b.getBoundingClientRect().height)"
    )
    choice = page.get_by_role("button", name="AFR").bounding_box()["height"]

    assert len(heights) == 4
    assert min(heights) >= 56
    assert choice >= 44
    assert page.evaluate("document.documentElement.scrollWidth") == PHONE["width"]


SLOW_DESK = """() => {
    const fetched = window.fetch.bind(window);
    window.fetch = async (what, ...more) => {
        if (String(what).endsWith("desk")) await new Promise((resolve) => setTimeout(resolve, 1200));
        return fetched(what, ...more);
    };
}"""
"""Delays the answer that names this machine's ports and bikes."""


def test_a_hand_quicker_than_the_first_answer_records_for_the_usual_bike(open_page, logger, folder):
    """The button pressed before the page knows the bikes: the recording is of the bike that was ridden last."""
    page = open_page("/live", before=SLOW_DESK)
    start(page, logger)
    with Logbook.open(folder, write=False) as logbook:
        (number,) = logbook.unfinished()
        assert logbook.session(number).bike == "Hollow Lane 400"
