"""The forms for a sensor's check and for an exhaust-gas analysis, between what is typed and what is kept."""

import json
from datetime import UTC, datetime, timedelta

import pytest
from dash import Dash

from bridge.channels.sensor import SensorEvent
from bridge.errors import BadValue, UnknownThing
from bridge.logbook import Logbook
from dashboard.components import gas_form, sensor_form
from dashboard.data import Source
from dashboard.pages import sensor, session
from tests.dashboard.invented import add_session, ride
from tests.dashboard.test_pages import text_of

NOW = datetime(2026, 5, 20, 12, 0, tzinfo=UTC)
GAS = {"co2_percent": "12,1", "co_percent": "4.2", "o2_percent": "0.6", "hc_ppm": "900", "no_ppm": ""}


def words(part):
    """Return a component as text."""
    return json.dumps(part, default=lambda one: one.to_plotly_json())


def test_a_free_air_check_becomes_a_share():
    """Percent in the form are a share in the logbook, with its doubt, a comma taken for a point."""
    done = sensor_form.event({"what": "free air", "value": "20,5", "sd": "0.1", "cylinder": "2"}, NOW)

    assert done.value == pytest.approx(0.205)
    assert done.sd == pytest.approx(0.001)
    assert (done.what, done.cylinder, done.at) == ("free air", 2, NOW)


def test_a_share_typed_as_percent_is_refused():
    """Who types 0.205 where percent are asked for is told what it would be in percent."""
    with pytest.raises(BadValue, match=r"0\.205 would be 20\.5"):
        sensor_form.event({"what": "free air", "value": "0.205"}, NOW)


@pytest.mark.parametrize("what", ["free air", "offset", "trapped"])
def test_a_number_is_needed(what):
    """An event that corrects by a number is refused without one, by the name of its field."""
    with pytest.raises(BadValue, match=sensor_form.VALUES[what][0]):
        sensor_form.event({"what": what, "value": ""}, NOW)


def test_a_replacement_needs_no_number():
    """A new sensor is written down by its day alone, for all cylinders unless one is named."""
    done = sensor_form.event({"what": "replaced", "at": "2026-05-14T09:20+00:00"}, NOW)

    assert (done.value, done.sd, done.cylinder) == (None, None, None)
    assert done.at == datetime(2026, 5, 14, 9, 20, tzinfo=UTC)


def test_an_offset_keeps_its_sign():
    """A sensor that reads too rich has an offset below zero."""
    assert sensor_form.event({"what": "offset", "value": "-0.02"}, NOW).value == -0.02


@pytest.mark.parametrize("told", ["yesterday", "14.5.26", (NOW + timedelta(days=1)).isoformat()])
def test_a_time_that_is_none_is_refused(told):
    """Words that are no time, and days that have not come, are refused in a sentence."""
    with pytest.raises(BadValue, match=r"no time|not come yet"):
        sensor_form.event({"what": "replaced", "at": told}, NOW)


def test_lost_charge_is_asked_of_two_strokes_only():
    """Only a two-stroke's form has the lost charge among what may be known."""
    assert "lost charge known" in words(sensor_form.form([None], 2))
    assert "lost charge known" not in words(sensor_form.form([1, 2], 4))


def test_what_makes_lean_is_cautioned_where_it_is_typed():
    """The field for a lost charge says what too large a number does to the engine."""
    assert "run lean unseen" in words(sensor_form.fields("trapped"))


def test_an_analysis_is_handed_on():
    """What was typed goes to the logbook as numbers, nitrogen monoxide as not shown where it was left empty."""
    assert gas_form.values({**GAS, "cylinder": "1"}) == {
        "cylinder": 1,
        "co2_percent": 12.1,
        "co_percent": 4.2,
        "o2_percent": 0.6,
        "hc_ppm": 900.0,
        "no_ppm": None,
    }


def test_a_single_has_no_cylinder_to_choose():
    """Without a choice in the form the analysis is of all together."""
    assert gas_form.values(GAS)["cylinder"] is None
    assert "From the exhaust" not in words(gas_form.form([1]))


def test_a_missing_gas_is_named():
    """An analysis without one of its four gases is refused by that gas' name."""
    with pytest.raises(BadValue, match="Oxygen"):
        gas_form.values({**GAS, "o2_percent": ""})


def test_the_engine_runs_outdoors():
    """The caution about carbon monoxide stands in the form itself."""
    assert "carbon monoxide kills unnoticed" in words(gas_form.form([1, 2]))


def test_gas_stands_beside_ring_and_sensor(logbook_folder):
    """An analysis that was written down has its row and its mark on the sheet, and its lambda on its own page."""
    source = Source(logbook_folder)
    before = text_of(source_page(session, source), "/session/1")
    source.add_gas(1, cylinder=1, co2_percent=11.0, co_percent=5.0, o2_percent=0.5, hc_ppm=300.0, no_ppm=None)
    after = text_of(source_page(session, source), "/session/1")

    assert "Exhaust gas" not in before
    assert "mark-gas" in after
    assert "lambda by exhaust-gas analysis 0.8" in after
    assert "By Spindt" in text_of(source_page(sensor, source), "/session/1/sensor")


def test_a_check_changes_the_sheet_at_once(logbook_folder):
    """A stated offset, dated before the session, moves its measured lambda; nothing old is shown from a cache."""
    source = Source(logbook_folder)
    before = source.picture(1).comparison.cylinders[0].measured.mean
    source.add_sensor_event(1, SensorEvent("offset", datetime(2026, 5, 1, tzinfo=UTC), 1, 0.02, 0.005))
    after = source.picture(1).comparison.cylinders

    assert before - after[0].measured.mean == pytest.approx(0.02, abs=1e-4)
    assert "taken off" in text_of(source_page(session, source), "/session/1")
    assert "offset known" in text_of(source_page(sensor, source), "/session/1/sensor")


def test_a_check_needs_a_bike(logbook_folder):
    """A session that no bike was named for has no sensor to write anything down about."""
    with Logbook.open(logbook_folder, write=True) as logbook:
        add_session(logbook, ride(3), bike=None, days=2)

    with pytest.raises(UnknownThing, match="no bike"):
        Source(logbook_folder).add_sensor_event(3, SensorEvent("replaced", NOW))


def source_page(page, source):
    """Return a page on a logbook, in an app of its own."""
    return page.register(Dash("test"), source)
