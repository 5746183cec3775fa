"""A real browser on a real server, both on this machine; whatever goes elsewhere fails the test."""

import importlib
import shutil
import socket
import threading
import time
from contextlib import ExitStack, contextmanager
from urllib.parse import urlsplit

import pytest
import uvicorn
from playwright.sync_api import expect, sync_playwright

from bridge.logbook import Logbook
from dashboard.app import create_app
from tests.dashboard.invented import fill, geometry_alone

BROWSERS = ("chromium", "chromium-browser", "google-chrome")
PHONE, DESK = {"width": 390, "height": 844}, {"width": 1440, "height": 900}

expect.set_options(timeout=20_000)


@pytest.fixture(autouse=True)
def quick_delay(monkeypatch):
    """Take the delay from the pipe's geometry, without the search that other tests are about."""
    monkeypatch.setattr(importlib.import_module("bridge.bands.running"), "session_delay", geometry_alone)


@pytest.fixture(scope="session")
def browser():
    """Return one headless browser for all tests."""
    found = next((path for name in BROWSERS if (path := shutil.which(name))), None)
    if found is None:
        pytest.fail(
            "these tests need Chromium; install it by the system's package manager (apt install chromium)"
        )
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=found, args=["--disable-gpu", "--no-sandbox"])
        yield opened
        opened.close()


@contextmanager
def served(app, hosts=("127.0.0.1",)):
    """Serve an app on a free port of these addresses while the context lasts; gives the first one's web address."""
    with ExitStack() as stack:
        listeners = [stack.enter_context(socket.socket()) for _ in hosts]
        for listener, host in zip(listeners, hosts, strict=True):
            listener.bind((host, listeners[0].getsockname()[1]))
        server = uvicorn.Server(uvicorn.Config(app, log_level="warning"))
        thread = threading.Thread(target=server.run, kwargs={"sockets": listeners}, daemon=True)
        thread.start()
        until = time.monotonic() + 20.0
        while not server.started and time.monotonic() < until:
            time.sleep(0.02)
        assert server.started
        try:
            yield f"http://{hosts[0]}:{listeners[0].getsockname()[1]}"
        finally:
            server.should_exit = True
            thread.join(10.0)
            assert not thread.is_alive()


@pytest.fixture
def folder(tmp_path):
    """Return the folder of the invented logbook."""
    return fill(tmp_path / "logbook")


@pytest.fixture
def with_plug(folder):
    """Put plug C1 into cylinder 1 for session 2, and take it out again: it is in the hand."""
    with Logbook.open(folder, write=True) as logbook:
        logbook.fit("C1", cylinder=1, session=2, state="new")
        logbook.pull("C1", session=2)
    return folder


@pytest.fixture
def address(folder):
    """Return the address of the dashboard on the invented logbook."""
    with served(create_app(folder)) as at:
        yield at


@pytest.fixture
def open_page(browser, address):
    """Return a function that opens a path in a fresh window; at the end nothing may have gone wrong in it.

    A page that a test cuts off from the server may say that what it asked for did not come. ``before`` is a script that
    runs ahead of the page's own.
    """
    contexts, wrong = [], []

    def open_(path, size=DESK, *, cut_off=False, before=None, **context):
        # the tests wait by eval, which our policy forbids; test_browser_door.py holds the pages to the policy
        window = browser.new_context(viewport=size, bypass_csp=True, **context)
        contexts.append(window)
        window.route("**/*", lambda route: _let_through(route, wrong))
        if before is not None:
            window.add_init_script(f"({before})()")
        page = window.new_page()
        page.set_default_timeout(20_000)
        page.on("pageerror", lambda error: wrong.append(f"page error: {error}"))
        page.on(
            "console",
            lambda said: (
                wrong.append(f"console: {said.text}")
                if said.type == "error" and not (cut_off and "Failed to load resource" in said.text)
                else None
            ),
        )
        page.goto(address + path)
        expect(page.locator("main h1")).to_be_visible()
        return page

    yield open_
    for context in contexts:
        context.close()
    assert not wrong


def _let_through(route, wrong):
    if urlsplit(route.request.url).hostname in {"127.0.0.1", None}:
        route.continue_()
    else:
        wrong.append(f"went to {route.request.url}")
        route.abort()
