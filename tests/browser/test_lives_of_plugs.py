"""What is told of plugs on the pages: new, cleaned, scrapped, swapped, mixed up, order lost and found again."""

import re

import pytest
from playwright.sync_api import expect

from bridge.logbook import Logbook
from tests.browser.hands import PHONE
from tests.dashboard.invented import add_session, ride

pytestmark = pytest.mark.browser


def story(folder, label):
    """Return a plug's story."""
    with Logbook.open(folder, write=False) as logbook:
        return logbook.plug_story(label)


def choose_from(part, question, answer):
    """Tap one answer of a question inside a part of the page."""
    group = part.get_by_role("group", name=question, exact=True)
    group.locator("label").filter(has_text=re.compile(rf"^\s*{re.escape(answer)}\s*$")).click()


def test_new_plugs_go_into_the_box(open_page, folder):
    """Labels typed with commas are new plugs in the box; one that is there already is refused in a sentence."""
    page = open_page("/plugs", PHONE)
    page.get_by_label("Their labels").fill("D1, D2")
    page.get_by_role("button", name="Put them into the box").click()
    expect(page.get_by_text("In the box now, new: D1, D2.")).to_be_visible()
    expect(page.locator(".box")).to_contain_text("D2")
    page.get_by_label("Their labels").fill("D3, B1")
    page.get_by_role("button", name="Put them into the box").click()
    expect(page.locator(".said .refused")).to_contain_text("there is a plug B1 already", ignore_case=True)
    expect(page.get_by_label("Their labels")).to_have_value("D3, B1")

    assert story(folder, "D1").state == "new"


def test_cleaned_scrapped_and_taken_back(open_page, folder):
    """A plug out of the engine is cleaned or scrapped with a word on it, and a scrapped one can be taken back."""
    page = open_page("/plug/B1", PHONE)
    page.get_by_label("A word on it").fill("brass brush")
    page.get_by_role("button", name="It was cleaned").click()
    expect(page.locator(".life")).to_contain_text("brass brush", ignore_case=True)
    page.get_by_role("button", name="Scrap it").click()
    expect(page.get_by_text("Plug B1 is scrapped; what was read on it stays.")).to_be_visible()
    assert (story(folder, "B1").state, story(folder, "B1").readings) == ("scrapped", 1)
    page.get_by_role("button", name="It was not scrapped after all").click()
    expect(page.get_by_text("Plug B1 is back in the box.")).to_be_visible()
    expect(page.get_by_role("button", name="Scrap it")).to_be_visible()

    assert story(folder, "B1").state == "in the box"


def test_mixed_up_plugs_change_places_and_keep_their_readings(open_page, folder):
    """Told that two plugs were mixed up, each is in the other's cylinder, and its reading went with it."""
    page = open_page("/session/1/plugs", PHONE)
    part = page.locator("details", has_text="Two plugs were mixed up")
    part.locator("summary").click()
    part.get_by_role("button", name="They were mixed up").click()
    expect(page.get_by_text("Plug B1 was in cylinder 2 and plug B2 in cylinder 1")).to_be_visible()
    expect(page.locator(".place-label").first).to_have_text("B2")

    with Logbook.open(folder, write=False) as logbook:
        read = {
            life.fitting.plug: (life.fitting.cylinder, life.reading.ring_mm) for life in logbook.plug_lives(1)
        }
    assert read == {"B1": (2, 6.8), "B2": (1, 8.9)}


def test_one_plug_is_no_two(open_page):
    """The same plug named twice is refused in a sentence."""
    page = open_page("/session/1/plugs", PHONE)
    part = page.locator("details", has_text="Two plugs were mixed up")
    part.locator("summary").click()
    choose_from(part, "The other", "B1, cylinder 1")
    part.get_by_role("button", name="They were mixed up").click()

    expect(page.locator(".said .refused")).to_contain_text(
        "name two plugs: B1 stands for both", ignore_case=True
    )


def test_an_order_lost_is_found_again(open_page, folder):
    """A tray that was upset counts for no cylinder, until somebody knows the order again; no reading is lost."""
    page = open_page("/session/1/plugs", PHONE)
    lost = page.locator("details", has_text="The tray was upset")
    lost.locator("summary").click()
    lost.get_by_role("button", name="Their order is lost").click()
    expect(page.get_by_text("their readings are kept")).to_be_visible()
    expect(page.locator(".place-state").first).to_contain_text("order lost")
    found = page.locator("details", has_text="Their order is known again")
    found.locator("summary").click()
    found.get_by_role("button", name="This was their order").click()
    expect(page.locator(".said .refused")).to_contain_text("one plug at least")
    choose_from(found, "Plug B1 was in", "cylinder 1")
    choose_from(found, "Plug B2 was in", "cylinder 2")
    found.get_by_role("button", name="This was their order").click()
    expect(page.get_by_text("Plug B1 came out of cylinder 1.")).to_be_visible()
    expect(page.locator(".place-state").first).to_contain_text("pulled, read")

    assert (story(folder, "B1").readings, story(folder, "B2").readings) == (1, 1)


def test_two_plugs_in_one_cylinder(open_page, folder):
    """A cylinder that somebody else filled meanwhile takes no second plug: one sentence, and the label stays."""
    page = open_page("/session/2/plugs", PHONE)
    expect(page.get_by_role("button", name="Fit it")).to_be_visible()
    with Logbook.open(folder, write=True) as logbook:
        logbook.fit("C9", cylinder=1, session=2, state="new")
    page.get_by_label("Label", exact=True).fill("C1")
    page.get_by_role("button", name="Fit it").click()
    expect(page.locator(".said .refused")).to_contain_text("C9 is in cylinder 1")
    expect(page.get_by_label("Label", exact=True)).to_have_value("C1")
    with Logbook.open(folder, write=False) as logbook:
        assert [life.fitting.plug for life in logbook.plug_lives(2)] == ["C9"]


def test_a_scrapped_plug_is_not_fitted(open_page, folder):
    """A scrapped plug stays in the bin: fitting it is refused in a sentence that says how to take it back."""
    with Logbook.open(folder, write=True) as logbook:
        logbook.scrap("B1")
    page = open_page("/session/2/plugs", PHONE)
    page.get_by_label("Label", exact=True).fill("B1")
    page.get_by_role("button", name="Fit it").click()
    expect(page.locator(".said .refused")).to_contain_text("scrapped")


def test_swapped_for_a_later_session(open_page, folder):
    """Two plugs that changed places for a later session stand crosswise there, as used ones that count no more."""
    with Logbook.open(folder, write=True) as logbook:
        third = add_session(logbook, ride(3, seconds=60.0), bike="Hollow Lane 400", days=2)
        for cylinder in (1, 2):
            logbook.fit(f"E{cylinder}", cylinder=cylinder, session=2, state="new")
    page = open_page(f"/session/{third}/plugs", PHONE)
    part = page.locator("details", has_text="Two plugs changed places")
    part.locator("summary").click()
    part.get_by_role("button", name="They changed places").click()
    expect(page.get_by_text("so their readings will not count")).to_be_visible()
    expect(page.locator(".place-label").first).to_have_text("E2")

    with Logbook.open(folder, write=False) as logbook:
        before, after = ([life.fitting for life in logbook.plug_lives(number)] for number in (2, third))
    assert {one.plug: one.cylinder for one in before} == {"E1": 1, "E2": 2}
    assert {one.plug: (one.cylinder, one.state) for one in after} == {"E1": (2, "used"), "E2": (1, "used")}
