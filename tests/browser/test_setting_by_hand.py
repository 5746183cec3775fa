"""The drawings of the reading form are set by finger, by number and by key alike."""

import re

import pytest
from playwright.sync_api import expect

from tests.browser.hands import PHONE, choose, depth, drag, on_nose, readings

pytestmark = pytest.mark.browser


def grip(page):
    """Return the x of the ring's grip on the drawing."""
    return page.evaluate("Number(document.querySelector('#nose-preview .grip').getAttribute('cx'))")


@pytest.mark.usefixtures("with_plug")
def test_every_target_on_the_way_can_be_seen_and_hit(open_page):
    """At 390 px nothing runs out of the page, and every target is at least 44 px high."""
    page = open_page("/plug/C1", PHONE, has_touch=True)
    page.get_by_text("Everything else that was seen").click()
    page.get_by_text("Photograph", exact=True).click()
    expect(page.locator("#judged summary").first).to_be_visible()
    small = page.evaluate(
        """[...document.querySelectorAll('main button, main a, main summary, main .answer, main .chooser,'
            + 'main textarea, main input[type=text], main [role=slider]')]
            .filter(e => e.offsetParent && e.getBoundingClientRect().height < 44).map(e => e.outerHTML.slice(0, 120))"""
    )

    assert small == []
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    grip_px = page.evaluate(
        "document.querySelector('.strap-setter [data-part=way]').ownerSVGElement.getBoundingClientRect().height"
    )
    assert grip_px >= 44


@pytest.mark.usefixtures("with_plug")
def test_the_ring_is_dragged(open_page):
    """The ring follows the finger, taken by its grip or on the nose, and never leaves it; the number says where."""
    page = open_page("/plug/C1")
    expect(page.locator("#nose-preview svg")).to_be_visible()
    drag(page, on_nose(page, 3.0), on_nose(page, 8.0))
    expect(depth(page)).to_have_value("8")
    # by the grip, taken half a millimetre off its middle: the ring moves by as much as the finger
    x = grip(page)
    drag(page, on_nose(page, 8.5, x), on_nose(page, 10.0, x))
    expect(depth(page)).to_have_value(re.compile(r"^9\.[456]$"))
    drag(page, on_nose(page, 9.5, x), on_nose(page, 30.0, x))
    expect(depth(page)).to_have_value("14")
    expect(page.locator("#nose-preview")).to_have_attribute("aria-valuenow", "14")


@pytest.mark.usefixtures("with_plug")
def test_the_ring_is_typed(open_page):
    """A typed depth moves the ring on the drawing, with a comma for a point; what is no depth takes it off."""
    page = open_page("/plug/C1")
    moved = page.locator("#nose-preview [data-part=moved]")
    expect(moved).to_have_attribute("visibility", "hidden")
    depth(page).fill("6,4")
    expect(moved).to_have_attribute("visibility", "visible")
    tip, per_mm = (
        float(page.locator("#nose-preview svg").get_attribute(name))
        for name in ("data-tip", "data-px-per-mm")
    )
    y = float(re.search(r"translate\(0 ([\d.]+)\)", moved.get_attribute("transform"))[1])
    assert y == pytest.approx(tip + 6.4 * per_mm, abs=0.01)
    expect(page.locator(".stands")).to_contain_text("A ring at 6.4 mm stands for lambda")
    for typed in ("", "15", "-1", "six"):
        depth(page).fill(typed)
        expect(moved).to_have_attribute("visibility", "hidden")
        expect(page.locator(".stands")).to_have_text("")


@pytest.mark.usefixtures("with_plug")
def test_deeper_is_leaner_on_the_form(open_page):
    """The form says a leaner lambda for a deeper ring, as the scale has it, in both ways of looking."""
    page = open_page("/plug/C1")

    def stands(mm):
        depth(page).fill(mm)
        return float(re.search(r"lambda ([\d.]+)", page.locator(".stands").inner_text())[1])

    for view in ("magnifier", "shell cut away"):
        choose(page, "Seen by", view)
        assert stands("4") < stands("6.5") < stands("9")
        assert stands("6.5") == pytest.approx(0.87, abs=0.002)


@pytest.mark.usefixtures("with_plug")
def test_the_strap_is_dragged_typed_and_cleared(open_page):
    """The heat mark follows the finger along the strap and the number; "Not looked at" takes it away again."""
    page = open_page("/plug/C1")
    page.get_by_text("Everything else that was seen").click()
    typed = page.get_by_role("textbox", name="Heat mark on the ground strap")
    mark = page.locator(".strap-setter [data-part=mark]")
    expect(mark).to_have_attribute("visibility", "hidden")

    def along(share):
        return page.evaluate(
            """(share) => {
                const way = document.querySelector('.strap-setter [data-part=way]');
                way.scrollIntoView({block: 'center'});
                const at = way.getPointAtLength(share * way.getTotalLength());
                const on = new DOMPoint(at.x, at.y).matrixTransform(way.getScreenCTM());
                return [on.x, on.y];
            }""",
            share,
        )

    drag(page, along(0.1), along(0.8))
    expect(typed).to_have_value(re.compile(r"^0\.(79|8|81)$"))
    expect(page.locator("[data-key='strap mark to the weld']")).to_be_visible()
    typed.fill("0,2")
    expect(page.locator("[data-key='strap mark to the tip']")).to_contain_text("May indicate")
    expect(mark).to_have_attribute("visibility", "visible")
    grip_at = page.evaluate(
        "(() => { const b = document.querySelector('.strap-setter .grip').getBoundingClientRect();"
        " return [b.x + b.width / 2, b.y + b.height / 2]; })()"
    )
    assert grip_at == pytest.approx(along(0.2), abs=1.0)
    page.get_by_role("button", name="Not looked at").click()
    expect(typed).to_have_value("")
    expect(mark).to_have_attribute("visibility", "hidden")


def test_by_keyboard_alone(open_page, with_plug):
    """Every part of the form is reached by Tab, each drawing is set by arrow keys, and Enter writes it down."""
    page = open_page("/plug/C1")
    expect(page.locator("#nose-preview svg")).to_be_visible()
    page.locator(".rest > summary").press("Enter")
    page.locator("#nose-preview").focus()
    page.keyboard.press("ArrowDown")
    expect(depth(page)).to_have_value("7")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("PageDown")
    expect(depth(page)).to_have_value("7.6")
    page.keyboard.press("Home")
    expect(depth(page)).to_have_value("0")
    page.keyboard.press("End")
    expect(depth(page)).to_have_value("14")
    page.keyboard.press("PageUp")
    page.locator(".strap-setter").focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")
    expect(page.get_by_role("textbox", name="Heat mark on the ground strap")).to_have_value("0.55")
    page.locator("#nose-preview").focus()
    reached = set()
    for _ in range(60):
        page.keyboard.press("Tab")
        reached.add(page.evaluate("document.activeElement.name || document.activeElement.className"))
        if page.evaluate("document.activeElement.classList.contains('save')"):
            break
    wanted = {
        "ring",
        "ring_mm",
        "view",
        "specks",
        "edge",
        "glaze",
        "blisters",
        "wet",
        "base_ring",
        "nose_colour",
    }
    assert wanted | {"strap_mark", "gap_mm", "piston_wash", "note", "setter strap-setter", "save"} <= reached
    page.keyboard.press("Enter")
    expect(page.get_by_text("of plug C1 is written down")).to_be_visible()
    last = readings(with_plug, 2)[-1]
    assert (last.ring_mm, last.strap_mark) == (13.5, 0.55)
