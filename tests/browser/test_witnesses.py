"""Sensor and exhaust gas written down in the browser, and the bands that are gone to by hand and by key."""

import re

import pytest
from playwright.sync_api import expect

pytestmark = pytest.mark.browser

PHONE, TABLET, DESK = ({"width": w, "height": h} for w, h in ((390, 844), (820, 1180), (1440, 900)))
GAS = {"Carbon dioxide": "12,1", "Carbon monoxide": "4.2", "Oxygen, O": "0.6", "Hydrocarbons": "300"}


def test_an_analysis_becomes_a_third_witness(open_page):
    """A gas analysis is typed on a phone, refused in words while one is missing, and then has its mark on the sheet."""
    page = open_page("/session/1/sensor", PHONE)
    form = page.locator(".form", has=page.get_by_role("heading", name="Write down an exhaust-gas analysis"))
    expect(page.get_by_text("carbon monoxide kills unnoticed")).to_be_visible()
    form.get_by_text("1", exact=True).click()
    for label, value in list(GAS.items())[:3]:
        form.get_by_label(label).fill(value)
    form.get_by_role("button", name="Write it down").click()
    expect(page.get_by_text("the analysis needs Hydrocarbons", exact=False)).to_be_visible()
    form.get_by_label("Hydrocarbons").fill(GAS["Hydrocarbons"])
    form.get_by_role("button", name="Write it down").click()
    expect(page.get_by_text("The exhaust gas of cylinder 1 is written down")).to_be_visible()
    expect(page.get_by_role("cell", name="cylinder 1")).to_be_visible()
    page.get_by_role("link", name="Back to session 1").click()

    expect(page.get_by_role("img", name=re.compile("lambda by exhaust-gas analysis 0.8"))).to_be_visible()
    expect(page.get_by_role("rowheader", name="Exhaust gas")).to_have_count(1)


def test_a_check_of_the_sensor_is_kept(open_page):
    """A free-air check is typed with its day, stands in the history, and an impossible one is refused in words."""
    page = open_page("/session/1/sensor")
    form = page.locator(".form", has=page.get_by_role("heading", name="Write down a check of the sensor"))
    form.get_by_label("Oxygen that it told").fill("0.205")
    form.get_by_role("button", name="Write it down").click()
    expect(page.get_by_text("0.205 would be 20.5")).to_be_visible()
    form.get_by_label("Oxygen that it told").fill("20.5")
    form.get_by_label("When").fill("2026-05-01 09:00")
    form.get_by_role("button", name="Write it down").click()
    expect(page.get_by_text("told 20.50 % of oxygen in free air")).to_be_visible()

    expect(page.get_by_role("cell", name="held in free air")).to_be_visible()
    expect(page.get_by_text("last checked 13 days before")).to_be_visible()


def test_the_fields_follow_what_was_done(open_page):
    """A replaced sensor asks for no number; an offset asks for one in lambda."""
    page = open_page("/session/1/sensor", PHONE)
    page.get_by_text("replaced", exact=True).click()
    expect(page.get_by_label("Oxygen that it told")).to_have_count(0)
    page.get_by_text("offset known", exact=True).click()

    expect(page.get_by_label("Its reading less the truth")).to_be_visible()


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_a_tapped_band_says_all_of_it(open_page, size):
    """A tap on a band puts its whole sentence beside the map; the neighbour map keeps its own words."""
    page = open_page("/session/1", size)
    band = page.locator("g.band[data-says*='lambda']").first
    band.scroll_into_view_if_needed()
    band.click()

    expect(page.locator(".band-says").first).to_have_text(
        re.compile(r"give or take 0\.\d+ .*AFR 1\d\.\d\d of e5")
    )
    expect(page.locator(".band-says").nth(1)).to_contain_text("Tap a band")


def test_bands_are_gone_to_by_arrow_keys(open_page):
    """With a map in focus each arrow key goes on to another band, up to a wider opening."""
    page = open_page("/session/1")
    host = page.locator(".bands-to-tap").first
    host.focus()
    said = page.locator(".band-says").first
    page.keyboard.press("ArrowDown")
    expect(said).to_contain_text("lambda")
    before = said.text_content()
    page.keyboard.press("ArrowUp")

    expect(said).not_to_have_text(before)
    assert page.locator("g.band.told").count() == 1


def test_how_sure_a_number_is_opens_by_keyboard(open_page):
    """The budget opens with Enter and has the doubts one by one."""
    page = open_page("/session/1")
    line = page.get_by_text(re.compile(r"^Measured 0\.\d+, give or take")).first
    line.focus()
    page.keyboard.press("Enter")

    expect(page.get_by_role("rowheader", name="the sensor's own accuracy").first).to_be_visible()


def test_an_empty_tray_has_nothing_to_pull(open_page):
    """The button for the whole tray is there only while a plug is in."""
    page = open_page("/session/2/plugs", PHONE)
    pull = page.get_by_role("button", name="Pull all of them")
    expect(page.get_by_label("Label", exact=True)).to_be_visible()
    expect(pull).to_be_hidden()
    page.get_by_label("Label", exact=True).fill("C1")
    page.get_by_role("button", name="Fit it").click()
    expect(pull).to_be_visible()
    pull.click()
    expect(page.get_by_text("Out now: C1")).to_be_visible()

    expect(pull).to_be_hidden()


@pytest.mark.parametrize("size", [PHONE, TABLET, DESK], ids=["phone", "tablet", "desk"])
def test_opened_tables_stay_within_the_window(open_page, size):
    """With everything opened, no page has to be pushed sideways; wide tables scroll by themselves."""
    for path in ("/session/1", "/session/1/sensor"):
        page = open_page(path, size)
        page.evaluate("document.querySelectorAll('details').forEach((one) => (one.open = true))")

        assert page.evaluate("document.documentElement.scrollWidth - window.innerWidth") <= 0, path


def test_states_are_drawn_along_the_time_axis(open_page):
    """The strip of states is on the traces' figure, and its key stands above it with seconds."""
    page = open_page("/session/1")
    page.wait_for_function("document.querySelector('.js-plotly-plot')?._fullLayout?.yaxis90 !== undefined")

    expect(page.locator(".states tbody tr").first).to_contain_text("steady")
    expect(page.locator(".states .swatch-solid")).to_have_count(1)
