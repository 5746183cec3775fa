"""Another device at the door, in a real browser and under the policy that the gate sends.

The whole of 127.0.0.0/8 is this machine; here 127.0.0.2 stands for the network, where nobody is at home.
"""

import sys
import time
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import expect

from dashboard.app import create_app
from dashboard.gate import Door, pins
from tests.browser.conftest import served

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(
        sys.platform != "linux", reason="on macOS only 127.0.0.1 is the loopback; tried on Linux alone"
    ),
]

PHONE = {"width": 390, "height": 844}
PIN = "27182845"
SPAN = """(() => {
    const range = document.querySelector(".js-plotly-plot")?._fullLayout?.xaxis.range ?? [0, 0];
    return range[1] - range[0];
})()"""


@pytest.fixture
def network(folder):
    """Return the dashboard's address on the network, served behind the PIN."""
    pins.new_pin(folder, PIN)
    door = Door(folder, urls=("http://127.0.0.2/",))

    def at_home(_peer, local):
        return str(local) == "127.0.0.1"

    with served(create_app(folder, door, on_this_machine=at_home), ("127.0.0.2", "127.0.0.1")) as at:
        yield at


@pytest.fixture
def device(browser, network):  # noqa: ARG001  # the server has to outlive its pages
    """Return a function that gives a new device's page; nothing may go elsewhere or against the policy."""
    contexts, wrong = [], []

    def new(**about):
        context = browser.new_context(viewport=PHONE, **about)
        contexts.append(context)
        context.route("**/*", lambda route: _let_through(route, wrong))
        page = context.new_page()
        page.set_default_timeout(20_000)
        page.on("pageerror", lambda error: wrong.append(f"page error: {error}"))
        page.on("console", lambda said: wrong.append(said.text) if _is_wrong(said) else None)
        return page

    new.wrong = wrong
    yield new
    for context in contexts:
        context.close()
    assert not wrong


def _let_through(route, wrong):
    if urlsplit(route.request.url).hostname in {"127.0.0.1", "127.0.0.2", None}:
        route.continue_()
    else:
        wrong.append(f"went to {route.request.url}")
        route.abort()


def _is_wrong(said):
    # the browser itself writes a line for each answer of 401, 403 and 429, which are what is tested here
    return said.type == "error" and "the server responded with a status of 4" not in said.text


def until(page, holds):
    """Wait until something holds; the browser's own waiting needs an eval, which the policy forbids."""
    end = time.monotonic() + 20.0
    while not holds() and time.monotonic() < end:
        page.wait_for_timeout(50)
    assert holds()


def come_in(page, at, pin=PIN):
    """Open the dashboard's address and give a PIN."""
    page.goto(at + "/")
    page.get_by_label("PIN").fill(pin)
    page.get_by_role("button", name="Open").click()


def test_a_wrong_pin_then_the_right_one(device, network):
    """A wrong PIN is told so in words and opens nothing; the right one opens the dashboard."""
    page = device()
    come_in(page, network, "31415926")
    expect(page.get_by_role("alert")).to_contain_text("You can try again now")
    page.keyboard.type(PIN)  # the field has the focus
    page.keyboard.press("Enter")

    expect(page.get_by_role("heading", name="Sessions")).to_be_visible()
    (cookie,) = page.context.cookies()
    assert (cookie["httpOnly"], cookie["sameSite"], cookie["path"]) == (True, "Strict", "/")
    assert page.evaluate("document.cookie") == ""


def test_after_five_the_page_says_when(device, network):
    """After five wrong PINs the page says how long to wait, and the right one does not open either."""
    page = device()
    page.goto(network + "/door")
    for pin in ["31415926"] * 5 + [PIN]:
        page.get_by_label("PIN").fill(pin)
        page.get_by_role("button", name="Open").click()
        expect(page.get_by_role("alert")).to_be_visible()

    expect(page.get_by_role("alert")).to_contain_text("You can try again in")
    assert page.context.cookies() == []


