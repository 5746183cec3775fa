"""The whole way by clicking: a session recorded a moment ago, its plug read, and the verdict on its sheet."""

import re

import pytest
from playwright.sync_api import expect

from bridge.emulator import Phase
from bridge.logbook import Logbook
from tests.browser.hands import PHONE, choose, depth, fit, riding, start, stop

pytestmark = pytest.mark.browser

RIDE = (
    Phase(3.5, 20.0, 4000.0),
    Phase(9.0, 100.0, 9500.0, rise=0.3),
    Phase(1.2, 100.0, 0.0, rise=0.9, burning=False, mark="chop"),
    Phase(60.0, 0.0, 0.0, burning=False),
)


def test_from_the_wire_to_the_verdict(open_page, folder, monkeypatch):
    """Record from a port device, stop after the chop, fit and read a plug: the sheet has its verdict."""
    with riding(monkeypatch, RIDE) as port:
        page = open_page("/live", PHONE, has_touch=True)
        start(page, port)
        expect(page.locator("[data-channel=rpm]")).to_have_text(re.compile("^0$"), timeout=40_000)
        stop(page)
        page.get_by_role("link", name="The sheet of session 3").click()
    page.get_by_role("link", name="Plugs: fit, pull, read").click()
    fit(page, "W1")
    depth(page).fill("6.9")
    choose(page, "Seen by", "shell cut away")
    page.get_by_role("button", name="Write it down").click()
    expect(page.get_by_text("of plug W1 is written down")).to_be_visible()
    page.get_by_role("link", name="Back to session 3").click()

    expect(page.get_by_role("heading", name="Cylinder 1")).to_contain_text("Cannot say")
    expect(page.locator(".cylinder").first.locator(".statement")).to_contain_text("The ring may be richer")
    expect(page.get_by_role("img", name="Cylinder 1, plug W1: ring 6.9 mm from the tip")).to_be_visible()
    with Logbook.open(folder, write=False) as logbook:
        assert logbook.session(3).state == "sealed"
        assert [mark.what for mark in logbook.run(3).marks] == ["chop"]
