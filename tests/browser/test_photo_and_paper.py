"""A photograph on the reading form, the labels on paper, and the ring scale's own page."""

import re

import pytest
from PIL import Image
from playwright.sync_api import expect

from bridge.logbook import Logbook
from tests.bridge.plug.photo.photo_scenes import Ring, Scene, render
from tests.browser.hands import PHONE, depth, drag

pytestmark = pytest.mark.browser


@pytest.mark.usefixtures("with_plug")
def test_a_photograph_is_marked_and_taken_over(open_page, tmp_path):
    """A picture is read, its marks moved by finger and key are read anew, and its depth goes over into the form."""
    scene = Scene(seed=4, angle=90.0, ring=Ring(7.0, dark=45.0))
    Image.fromarray(render(scene).pixels).save(tmp_path / "nose.jpg", quality=92)
    page = open_page("/plug/C1", PHONE)
    page.get_by_text("Photograph", exact=True).click()
    page.locator("#photo-file").set_input_files(tmp_path / "nose.jpg")
    result = page.locator(".photo-result")
    expect(result).to_contain_text("A ring is seen")
    first = result.inner_text()
    seat = page.locator("[data-mark=seat]")
    box = seat.locator(".grip").bounding_box()
    middle = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    drag(page, middle, (middle[0], middle[1] + 25))
    expect(result).not_to_have_text(first)
    second = result.inner_text()
    seat.focus()
    for _ in range(20):
        page.keyboard.press("ArrowUp")
    expect(result).not_to_have_text(second)
    take = page.get_by_role("button", name=re.compile("over into the form"))
    depth_said = re.search(r"Take ([\d.]+) mm", take.inner_text())[1]
    take.click()
    expect(depth(page)).to_have_value(depth_said)
    expect(page.get_by_text("your own reading, which always goes first")).to_be_visible()
    assert abs(float(depth_said) - 7.0) < 1.5


@pytest.mark.usefixtures("with_plug")
def test_a_file_that_is_no_picture(open_page, tmp_path):
    """A letter chosen as a picture is refused in one sentence, and the form keeps what it holds."""
    (tmp_path / "letter.jpg").write_text("dear sir")
    page = open_page("/plug/C1", PHONE)
    depth(page).fill("6.6")
    page.get_by_text("Photograph", exact=True).click()
    page.locator("#photo-file").set_input_files(tmp_path / "letter.jpg")
    expect(page.locator("[data-part=photo-said] .refused")).to_contain_text("is no picture that can be read")
    expect(depth(page)).to_have_value("6.6")


def test_labels_fit_an_a4_page(open_page, with_plug):
    """Printed on A4, twenty labels stand on one page, four in a row, each with a code at least 25 mm wide."""
    with Logbook.open(with_plug, write=True) as logbook:
        logbook.new_plugs([f"N{number}" for number in range(1, 18)])
    page = open_page("/labels")
    expect(page.locator(".plug-label")).to_have_count(20)
    pdf = page.pdf(prefer_css_page_size=True)
    page.emulate_media(media="print")
    page.set_viewport_size(
        {"width": 718, "height": 1047}
    )  # 190 by 277 mm, the page without its edges, at 96 dpi
    tops = page.evaluate(
        "[...document.querySelectorAll('.plug-label')].map(e => e.getBoundingClientRect().top)"
    )
    code = page.locator("svg.code").first.bounding_box()

    assert len(re.findall(rb"/Type\s*/Page\b", pdf)) == 1
    assert re.search(rb"/MediaBox\s*\[0 0 59[45][\d.]* 84[12][\d.]*\]", pdf)
    assert len({round(top) for top in tops}) == 5
    assert code["width"] / 96 * 25.4 >= 25.0
    expect(page.get_by_role("heading", name="Labels")).to_be_hidden()


def test_the_scale_page_stands_before_its_pairs(open_page):
    """The ring scale's page has its drawing at once, and the pairs come into it by themselves."""
    page = open_page("/bike/Hollow%20Lane%20400/scale", PHONE)
    expect(page.get_by_role("img", name="Ring scale of a nose of 14 mm")).to_be_visible()
    expect(page.locator(".statement")).to_contain_text("1 valid pair of 1 session")
    expect(page.get_by_text("Reading the sessions")).to_be_hidden()
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