def test_pages_and_callbacks_work_under_the_policy(device, network):
    """List, sheet, drawings, traces, zoom, light and dark, and the tray's form all work under the policy."""
    page = device()
    come_in(page, network)
    page.get_by_role("link", name="Hollow Lane", exact=True).click()
    expect(page.get_by_role("img", name="Cylinder 1, plug B1")).to_be_visible()
    expect(page.locator(".traces .trace.scatter").first).to_be_visible()
    until(page, lambda: page.evaluate(SPAN) > 200)
    page.get_by_role("button", name="Closer").click()
    until(page, lambda: page.evaluate(SPAN) < 150)
    page.get_by_role("button", name="Dark").click()
    expect(page.get_by_role("button", name="Light")).to_be_visible()
    page.goto(network + "/session/2/plugs")
    page.get_by_label("Label", exact=True).fill("C1")
    page.get_by_role("group", name="It is", exact=True).get_by_text("new", exact=True).click()
    page.get_by_role("button", name="Fit it").click()

    expect(page.get_by_text("Plug C1 is in cylinder")).to_be_visible()


def test_an_inline_script_does_not_run(device, network):
    """A script or a handler that somebody smuggled into a page is not run by the browser."""
    page = device()
    come_in(page, network)
    expect(page.get_by_role("heading", name="Sessions")).to_be_visible()
    page.evaluate("""() => {
        const picture = document.createElement("img");
        picture.setAttribute("onerror", "window.ran = true");
        picture.src = "data:,no picture";
        document.body.append(picture);
    }""")
    until(page, lambda: device.wrong)

    assert page.evaluate("window.ran ?? null") is None
    assert ["Content Security Policy" in complaint for complaint in device.wrong] == [True]
    device.wrong.clear()


def test_without_scripts_the_door_opens_too(device, network):
    """The door needs no script: with scripts off a PIN is told wrong or leads in, and one can log out."""
    page = device(java_script_enabled=False)
    come_in(page, network, "31415926")
    expect(page.get_by_role("alert")).to_be_visible()
    come_in(page, network)
    page.goto(network + "/door")
    page.get_by_role("button", name="Log out").click()

    expect(page.get_by_label("PIN")).to_be_visible()


def test_this_machines_own_page_makes_a_pin_and_logs_out(device, network):
    """The own page shows a new PIN and the address as a QR code; that PIN opens, and the page logs devices out."""
    home = device()
    home.goto(network.replace("127.0.0.2", "127.0.0.1") + "/door")
    expect(home.get_by_role("img", name="QR code of http://127.0.0.2/")).to_be_visible()
    home.get_by_role("button", name="Make a new PIN").click()
    shown = home.locator(".pin").inner_text()
    phone = device()
    come_in(phone, network, PIN)
    expect(phone.get_by_role("alert")).to_be_visible()
    come_in(phone, network, shown)
    expect(phone.get_by_role("heading", name="Sessions")).to_be_visible()
    home.reload()
    expect(home.get_by_text("1 let in")).to_be_visible()
    home.get_by_role("button", name="Log every device out").click()
    expect(home.get_by_text("0 let in")).to_be_visible()
    phone.goto(network + "/session/1")

    expect(phone.get_by_label("PIN")).to_be_visible()


@pytest.mark.parametrize("width", [320, 390, 1440])
def test_the_door_fits_its_window(device, network, width):
    """Neither of the door's pages has to be pushed sideways, and what is tapped is large."""
    for host in ("127.0.0.1", "127.0.0.2"):
        page = device()
        page.set_viewport_size({"width": width, "height": 844})
        page.goto(network.replace("127.0.0.2", host) + "/door")
        expect(page.get_by_role("button").first).to_be_visible()

        assert page.evaluate("document.documentElement.scrollWidth - window.innerWidth") <= 0
        assert page.get_by_role("button").first.bounding_box()["height"] >= 44
