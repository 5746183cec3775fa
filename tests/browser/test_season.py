"""A season in the browser: from a departing cylinder's next test to the to-do, and the season with its filters."""

import re

import pytest
from playwright.sync_api import expect

from bridge.logbook import Logbook
from tests.browser.conftest import PHONE
from tests.dashboard.invented import add_departing, fill_season

pytestmark = pytest.mark.browser


@pytest.fixture
def folder(tmp_path):
    """Return a logbook of four sound sessions and a fifth in which cylinder 1 departs."""
    made = fill_season(tmp_path / "logbook")
    add_departing(made)
    return made


def tasks(folder):
    """Return what is on the to-do."""
    with Logbook.open(folder, write=False) as logbook:
        return logbook.tasks()


def test_the_next_test_goes_on_the_to_do_and_is_ticked_off(open_page, folder):
    """One tap writes it down with its caution, another ticks it off; a promise of one's own is written and kept."""
    page = open_page("/session/5", PHONE)
    expect(page.get_by_text("The test that tells most")).to_be_visible()
    page.get_by_role("button", name="Write it on the to-do").click()
    todo = page.locator(".part-todo")
    expect(todo.locator(".said")).to_contain_text("Written down")
    expect(todo.locator(".task")).to_have_count(1)
    assert tasks(folder)[0].cylinder == 1

    todo.get_by_role("button", name=re.compile("^Done: ")).click()
    expect(todo.locator(".task")).to_contain_text("Done on")
    assert tasks(folder)[0].done is not None

    todo.get_by_text("Write something down").click()
    todo.get_by_label("What to do next").fill("main jet 160 to 165")
    todo.get_by_label(re.compile("^Promise")).fill("-0,02")
    todo.get_by_role("button", name="Write it down").click()
    expect(todo.locator(".task")).to_have_count(2)
    assert [task.promise for task in tasks(folder)] == [None, -0.02]


def test_a_season_is_sifted_and_fits_a_phone(open_page):
    """Words, noses and charts come by themselves; a place and a date take some of them; nothing scrolls sideways."""
    page = open_page("/bike/Hollow%20Lane%20400/season", PHONE)
    expect(page.get_by_text(re.compile("^Over 5 sessions"))).to_be_visible()
    expect(page.locator(".season-nose-frame svg")).to_have_count(10)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")

    page.get_by_role("textbox", name="Place").click()
    page.get_by_role("option", name="Mole").click()
    expect(page.get_by_text(re.compile("^Over 2 sessions"))).to_be_visible()
    page.get_by_label("Up to and with").fill("2026-05-29")
    expect(page.get_by_text(re.compile("^Over 1 session|lies .* from the sensor"))).to_be_visible()
    page.get_by_label("Up to and with").fill("29.5.")
    expect(page.get_by_text("is no date")).to_be_visible()


def test_a_nose_of_the_season_leads_to_its_session_by_keyboard(open_page):
    """The noses are links in order of time: focus and Enter open the session."""
    page = open_page("/bike/Hollow%20Lane%20400/season")
    first = page.locator(".season-noses a").first
    expect(first).to_be_visible()
    first.focus()
    page.keyboard.press("Enter")

    expect(page).to_have_url(re.compile("/session/1$"))
