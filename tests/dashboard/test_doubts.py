"""What stands beside a measured number: how sure it is, what makes that up, what fools it."""

import json
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from dash import Dash

from bridge.align import DelayFit, Example
from bridge.bands import bands
from bridge.budget import Budget
from bridge.budget import Component as Doubt
from bridge.logbook import Logbook
from bridge.model import Setup
from bridge.physics.fooled import TWO_STROKE_READS, what_fools
from dashboard.components import budgets, delays, doubts, states
from dashboard.components.bandmaps import cylinder_cells
from dashboard.components.bandtables import NOTHING, shares_in_words
from dashboard.components.parts import as_sentence
from dashboard.data import Source
from dashboard.pages import session
from tests.dashboard.test_pages import text_of

WHOLE = Budget((Doubt("sampling", 0.003, "measured"), Doubt("the sensor's own accuracy", 0.004, "stated")))


def words(part):
    """Return a component as text."""
    return json.dumps(part, default=lambda one: one.to_plotly_json(), ensure_ascii=False)


def test_give_or_take_is_the_root_of_the_squares():
    """The line says the combined doubt, 0.005 of 0.003 and 0.004, and the 95 % interval beside it."""
    text = words(budgets.opened(WHOLE, 0.872, what="Measured"))  # closed form, computed by hand

    assert "Measured 0.872, give or take 0.005" in text
    assert "from 0.862 to" in text
    assert "0.882" in text


def test_the_largest_doubt_stands_first():
    """The one that decides is the first row and has the whole bar."""
    text = words(budgets.table(WHOLE))

    assert text.index("own accuracy") < text.index("sampling")
    assert '"width": "100.0%"' in text
    assert '"width": "75.0%"' in text
    assert "your own word" in text


def test_a_doubt_is_never_printed_as_nothing():
    """What is too small for four decimals is said to be so small."""
    assert budgets.small(0.00001) == "< 0.0001"
    assert budgets.small(0.0) == "0.0000"
    assert budgets.small(None) == "—"


@pytest.mark.parametrize("strokes", [2, 4])
def test_what_fools_has_its_way_and_size(strokes):
    """Each cause stands with the way that the sensor then reads and by how much, and its sentence opens below."""
    found = what_fools(strokes)
    text = words(doubts.fools(found))

    assert all(one.cause in text for one in found)
    assert text.count("leaner") >= sum(one.direction == "lean" for one in found)
    assert all(json.dumps(as_sentence(one.sentence), ensure_ascii=False) in text for one in found)


def test_nothing_to_fool_is_nothing():
    """Without causes there is no table."""
    assert doubts.fools(()) is None


def test_shares_are_told_the_largest_first():
    """Shares are percent, the largest first, and what has none is left out."""
    assert (
        shares_in_words({"pilot": 0.001, "main": 0.7, "needle (taper)": 0.299})
        == "main 70 %, needle (taper) 30 %"
    )


def test_a_command_is_told_as_a_page():
    """What the bridge says by command is said by the page that does it, and what has no page stays."""
    assert as_sentence("no plug is in; fit them first by 'sootline plug fit'") == (
        "No plug is in; fit them first on the page Plugs."
    )
    assert "'sootline setup set'" in as_sentence("say it by 'sootline setup set'")


def test_the_sheet_has_the_budget_and_what_fools(logbook_folder):
    """Beside each measured number stand how sure it is and what would fool it."""
    text = text_of(session.register(Dash("test"), Source(logbook_folder)), "/session/1")

    assert text.count("What would fool the sensor") == 2
    assert text.count("give or take") >= 4
    assert "The same as a table" in text
    assert "How sure each band is, and why" in text


def test_a_two_stroke_is_marked_at_its_number(logbook_folder):
    """An uncalibrated two-stroke's measured lambda has its mark in the row below it; a four-stroke has none."""
    found = Source(logbook_folder).picture(1).comparison.cylinders[0]
    text = words(doubts.mark(replace(found, reads=TWO_STROKE_READS)))

    assert as_sentence(TWO_STROKE_READS) in text
    assert doubts.mark(replace(found, reads=None)) is None


def test_a_band_says_what_the_bridge_says(logbook_folder):
    """Every band that is drawn is one that the bridge gave, with its mean, and idle and overrun apart."""
    found = Source(logbook_folder).picture(1).bands
    cells = dict(cylinder_cells(found))["Cylinder 1"]
    given = found.cells.filter(cylinder=1)

    assert sum(cell.lambda_ is not None for cell in cells) == given["lambda_mean"].count()
    assert all(cell.apart == cell.circuit for cell in cells if cell.circuit in ("idle", "overrun"))
    assert all("too little" in cell.says for cell in cells if cell.lambda_ is None and cell.seconds)


