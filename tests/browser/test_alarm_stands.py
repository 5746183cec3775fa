"""The alarm of the live page once it is raised: what keeps it up, what is heard, and a browser that keeps nothing."""

import re
import subprocess

import pytest
from playwright.sync_api import expect

from bridge.emulator import Phase
from bridge.logbook import Logbook
from tests.browser.hands import PHONE, riding, start, stop

pytestmark = pytest.mark.browser

ALARM = """(limits) => {
    localStorage.setItem("sootline-alarm", JSON.stringify(limits));
    sessionStorage.clear();
    const alarm = window.alarm = new sootlineLive.Alarm(1, {full: 95, notFull: 90});
    const column = (name, cylinder = null) => ({name, label: name, cylinder, rate: null});
    alarm.lay([column("lambda"), column("throttle"), column("egt"), column("cht_1", 1), column("cht_2", 2)]);
    alarm.about({recording: true, kind: "dyno", sensors: []});
    document.querySelector("main").prepend(alarm.banner, alarm.set);
    alarm.set.open = true;
    // rows of a tenth of a second each, from one second to another
    window.rows = (from, to, ...values) =>
        Array.from({length: Math.round((to - from) * 10)}, (_, n) => [from + n / 10, ...values]);
    window.passed = 0; // how far the page's clock has been put forward [ms]
    const clock = performance.now.bind(performance);
    performance.now = () => clock() + window.passed;
}"""
"""Puts an alarm of the page's own kind upon the page, with two heads beside one lambda and one exhaust gas."""
SPY = """() => {
    window.heard = [];
    for (const what of ["start", "stop"]) {
        const does = alarm.horn[what].bind(alarm.horn);
        alarm.horn[what] = () => {
            if (window.heard.at(-1) !== what) window.heard.push(what);
            does();
        };
    }
}"""
"""Writes down what the horn is told, each change once."""


@pytest.fixture
def alarm(open_page):
    """Return a function that opens a page with an alarm on these limits."""

    def with_limits(**limits):
        page = open_page("/live")
        page.evaluate(ALARM, {name.rstrip("_"): words for name, words in limits.items()})
        return page

    return with_limits


def said(page):
    """Return what the banner says, nothing where it is hidden."""
    return page.evaluate("alarm.banner.hidden ? '' : alarm.said.textContent")


def test_a_lost_line_does_not_end_an_alarm(alarm):
    """Raised, then no lines for an hour: it stands and says why, and goes only when lines say that all is well."""
    page = alarm(egt="700")
    page.evaluate("alarm.take(rows(0, 1, null, 0, 720, null, null), 1); alarm.look(false, 1)")
    raised = said(page)
    page.evaluate("alarm.look(true, 3); passed = 3600e3; alarm.look(true, 3603)")
    blind, values, title = said(page), page.evaluate("alarm.values.textContent"), page.title()
    page.evaluate("alarm.take(rows(3700, 3701, null, 0, 500, null, null), 3701); alarm.look(false, 3701)")
    again = said(page)
    page.evaluate("passed += 4900; alarm.take(rows(3704, 3705, null, 0, 500, null, null), 3705)")
    page.evaluate("alarm.look(false, 3705)")
    soon = said(page)
    page.evaluate("passed += 5100; alarm.take(rows(3709, 3710, null, 0, 500, null, null), 3710)")
    page.evaluate("alarm.look(false, 3710)")

    assert "Exhaust gas over 700" in raised
    assert "No lines come" not in raised
    assert "Exhaust gas over 700" in blind
    assert "No lines come: nothing says that it is over." in blind
    assert values == "last 720 °C (most 720)"
    assert title == "ALARM"
    assert again == soon == raised
    assert said(page) == ""


