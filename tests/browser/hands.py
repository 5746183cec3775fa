"""What a hand does on the pages, and a virtual logger that rides a script of the test's own."""

import re
import threading
import time
from contextlib import contextmanager

from playwright.sync_api import expect

from bridge.emulator import pty as emulator_pty
from bridge.emulator import run
from bridge.logbook import Logbook

PHONE = {"width": 390, "height": 844}


def choose(page, question, answer):
    """Tap one answer of a question."""
    group = page.get_by_role("group", name=question, exact=True)
    group.locator("label").filter(has_text=re.compile(rf"^\s*{re.escape(answer)}\s*$")).click()


def depth(page):
    """Return the field for the ring's depth."""
    return page.get_by_role("textbox", name="Middle of the ring")


def fit(page, label, state="new"):
    """Fit a plug into the place that is open."""
    page.get_by_label("Label", exact=True).fill(label)
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


def on_nose(page, mm, x=110.0):
    """Return where a depth lies on the screen, on the nose at ``x`` px of the drawing."""
    return page.evaluate(
        """([mm, x]) => {
            const svg = document.querySelector('#nose-preview svg');
            svg.scrollIntoView({block: 'center'});
            const at = new DOMPoint(x, Number(svg.dataset.tip) + mm * Number(svg.dataset.pxPerMm));
            const on = at.matrixTransform(svg.getScreenCTM());
            return [on.x, on.y];
        }""",
        [mm, x],
    )


def drag(page, start, end):
    """Draw from one place on the screen to another, in steps as a finger does."""
    page.mouse.move(*start)
    page.mouse.down()
    page.mouse.move(*end, steps=8)
    page.mouse.up()


def readings(folder, session):
    """Return all readings of a session, corrected ones too."""
    with Logbook.open(folder, write=False) as logbook:
        return logbook.readings(session, all_of_them=True)
