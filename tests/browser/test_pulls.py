"""Pulls in a real browser: the sheet of a day, a comparison and its file, the best mixture."""

import csv
import re

import pytest
from playwright.sync_api import expect

from dashboard.app import create_app
from tests.browser.conftest import served
from tests.browser.hands import PHONE
from tests.dashboard.dyno_logbook import fill_days

pytestmark = pytest.mark.browser

DAYS = "/bike/Hollow%20Lane%20400/pulls"
TABLET, DESK = {"width": 820, "height": 1180}, {"width": 1440, "height": 900}


@pytest.fixture(scope="module")
def days(tmp_path_factory):
    """Return the folder of a logbook of dynamometer days; no test writes into it."""
    return fill_days(tmp_path_factory.mktemp("dyno") / "days")


@pytest.fixture
def address(request, folder):
    """Return the dashboard's address: on the dynamometer days where a test asks for them."""
    own = request.getfixturevalue("days") if "days" in request.fixturenames else folder
    with served(create_app(own)) as at:
        yield at


def drawn(page, name):
    """Return the drawings that can be seen and whose words begin so."""
    return page.get_by_role("img", name=name)


def test_the_sheet_of_a_day(open_page, days):
    """From the session's page to its pulls: counted, on the trace, one drawing for this width, another on demand.

    The pull that was chosen stays when target or correction change.
    """
    del days
    page = open_page("/session/1")
    page.get_by_role("link", name="Pulls: power and mixture").click()
    expect(page.get_by_text("4 pulls in session 1")).to_be_visible()
    expect(drawn(page, re.compile("^Engine speed over time with 4 pulls"))).to_have_count(1)
    # the last one, which a chop followed, is looked at first
    expect(drawn(page, re.compile("^Power and torque of pull 4"))).to_have_count(1)
    expect(page.get_by_text("A chop followed pull 4")).to_be_visible()

    page.get_by_role("radio", name="pull 2").check()
    expect(drawn(page, re.compile("^Power and torque of pull 2"))).to_have_count(1)
    expect(page.get_by_text("A chop followed pull 4")).to_have_count(0)
    page.get_by_label("Lambda wanted at full throttle").fill("0,80")
    expect(page.get_by_text(re.compile("Pull 2, cylinder 1: leaner than the target"))).to_be_visible()
    expect(page.get_by_role("radio", name="pull 2")).to_be_checked()
    page.get_by_label("Correction of power").first.click()
    page.get_by_role("option", name="none, as measured").click()
    expect(page.locator(".pull-wide .pull-power")).to_contain_text("As measured, not corrected")
    expect(drawn(page, re.compile("^Power and torque of pull 2"))).to_have_count(1)
    expect(page.get_by_role("radio", name="pull 2")).to_be_checked()


def test_another_correction_is_named_on_the_figure(open_page, days):
    """What is chosen stands on the drawing itself, and as measured is said to be so."""
    del days
    page = open_page("/session/1/pulls")
    figure = page.locator(".pull-wide .pull-power")
    expect(figure).to_contain_text("Corrected by ISO 1585")
    page.get_by_label("Correction of power").first.click()
    page.get_by_role("option", name="SAE J1349").click()
    expect(figure).to_contain_text("Corrected by SAE J1349")
    page.get_by_label("Correction of power").first.click()
    page.get_by_role("option", name="none, as measured").click()
    expect(figure).to_contain_text("As measured, not corrected")