def test_a_burnt_sensor_does_not_end_an_alarm(alarm):
    """Over its limit and then dead, silent or without a reading, a thermocouple keeps its alarm till it reads again."""
    page = alarm(egt="700")
    page.evaluate("alarm.take(rows(0, 1, null, 0, 720, null, null), 1); alarm.look(false, 1)")
    raised = said(page)
    for row, until in (("null, 0, null", 20), ("null, 0, false", 40)):
        for second in range(until - 19, until):
            page.evaluate(
                f"alarm.take(rows({second}, {second + 1}, {row}, null, null), {second + 1});"
                f"passed += 1000; alarm.look(false, {second + 1})"
            )
        assert said(page) == raised
    page.evaluate("alarm.take(rows(40, 41, null, 0, 500, null, null), 41); alarm.look(false, 41)")
    page.evaluate("passed += 6000; alarm.look(false, 41)")

    assert "Exhaust gas over 700" in raised
    assert said(page) == ""


def test_a_closed_throttle_ends_the_alarm_of_lambda(alarm):
    """Lean at full throttle, then closed: the coast is off the sensor's scale, and the alarm goes after its 5 s."""
    page = alarm(**{"lambda": "0.95"})
    page.evaluate("alarm.take(rows(0, 2, 1.1, 100, null, null, null), 2); alarm.look(false, 2)")
    raised = said(page)
    page.evaluate(
        "alarm.take(rows(2, 3, false, 100, null, null, null), 3); passed += 6000; alarm.look(false, 3)"
    )
    off_scale = said(page)
    page.evaluate("alarm.take(rows(3, 4, false, 0, null, null, null), 4); alarm.look(false, 4)")
    page.evaluate("passed += 6000; alarm.look(false, 4)")

    assert "leaner than lambda 0.95" in raised
    assert off_scale == raised
    assert said(page) == ""


def test_a_line_lost_with_nothing_raised_raises_nothing(alarm):
    """Blind without an alarm shows no banner: the page says elsewhere that no lines come."""
    page = alarm(egt="700")
    page.evaluate("alarm.take(rows(0, 1, null, 0, 600, null, null), 1); alarm.look(true, 3)")

    assert said(page) == ""
    assert "BLIND" in page.evaluate("alarm.summary.textContent")


def test_heads_over_their_limit(alarm):
    """Each head is held against the limit by itself, at any throttle; one on it or with an odd reading is not over."""
    page = alarm(head="180")
    page.evaluate("alarm.take(rows(0, 1, null, 0, null, 180, 170), 1)")
    on_it = said(page)
    page.evaluate("alarm.take(rows(1, 1.1, null, 0, null, 175, 240), 1.1)")
    odd = said(page)
    page.evaluate("alarm.take(rows(1.1, 1.2, null, 0, null, 175, 170), 1.2)")
    page.evaluate("alarm.take(rows(1.2, 2, null, 0, null, 175, 181), 2)")
    second = said(page)
    values = page.evaluate("alarm.values.textContent")
    page.evaluate("alarm.take(rows(2, 3, null, 0, null, 190, 181), 3)")

    assert on_it == odd == ""
    assert second.endswith("Head of cylinder 2 over 180 °C.")
    assert values == "2: 181 °C (most 181)"
    assert said(page).endswith("Head of cylinders 1 and 2 over 180 °C.")


def test_the_horn_is_told(alarm):
    """It sounds with an alarm, also a blind one, is still once silenced or over, and sounds for the next one."""
    page = alarm(head="180")
    page.evaluate(SPY)

    def told(script):
        page.evaluate(f"window.heard = []; {script}")
        return page.evaluate("heard"), bool(said(page))

    def heads(start_s, end_s, first):
        taken = f"alarm.take(rows({start_s}, {end_s}, null, 0, null, {first}, 150), {end_s})"
        return f"{taken}; alarm.look(false, {end_s})"

    assert told(heads(0, 1, 150)) == (["stop"], False)
    assert told(heads(1, 2, 190)) == (["start"], True)
    assert told("passed += 60e3; alarm.look(true, 62)") == (["start"], True)
    assert told("alarm.quiet.click(); alarm.look(true, 62)") == (["stop"], True)
    assert told(heads(62, 63, 150)) == (["stop"], True)
    assert told("passed += 6e3; " + heads(68, 69, 150)) == (["stop"], False)
    assert told(heads(69, 70, 190)) == (["start"], True)


