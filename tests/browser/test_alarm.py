"""The alarm of the live page, on a dynamometer: when it is raised, when not, and that it says what it cannot see."""

import os
import re
import signal
import subprocess

import pytest
from playwright.sync_api import expect

from bridge.emulator import Phase
from bridge.logbook import Logbook
from bridge.model import Setup
from tests.browser.hands import PHONE, riding, start

pytestmark = pytest.mark.browser

DYNO = "This recording is on a dynamometer, never while riding"


@pytest.fixture
def pulling(monkeypatch):
    """Return the port of a virtual logger: part throttle, then full throttle until the end."""
    script = (Phase(9.0, 30.0, 4500.0), Phase(60.0, 100.0, 9000.0, rise=0.1))
    with riding(monkeypatch, script) as port:
        yield port


@pytest.fixture
def ended(folder):
    """End the recorder that a test has left running."""
    yield
    with Logbook.open(folder, write=False) as logbook:
        pids = [logbook.recorder(number) for number in logbook.unfinished()]
    for pid in filter(None, pids):
        subprocess.run(["kill", "-TERM", str(pid)], check=False)


def test_the_alarm_waits_for_full_throttle_and_cannot_be_missed(open_page, pulling, ended):
    """Off until it is said to be a dynamometer; quiet at part throttle; then on screen in words, and heard if asked."""
    del ended
    page = open_page("/live", PHONE)
    start(page, pulling)
    page.get_by_text("Alarm on a dynamometer: off").click()
    page.get_by_label("Lambda at full throttle leaner than").fill("0,6")
    expect(page.get_by_text("Off: it is for a dynamometer alone")).to_be_visible()
    page.get_by_label(DYNO).check()
    page.get_by_role("button", name="Sound is off").click()
    expect(page.get_by_role("button", name="Sound is on")).to_be_visible()
    expect(page.locator(".alarm-watched")).to_contain_text("leaner than 0.6 at full throttle")
    banner = page.locator(".alarm-banner")
    expect(page.locator("[data-channel=lambda_1]")).to_have_text(re.compile(r"^\d"))
    expect(page.locator("[data-channel=throttle]")).to_have_text("30")
    expect(banner).to_be_hidden()

    expect(page.locator("[data-channel=throttle]")).to_have_text("100")
    expect(banner).to_be_visible()
    expect(banner.get_by_role("alert")).to_contain_text(
        "Cylinders 1 and 2 leaner than lambda 0.6 at full throttle"
    )
    expect(page).to_have_title("ALARM")
    silence = banner.get_by_role("button", name="Silence")
    silence.click()
    expect(silence).to_be_hidden()
    expect(banner).to_be_visible()
    page.get_by_label("Lambda at full throttle leaner than").fill("1.5")
    expect(banner).to_be_hidden()
    page.wait_for_timeout(1500)
    expect(banner).to_be_hidden()


def test_heat_has_a_limit_of_its_own_and_limits_stay_on_the_device(open_page, pulling, ended):
    """Exhaust gas over its limit alarms at any throttle; what cannot be watched is said; a reload keeps the limits."""
    del ended
    page = open_page("/live")
    start(page, pulling)
    page.get_by_text("Alarm on a dynamometer: off").click()
    page.get_by_label(DYNO).check()
    page.get_by_label("Exhaust gas over").fill("90")
    expect(page.locator("#alarm-egt-amiss")).to_contain_text("No limit: give 100 to 1300")
    page.get_by_label("Head temperature over").fill("150")
    expect(page.locator(".alarm-watched")).to_contain_text("Not watched: head temperature is not recorded")
    page.get_by_label("Exhaust gas over").fill("150")
    expect(page.locator(".alarm-banner").get_by_role("alert")).to_contain_text(
        "Exhaust gas of cylinders 1 and 2 over 150"
    )

    page.goto(page.url)
    expect(page.get_by_text(re.compile("Alarm on a dynamometer"))).to_be_visible()
    assert page.get_by_label("Exhaust gas over").input_value() == "150"


def test_only_a_recording_s_own_word_makes_it_a_dynamometer(open_page, pulling, ended, folder):
    """A bike's last day on the dynamometer arms no alarm on the next recording; its own kind does."""
    del ended
    with Logbook.open(folder, write=True) as logbook:
        logbook.set_setup(2, Setup(kind="dyno"))
    page = open_page("/live")
    start(page, pulling)
    with Logbook.open(folder, write=False) as logbook:
        assert logbook.session(3).kind == "dyno"  # taken over
    page.get_by_text("Alarm on a dynamometer: off").click()
    expect(page.get_by_label(DYNO)).not_to_be_checked()
    with Logbook.open(folder, write=True) as logbook:
        logbook.set_setup(3, Setup(kind="dyno"))

    expect(page.get_by_label(DYNO)).to_be_checked()
    with Logbook.open(folder, write=True) as logbook:
        logbook.set_setup(3, Setup(kind="practice"))
    expect(page.get_by_label(DYNO)).not_to_be_checked()