def test_a_change_is_compared_and_its_curves_are_taken_home(open_page, days, tmp_path):
    """Sides chosen by clicking give statement, overlay and a file whose gain is the 6 % that was built in."""
    del days
    page = open_page(DAYS)
    for side, session in (
        ("Before the change", "1,"),
        ("Before the change", "3,"),
        ("After the change", "2,"),
    ):
        field = page.get_by_role("textbox", name=side)
        field.click()
        page.get_by_role("option", name=re.compile(f"^{session}")).locator("visible=true").click()
        page.keyboard.press("Escape")
    expect(page.get_by_text("A gain is shown")).to_be_visible()
    expect(drawn(page, re.compile(r"^Mean power before the change \(8 runs\)"))).to_have_count(1)
    with page.expect_download() as waiting:
        page.get_by_role("link", name="These curves as a file").click()
    taken = tmp_path / "taken.csv"
    waiting.value.save_as(taken)
    with taken.open() as file:
        rows = list(csv.DictReader(file))

    gains = [float(row["gain_percent"]) for row in rows if row["gain_percent"]]
    assert 5.0 < sum(gains) / len(gains) < 7.0
    assert {row["corrected_by"] for row in rows} == {"ISO 1585 (motorcycles: ISO 4106)"}


def test_the_best_mixture_has_its_interval_or_says_why_not(open_page, days):
    """An address that names sessions and speed is a drawing; a speed that no engine has is refused in a sentence."""
    del days
    page = open_page(f"{DAYS}?of=1,3,4,5&rpm=7500")
    expect(
        drawn(page, re.compile("^Power against measured lambda at 7500.*Greatest at lambda 0.8"))
    ).to_have_count(1)
    page.get_by_label("At an engine speed").fill("7")
    expect(page.get_by_text("7 is no engine speed")).to_be_visible()


@pytest.mark.parametrize("size", [PHONE, TABLET, DESK], ids=["phone", "tablet", "desk"])
def test_no_page_of_pulls_is_wider_than_its_window(open_page, days, size):
    """At no width has a page of pulls to be pushed sideways, and its words are never set smaller than 9 px."""
    del days
    for path in ("/session/1/pulls", "/session/6/pulls", f"{DAYS}?before=1&after=2&rpm=7500"):
        page = open_page(path, size)
        expect(page.locator("svg.chart").locator("visible=true").first).to_be_visible()

        assert page.evaluate("document.documentElement.scrollWidth - window.innerWidth") <= 0, path
        smallest = page.evaluate(
            """Math.min(...[...document.querySelectorAll('svg.chart')].filter(s => s.getBoundingClientRect().width)
                .map(s => 10.5 * s.getBoundingClientRect().width / s.viewBox.baseVal.width))"""
        )
        assert smallest > 9.0, path


def test_by_keyboard_alone(open_page, days):
    """The other pulls are an arrow key away, and tables that move sideways can be reached."""
    del days
    page = open_page("/session/1/pulls", PHONE)
    chosen = page.get_by_role("radio", name="pull 4")
    expect(chosen).to_be_checked()
    chosen.focus()
    page.keyboard.press("ArrowLeft")
    expect(drawn(page, re.compile("^Power and torque of pull 3"))).to_have_count(1)
    table = page.get_by_role("region", name="Pulls")
    table.focus()
    expect(table).to_be_focused()


def test_the_button_prints(open_page, days):
    """On both sheets a tap on the button asks the browser to print, once."""
    del days
    for path in ("/session/1/pulls", DAYS):
        page = open_page(path)
        page.evaluate("() => { window.asked = 0; window.print = () => { window.asked += 1; }; }")
        page.get_by_role("button", name="Print, or save as PDF").click()
        assert page.evaluate("window.asked") == 1, path


def test_on_paper_stand_drawing_and_words_and_no_control(open_page, days):
    """Printed from a dark phone: the desk's drawing, light ground, no fields and no buttons, two sheets of A4."""
    del days
    page = open_page("/session/1/pulls", PHONE)
    page.get_by_role("button", name="Dark").click()
    expect(drawn(page, re.compile("^Power and torque of pull 4"))).to_have_count(1)
    page.emulate_media(media="print")
    expect(page.locator(".pull-wide .pull-power")).to_be_visible()
    for hidden in (".pull-narrow .pull-power", ".pull-asked", ".pull-choice", ".pull-file", ".masthead"):
        expect(page.locator(hidden)).to_be_hidden()

    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(251, 249, 244)"
    assert 1 <= page.pdf(format="A4").count(b"/Type /Page\n") <= 2
