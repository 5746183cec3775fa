"""The tray on a phone: fit, read, pull by tapping, and the verdict that comes of it."""

import pytest
from playwright.sync_api import expect

from bridge.logbook import Logbook
from tests.browser.hands import PHONE, choose, depth, fit

pytestmark = pytest.mark.browser


def test_from_an_empty_tray_to_a_verdict(open_page):
    """Fitting, reading and pulling a plug by tapping gives its verdict on the session's sheet."""
    page = open_page("/session/2/plugs", PHONE, has_touch=True)
    fit(page, "C1")
    depth(page).fill("6.6")
    expect(
        page.get_by_role("img", name="plug C1: ring 6.6 mm from the tip of a nose of 14 mm").first
    ).to_be_visible()
    choose(page, "Seen by", "shell cut away")
    page.get_by_role("button", name="Write it down").click()
    expect(page.get_by_text("of plug C1 is written down")).to_be_visible()
    page.get_by_role("button", name="Pull plug C1 after this session").click()
    expect(page.get_by_text("Plug C1 is out of cylinder 1")).to_be_visible()
    page.get_by_role("link", name="Back to session 2").click()

    expect(page.get_by_role("heading", name="Cylinder 1")).to_contain_text("Cannot say")
    expect(page.locator(".cylinder").first.locator(".statement")).to_contain_text("The ring may be richer")
    expect(page.get_by_role("img", name="Cylinder 1, plug C1: ring 6.6 mm from the tip")).to_be_visible()


def test_a_refused_reading_loses_nothing(open_page, folder):
    """A ring deeper than the nose is refused beside the form, which keeps all that was typed."""
    page = open_page("/session/2/plugs", PHONE)
    fit(page, "C1")
    depth(page).fill("15")
    page.get_by_text("Everything else that was seen").click()
    page.get_by_label("Note").fill("taken at the gate")
    page.get_by_role("button", name="Write it down").click()
    expect(page.locator(".said .refused")).to_contain_text("14")

    assert depth(page).input_value() == "15"
    assert page.get_by_label("Note").input_value() == "taken at the gate"
    with Logbook.open(folder, write=False) as logbook:
        assert logbook.readings(2) == []


def test_a_correction_keeps_the_earlier_one(open_page, folder):
    """Reading a plug again writes a new reading that names the old one."""
    page = open_page("/session/1/plugs", PHONE)
    typed = depth(page)
    expect(typed).to_have_value("6.8")
    page.get_by_role("button", name="Half a millimetre more").click()
    expect(typed).to_have_value("7.3")
    page.get_by_role("button", name="Write a corrected reading").click()
    expect(page.get_by_text("which stays on record")).to_be_visible()

    with Logbook.open(folder, write=False) as logbook:
        depths = [
            reading.ring_mm for reading in logbook.readings(1, all_of_them=True) if reading.plug == "B1"
        ]
    assert depths == [6.8, 7.3]


def test_the_order_of_the_tray_was_lost(open_page):
    """A tray pulled with its order lost keeps its plugs and says that they count for no cylinder."""
    page = open_page("/session/2/plugs", PHONE)
    fit(page, "C1")
    page.get_by_label("The order was lost").check()
    page.get_by_role("button", name="Pull all of them").click()
    expect(page.get_by_text("counts for no cylinder")).to_be_visible()
    expect(page.locator(".place-state").first).to_contain_text("order lost")
    page.get_by_role("link", name="Back to session 2").click()

    expect(page.locator(".cylinder").first).to_contain_text(
        "the order of the tray was lost", ignore_case=True
    )


def test_no_ring_hides_the_depth(open_page):
    """The depth is asked for only where a ring was seen, and the drawing says what was chosen."""
    page = open_page("/session/1/plugs", PHONE)
    expect(depth(page)).to_be_visible()
    choose(page, "The ring", "none")

    expect(depth(page)).to_be_hidden()
    expect(page.locator("#nose-preview svg")).to_have_attribute(
        "aria-label", "Cylinder 1, plug B1: no ring on the nose."
    )


def test_another_place_by_tapping(open_page):
    """Tapping a place in the tray opens that plug."""
    page = open_page("/session/1/plugs", PHONE)
    expect(page.get_by_role("heading", name="Plug B1, cylinder 1")).to_be_visible()
    second = page.get_by_role("group", name="Plugs in cylinder order").get_by_role("button").nth(1)
    second.click()

    expect(page.get_by_role("heading", name="Plug B2, cylinder 2")).to_be_visible()
    expect(second).to_have_attribute("aria-pressed", "true")


def test_targets_are_big_enough(open_page):
    """Everything to be hit on the tray's page is at least 44 px high, for cold or gloved hands."""
    page = open_page("/session/1/plugs", PHONE)
    expect(page.get_by_role("button", name="Write a corrected reading")).to_be_visible()
    page.get_by_text("Everything else that was seen").click()
    small = page.evaluate(
        """[...document.querySelectorAll('main button, main a, main summary, main label.mantine-SegmentedControl-label,'
            + 'main input.mantine-Input-input, .mantine-Checkbox-body')]
            .filter(e => e.offsetParent && e.getBoundingClientRect().height < 44)
            .map(e => e.outerHTML.slice(0, 120))""",
    )

    assert small == []


def test_a_script_in_a_label_is_a_label(open_page):
    """A label that is a script is shown as it was written and runs nowhere."""
    page = open_page("/session/2/plugs", PHONE)
    # a '=' is refused in a label, by a sentence that repeats it
    refused = '<img src=x onerror="document.title=1">'
    page.get_by_label("Label", exact=True).fill(refused)
    page.get_by_role("button", name="Fit it").click()
    expect(page.get_by_text("write it without")).to_contain_text(refused)
    label = "<script>document.write(1)</script>"
    page.get_by_label("Label", exact=True).fill(label)
    page.get_by_role("button", name="Fit it").click()
    expect(page.get_by_role("heading", name="cylinder 1")).to_contain_text(label)
    page.get_by_role("link", name="Back to session 2").click()
    expect(page.locator(".plug-line").first).to_contain_text(label)

    assert page.title() == "Sootline"


def test_a_tap_on_the_nose_is_a_depth(open_page):
    """Tapping the drawing where the ring sits puts that depth into the number field, to a tenth of a millimetre."""
    page = open_page("/session/1/plugs", PHONE, has_touch=True)
    drawing = page.locator("#nose-preview svg")
    expect(drawing).to_be_visible()
    place = page.evaluate(
        """(() => {
            const svg = document.querySelector('#nose-preview svg');
            const box = svg.getBoundingClientRect(), scale = box.height / svg.viewBox.baseVal.height;
            const y = Number(svg.dataset.tip) + 5 * Number(svg.dataset.pxPerMm);
            return {x: 130 * scale, y: y * scale};
        })()""",
    )
    drawing.tap(position=place)

    expect(depth(page)).to_have_value("5")
    expect(page.get_by_role("img", name="ring 5 mm from the tip of a nose of 14 mm")).to_have_count(1)