def test_the_sound_s_trial_is_heard_and_its_button_says_what_is_so(alarm):
    """Turned on, it is heard for half a second, whatever lines come; suspended by the browser it is said to be off."""
    page = alarm(head="180")
    page.evaluate(SPY)
    page.evaluate("setInterval(() => alarm.show(), 10)")  # as each batch of lines does
    page.get_by_role("button", name="Sound is off").click()
    page.wait_for_function("window.heard.includes('start') && alarm.horn.tone")
    began = page.evaluate("performance.now()")
    page.wait_for_function("heard.at(-1) === 'stop' && !alarm.horn.tone", polling=10)
    lasted_ms = page.evaluate("performance.now()") - began
    expect(page.get_by_role("button", name="Sound is on", pressed=True)).to_be_visible()
    page.evaluate("alarm.horn.context.suspend()")
    expect(page.get_by_role("button", name="Sound is off", pressed=False)).to_be_visible()
    page.get_by_role("button", name="Sound is off").click()
    expect(page.get_by_role("button", name="Sound is on", pressed=True)).to_be_visible()
    page.get_by_role("button", name="Sound is on").click()
    expect(page.get_by_role("button", name="Sound is off", pressed=False)).to_be_visible()

    assert 250 < lasted_ms < 1500
    assert page.evaluate("alarm.horn.context === null")


def test_a_silenced_alarm_is_silent_after_a_trial(alarm):
    """The sound turned on while a silenced alarm stands is heard for its trial, and no longer."""
    page = alarm(head="180")
    page.evaluate(SPY)
    page.evaluate("alarm.take(rows(0, 1, null, 0, null, 190, 150), 1); alarm.quiet.click()")
    page.get_by_role("button", name="Sound is off").click()
    page.wait_for_function("alarm.horn.tone")
    page.wait_for_function("!alarm.horn.tone")

    assert "Head of cylinder 1 over" in said(page)
    assert page.evaluate("alarm.horn.ready")


REFUSED = """() => {
    for (const name of ["localStorage", "sessionStorage"])
        Object.defineProperty(window, name, {
            configurable: true,  // as a browser's own are
            get() { throw new DOMException(`${name} is refused`, "SecurityError"); },
        });
}"""


@pytest.fixture
def at_full_throttle(monkeypatch, folder):
    """Return the port of a virtual logger at full throttle; the recorder is ended where a test has left it running."""
    with riding(monkeypatch, (Phase(60.0, 100.0, 9000.0, rise=0.1),)) as port:
        yield port
    with Logbook.open(folder, write=False) as logbook:
        pids = [logbook.recorder(number) for number in logbook.unfinished()]
    for pid in filter(None, pids):
        subprocess.run(["kill", "-TERM", str(pid)], check=False)


def test_a_browser_that_keeps_nothing_has_the_whole_live_page(open_page, at_full_throttle):
    """With its storage refused the page shows numbers, takes a preference and a limit, alarms, and stops."""
    page = open_page("/live", PHONE, before=REFUSED)
    start(page, at_full_throttle)
    expect(page.locator("[data-channel=rpm]")).to_have_text(re.compile(r"^\d"))
    page.get_by_role("button", name="AFR").click()
    page.get_by_text("Alarm on a dynamometer: off").click()
    page.get_by_label("This recording is on a dynamometer, never while riding").check()
    page.get_by_label("Exhaust gas over").fill("150")
    expect(page.locator(".alarm-banner").get_by_role("alert")).to_contain_text("over 150")
    stop(page)
    expect(page.get_by_role("link", name="The sheet of session 3")).to_be_visible()
