"""What a hand does on the pages, and a virtual logger that rides a script of the test's own."""

import threading
import time
from contextlib import contextmanager

from playwright.sync_api import expect

from bridge.emulator import pty as emulator_pty
from bridge.emulator import run

PHONE = {"width": 390, "height": 844}


def choose(page, question, answer):
    """Tap one answer of a question."""
    page.get_by_role("group", name=question, exact=True).get_by_text(answer, exact=True).click()


def fit(page, label, state="new"):
    """Fit a plug into the place that is open."""
    page.get_by_label("Label").fill(label)
    choose(page, "It is", state)
    page.get_by_role("button", name="Fit it").click()
    expect(page.get_by_text(f"Plug {label} is in cylinder")).to_be_visible()


def start(page, port):
    """Start a recording of a port by hand."""
    page.get_by_label("Port", exact=True).fill(port)
    page.get_by_role("button", name="Start recording").click()
    expect(page.locator(".live-row").first).to_be_visible()


def stop(page):
    """Stop the recording that the page shows; it wants a second tap."""
    page.get_by_role("button", name="Stop").click()
    page.get_by_role("button", name="Tap again").click()


@contextmanager
def riding(monkeypatch, script):
    """Give the port of a virtual logger that rides this script."""
    monkeypatch.setattr(emulator_pty, "short_ride", lambda _seconds=None: script)
    ports, over = [], threading.Event()
    thread = threading.Thread(target=run, args=(5, 50.0, None, ports.append, over.is_set), daemon=True)
    thread.start()
    until = time.monotonic() + 20.0
    while not ports and time.monotonic() < until:
        time.sleep(0.02)
    try:
        yield ports[0]
    finally:
        over.set()
        thread.join(10.0)