def test_an_alarm_that_sees_nothing_says_so(open_page, pulling, ended, folder):
    """Where no lines come it is blind, in words; when they come again it watches again."""
    del ended
    page = open_page("/live")
    start(page, pulling)
    page.get_by_text("Alarm on a dynamometer: off").click()
    page.get_by_label(DYNO).check()
    page.get_by_label("Exhaust gas over").fill("1200")
    summary = page.locator(".alarm-set summary")
    expect(summary).to_have_text("Alarm on a dynamometer: watching")
    with Logbook.open(folder, write=False) as logbook:
        pid = logbook.recorder(3)
    os.kill(pid, signal.SIGSTOP)
    try:
        expect(summary).to_have_text("Alarm on a dynamometer: BLIND")
        expect(page.locator(".alarm-watched")).to_contain_text("it can see nothing")
    finally:
        os.kill(pid, signal.SIGCONT)
    expect(summary).to_have_text("Alarm on a dynamometer: watching")


# rows as the stream has them: [s, lambda, throttle, exhaust gas]; one every 0.1 s, the clock at the last one
FULL = [[n / 10, 0.95, 100, 600] for n in range(12)]


def held_against(page, rows, *, limits, state="ready", kind="dyno", now=None):
    """Give rows to an alarm of the page's own kind; return what its banner says, nothing where it is hidden."""
    return page.evaluate(
        """([rows, limits, state, kind, now]) => {
            localStorage.setItem("sootline-alarm", JSON.stringify(limits));
            sessionStorage.clear();
            const alarm = new sootlineLive.Alarm(1, {full: 95, notFull: 90});
            const column = (name, label) => ({name, label, cylinder: null, rate: null});
            alarm.lay([column("lambda", "Lambda"), column("throttle", "Throttle"), column("egt", "Exhaust gas")]);
            alarm.about({recording: true, kind, sensors: [{part: "lambda", state}]});
            alarm.take(rows, now ?? rows[rows.length - 1][0]);
            alarm.look(false, now ?? rows[rows.length - 1][0]);
            const found = [alarm.banner.hidden ? "" : alarm.said.textContent, alarm.watched.textContent];
            alarm.close();
            return found;
        }""",
        [rows, limits, state, kind, now],
    )


def changed(rows, **columns):
    """Return rows with other values: ``lambda_``, ``throttle`` or ``egt``, each a function of the row's number."""
    places = {"lambda_": 1, "throttle": 2, "egt": 3}
    made = [list(row) for row in rows]
    for name, value in columns.items():
        for n, row in enumerate(made):
            row[places[name]] = value(n)
    return made


@pytest.mark.parametrize(
    ("rows", "raised"),
    [
        pytest.param(FULL, True, id="leaner at full throttle"),
        pytest.param(changed(FULL, lambda_=lambda _: 0.89), False, id="richer than the limit"),
        pytest.param(changed(FULL, throttle=lambda _: 60), False, id="part throttle"),
        pytest.param(FULL[:6], False, id="full throttle has not lasted long enough"),
        pytest.param(changed(FULL, lambda_=lambda n: 0.95 if n == 9 else 0.89), False, id="one odd reading"),
        pytest.param(changed(FULL, lambda_=lambda n: None if n % 2 else 0.95), True, id="a slower sensor"),
        pytest.param(changed(FULL, lambda_=lambda _: False), False, id="outside the limits of any reading"),
        pytest.param(changed(FULL, lambda_=lambda _: 2.5), True, id="so lean that it may be a misfire"),
        pytest.param(changed(FULL, throttle=lambda n: 92 if n > 1 else 100), True, id="a hand that trembles"),
    ],
)
def test_when_the_mixture_raises_it(open_page, rows, raised):
    """Leaner than the limit, at full throttle that has lasted, for longer than a reading; nothing else."""
    said, _ = held_against(open_page("/live"), rows, limits={"lambda": "0.9"})

    assert ("The engine leaner than lambda 0.9 at full throttle" in said) == raised


def test_heat_raises_it_at_any_throttle(open_page):
    """Exhaust gas over its limit with the throttle shut; under it nothing."""
    page = open_page("/live")
    shut = changed(FULL, throttle=lambda _: 0, egt=lambda _: 720)

    assert "Exhaust gas over 700" in held_against(page, shut, limits={"egt": "700"})[0]
    assert held_against(page, shut, limits={"egt": "730"})[0] == ""


def test_what_it_does_not_watch_it_says(open_page):
    """A sensor that is not ready or has no reading, a ride, rows of long ago: no alarm, and the reason in words."""
    page = open_page("/live")
    limits = {"lambda": "0.9"}
    warming = held_against(page, FULL, limits=limits, state="warming")
    silent = held_against(page, changed(FULL, lambda_=lambda _: None), limits=limits)
    ride = held_against(page, FULL, limits=limits, kind="practice")
    past = held_against(page, FULL, limits=limits, now=60.0)
    head = held_against(page, FULL, limits={"head": "180"})

    assert [one[0] for one in (warming, silent, ride, past, head)] == [""] * 5
    assert "lambda is warming" in warming[1]
    assert "lambda has no reading" in silent[1]
    assert "never for riding" in ride[1]
    assert "written down as practice" in ride[1]
    assert "head temperature is not recorded" in head[1]
