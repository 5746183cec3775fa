"""Looking: the list, the sheet, the drawings, light and dark, by hand and by keyboard."""

import pytest
from playwright.sync_api import expect

pytestmark = pytest.mark.browser

PHONE, TABLET, DESK = ({"width": w, "height": h} for w, h in ((390, 844), (820, 1180), (1440, 900)))
PAGES = ("/", "/session/1", "/session/2", "/session/1/plugs", "/session/2/plugs", "/session/99", "/nowhere")


def test_from_the_list_to_the_drawing(open_page):
    """A click on a session's line opens its sheet, which has a drawing for each plug and the traces."""
    page = open_page("/")
    expect(page.get_by_text("The reading does not count")).to_be_visible()
    page.get_by_role("link", name="Hollow Lane", exact=True).click()

    expect(page.get_by_role("heading", name="Practice, Hollow Lane")).to_be_visible()
    expect(page.get_by_role("img", name="Cylinder 1, plug B1: ring 6.8 mm from the tip")).to_be_visible()
    expect(page.get_by_role("img", name="Cylinder 2, plug B2")).to_be_visible()
    expect(page.get_by_role("img", name="Richest")).to_have_count(2)
    expect(page.locator(".traces .trace.scatter").first).to_be_visible()
    assert page.url.endswith("/session/1")


def test_back_goes_back(open_page):
    """The browser's own way back leads from the sheet to the list."""
    page = open_page("/")
    page.get_by_role("link", name="Long Straight").click()
    expect(page.get_by_role("heading", name="Practice, Long Straight")).to_be_visible()
    page.go_back()

    expect(page.get_by_role("heading", name="Sessions")).to_be_visible()


@pytest.mark.parametrize("size", [PHONE, TABLET, DESK], ids=["phone", "tablet", "desk"])
def test_no_page_is_wider_than_its_window(open_page, size):
    """At no width has a page to be pushed sideways."""
    for path in PAGES:
        page = open_page(path, size)
        if path == "/session/1":
            expect(page.locator(".traces .trace.scatter").first).to_be_visible()
        wide = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")

        assert wide <= 0, path


@pytest.mark.parametrize("path", ["/session/99", "/session/99/plugs", "/nowhere"])
def test_what_is_not_there_has_a_way_back(open_page, path):
    """An unknown session or page says so and leads back to the list."""
    page = open_page(path)
    expect(page.get_by_role("heading", name="Not in this logbook")).to_be_visible()
    page.get_by_role("link", name="Back to the sessions").click()

    expect(page.get_by_role("heading", name="Sessions")).to_be_visible()


def test_dark_and_light(open_page):
    """The page is light at first, dark on demand, its drawings and traces with it, and stays so on the next page."""
    page = open_page("/session/1")
    ground = "getComputedStyle(document.body).backgroundColor"
    ink = "getComputedStyle(document.querySelector('.nose text')).fill"
    tick = "document.querySelector('.traces .ytick text')?.style.fill"
    page.wait_for_function(f"{tick} === 'rgb(106, 98, 88)'")
    light = page.evaluate(f"[{ground}, {ink}]")
    page.get_by_role("button", name="Dark").click()
    page.wait_for_function(f"{ground} !== '{light[0]}' && {ink} !== '{light[1]}'")
    page.wait_for_function(f"{tick} === 'rgb(167, 158, 145)'")
    page.get_by_role("link", name="All sessions").click()
    expect(page.get_by_role("heading", name="Sessions")).to_be_visible()

    assert page.evaluate(ground) == "rgb(26, 24, 22)"


def test_closer_shows_more_points_of_less(open_page):
    """Zooming asks the server for the window, and the time axis stays where it was put."""
    page = open_page("/session/1")
    expect(page.locator(".traces .trace.scatter").first).to_be_visible()
    span = "(() => {const a = document.querySelector('.js-plotly-plot')._fullLayout.xaxis.range; return a[1] - a[0]})()"
    first = "document.querySelector('.js-plotly-plot')._fullData[0].x[0]"
    page.wait_for_function(f"{span} > 200")
    for _ in range(3):
        before = page.evaluate(span)
        page.get_by_role("button", name="Closer").click()
        page.wait_for_function(f"{span} < {before} * 0.6")
    page.wait_for_function(f"{first} > 90")
    page.wait_for_timeout(400)  # a snap back would come now

    assert 25 < page.evaluate(span) < 35
    page.get_by_role("button", name="Whole session").click()
    page.wait_for_function(f"{span} > 200")


def test_drawing_across_the_traces_looks_closer(open_page):
    """A drag across the traces shows that stretch alone, with the points of that stretch."""
    page = open_page("/session/1")
    box = page.locator(".traces .nsewdrag").first
    expect(box).to_be_attached()
    page.wait_for_function("document.querySelector('.js-plotly-plot')?._fullData?.length > 3")
    box.scroll_into_view_if_needed()
    place = box.bounding_box()
    y = place["y"] + place["height"] / 2
    page.mouse.move(place["x"] + place["width"] * 0.4, y)
    page.mouse.down()
    page.mouse.move(place["x"] + place["width"] * 0.6, y, steps=6)
    page.mouse.up()

    page.wait_for_function("document.querySelector('.js-plotly-plot')._fullData[0].x[0] > 80")
    page.wait_for_function("document.querySelector('.js-plotly-plot')._fullData[0].x.at(-1) < 160")


def test_the_keyboard_goes_the_whole_way(open_page):
    """With Tab and Enter alone one gets from the list to a sheet and to its tray, and sees where one is."""
    page = open_page("/")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "To the page"
    for _ in range(12):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.textContent") == "Hollow Lane":
            break
    outline = page.evaluate("getComputedStyle(document.activeElement, '::after').outlineStyle")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Practice, Hollow Lane")).to_be_visible()
    for _ in range(20):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.textContent") == "Plugs: fit, pull, read":
            break
    page.keyboard.press("Enter")

    expect(page.get_by_role("heading", name="Plugs")).to_be_visible()
    assert outline == "solid"


def test_the_table_says_what_the_map_shows(open_page):
    """The band map's numbers can be read as a table too."""
    page = open_page("/session/1")
    page.get_by_text("The same as a table").click()

    expect(page.get_by_role("columnheader", name="Circuit")).to_be_visible()
    table = page.locator("details", has=page.get_by_text("The same as a table")).locator("tbody tr")
    assert table.count() == page.locator("g.band[data-says]").count()