def test_hand_made_edges_fill_the_travel(logbook_folder):
    """With other edges than the circuits' own, the rows that nobody rode still make up the whole travel."""
    with Logbook.open(logbook_folder, write=False) as logbook:
        found = bands(logbook.run(1), throttle_edges=[0.0, 10.0, 30.0, 70.0, 100.0])
    rows = {cell.throttle for _, cells in cylinder_cells(found)[:1] for cell in cells if cell.throttle}

    assert sum(high - low for low, high in rows) == pytest.approx(100.0)


def test_an_empty_column_is_left_out(logbook_folder):
    """What the log has not, such as head temperature, has no column of dashes."""
    text = text_of(session.register(Dash("test"), Source(logbook_folder)), "/session/1")

    assert "Head, " not in text
    assert "Exhaust, " in text
    assert NOTHING == "—"


def fitted(found, refused=None):
    """Return bands as a fit of the delay leaves them."""
    axis = np.linspace(0.0, 0.6, 31)
    example = Example(np.arange(0.0, 5.0, 0.1), np.full(50, 0.9), np.full(50, 0.91))
    fit = DelayFit(
        lag_axis_s=axis,
        misfit=1.0 + (axis - 0.17) ** 2,
        best_s=0.17,
        low_s=0.15,
        high_s=0.19,
        steps=14,
        explained=0.83,
        per_channel={"lambda_1": 0.168, "lambda_2": 0.173},
        example=example,
        refused=refused,
    )
    delay = replace(found.delay, from_="geometry" if refused else "ride", note=refused)
    return replace(found, fit=fit, delay=delay)


def test_the_ride_says_how_it_was_found(logbook_folder):
    """A delay from the ride has its figure with the interval, the stretch, and each sensor's own in the table."""
    picture = Source(logbook_folder).picture(1)
    text = words(delays.section(replace(picture, bands=fitted(picture.bands))))

    assert "over 14 steps of the throttle" in text
    assert "the least at 0.170 s, 95 % interval 0.150 to 0.190 s" in text
    assert "seen and explained" in text
    assert "By sensor 2 alone" in text


def test_a_refused_fit_says_why(logbook_folder):
    """Where the ride cannot tell, the sentence why stands there, and no interval is claimed."""
    why = "the ride has 2 steps of the throttle, too few to tell the delay by"
    picture = Source(logbook_folder).picture(1)
    text = words(delays.section(replace(picture, bands=fitted(picture.bands, why))))

    assert as_sentence(why) in text
    assert "no delay fits clearly best" in text
    assert "0.150 to 0.190" not in text
    assert "The ride itself shows it" not in text


def test_no_fit_is_no_figure(logbook_folder):
    """Where nothing was fitted the delay stands with its parts, without an empty figure."""
    picture = Source(logbook_folder).picture(1)
    text = words(delays.section(replace(picture, bands=replace(picture.bands, fit=None))))

    assert "Dead time" in text
    assert "by the geometry of pipe and engine" in text
    assert "data-svg" not in text


def test_odd_weather_is_questioned_at_the_top(logbook_folder):
    """A pressure that cannot be station pressure stands as a caution with the day's facts; air has its density."""
    weather = {"air_temp_c": 20.0, "air_pressure_hpa": 1013.0, "humidity_percent": 50.0}
    with Logbook.open(logbook_folder, write=True) as logbook:
        logbook.set_setup(1, Setup.model_validate({"weather": {**weather, "altitude_m": 1500.0}}))
        logbook.set_setup(2, Setup.model_validate({"weather": {**weather, "altitude_m": 30.0}}))
    page, source = session.register(Dash("test"), Source(logbook_folder)), Source(logbook_folder)
    high, low = (text_of(page, f"/session/{number}") for number in (1, 2))

    assert "facts caution-line" in high
    assert "facts caution-line" not in low
    assert "1.199 kg/m" in low  # closed form, computed by hand: moist air of 20 Cel, 1013 hPa, 50 %
    assert source.picture(1).comparison.weather


def test_seconds_of_each_state_are_on_the_sheet(logbook_folder):
    """The key to the strip names each state that came up with its seconds, which add up to the session."""
    picture = Source(logbook_folder).picture(1)
    text = words(states.key(picture.bands))

    assert '"steady"' in text
    assert "it counts in the bands" in text
    assert sum(picture.bands.state_seconds.values()) == pytest.approx(picture.run.session.seconds, abs=0.5)
    assert states.key(None) is None


def test_the_strip_is_the_session(logbook_folder):
    """The stretches cover the session without overlap and hold as much steady running as the bands say."""
    source = Source(logbook_folder)
    found, told = source.states(1), source.picture(1).bands.state_seconds
    steady = sum(one.to_s - one.from_s for one in found if one.state == "steady")

    assert steady == pytest.approx(told["steady"], abs=1.0)
    assert all(a.to_s <= b.from_s + 1e-9 for a, b in pairwise(found))
