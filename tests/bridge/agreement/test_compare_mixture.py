"""What stands beside the measured lambda: its budget, what fools the sensor, the weather, the history."""

from dataclasses import replace

import numpy as np
import pytest

from bridge.agreement.compare import compare
from bridge.channels.sensor import SensorEvent
from bridge.emulator.ride import short_ride
from bridge.model import Setup, Weather
from bridge.physics.fooled import TWO_STROKE_READS
from tests.virtual_runs import BIKE, NOW, life, virtual_run

RUN, _ = virtual_run(1)
TWO = BIKE.model_copy(update={"strokes": 2})
TWO_RUN, _ = virtual_run(1, bike=TWO)
TRAPPED = SensorEvent("trapped", NOW, value=0.08, sd=0.02)


def test_the_budget_of_the_measured_lambda_can_be_read():
    """Those in the interval come to its width, those beside it to the sd that is not in it; each has a status."""
    for one in compare(RUN, [life(RUN)]).to_json()["cylinders"]:
        over = one["measured_lambda"]
        inside = [part for part in over["budget"] if part["in_interval"]]
        beside = [part for part in over["budget"] if not part["in_interval"]]

        assert np.hypot.reduce([part["sd"] for part in beside]) == pytest.approx(
            over["sensor_sd_not_in_interval"]
        )
        half = (over["high"] - over["low"]) / 2.0
        assert half >= 1.95 * np.hypot.reduce([part["sd"] for part in inside])
        assert all(part["status"] and part["what"] for part in over["budget"])
        assert [part["same_each_session"] for part in beside] == [True, False]


def test_afr_has_the_fuels_doubt_besides():
    """As AFR the sensor's doubt stands times the fuel's stoichiometric AFR, and the fuel's own beside it."""
    document = compare(RUN, [life(RUN)]).to_json()
    one = document["cylinders"][0]
    over, afr = one["measured_lambda"], one["measured_afr"]

    assert afr["sensor_sd_not_in_interval"] == pytest.approx(
        over["sensor_sd_not_in_interval"] * document["stoich_afr"]
    )
    assert afr["fuel_sd_not_in_interval"] == pytest.approx(over["mean"] * document["stoich_afr_sd"])
    assert afr["fuel_sd_not_in_interval"] > 0.0


def test_what_is_the_same_each_session_is_all_that_a_departure_may_leave_out():
    """The absolute difference counts each of them once: accuracy, which would cancel, and drift, which would not."""
    found = compare(RUN, [life(RUN)]).cylinders[0]
    names = [part.name for part in found.absolute.budget.components]

    for part in found.measured.sensor.components:
        assert names.count(part.name) == 1
    assert not set(found.measured.sensor.constant) & set(found.measured.sensor.changing)


def test_a_two_strokes_number_carries_its_mark():
    """Beside the number stands that it reads lean by an unknown amount, in JSON and in the same paragraph of words."""
    found = compare(TWO_RUN, [life(TWO_RUN)])
    one = found.to_json()["cylinders"][0]
    beside = next(text for text in found.in_words() if text.startswith("Measured"))

    assert one["measured_lambda"]["reads"] == "reads lean by an unknown amount unless calibrated"
    assert TWO_STROKE_READS in beside
    assert any("lean by an unknown amount" in caution for caution in found.cautions)
    assert any("short" in fooled["cause"] or "scaveng" in fooled["cause"] for fooled in one["fooled"])


def test_a_four_stroke_has_no_such_mark():
    """Its number has none, though leak and misfire are named with their size all the same."""
    one = compare(RUN, [life(RUN)]).to_json()["cylinders"][0]
    causes = {fooled["cause"]: fooled for fooled in one["fooled"]}

    assert one["measured_lambda"]["reads"] is None
    assert {"air leak", "misfire"} <= causes.keys()
    for cause in ("air leak", "misfire"):
        assert causes[cause]["direction"] == "lean"
        assert 0.0 < causes[cause]["low"] < causes[cause]["high"]
        assert "lean" in causes[cause]["sentence"]


def test_a_calibrated_two_stroke_loses_its_mark_and_its_width():
    """With a stated trapped offset the mark and its caution go, and the doubt becomes the stated one."""
    run = replace(TWO_RUN, sensor_events=(TRAPPED,))
    found = compare(run, [life(run)])
    over = found.cylinders[0].measured

    assert found.cylinders[0].reads is None
    assert not any("lean by an unknown amount" in caution for caution in found.cautions)
    assert over.sensor.constant[0].sd == pytest.approx(np.hypot(0.010, 0.02))
    assert over.sensor_sd < compare(TWO_RUN, [life(TWO_RUN)]).cylinders[0].measured.sensor_sd


def test_a_two_stroke_is_fooled_more_than_a_four_stroke():
    """The largest size named for a two-stroke is beyond that of a four-stroke, and lean (common practice)."""
    two, four = (compare(run, [life(run)]).cylinders[0].fooled for run in (TWO_RUN, RUN))

    assert two[0].size_high > four[0].size_high
    assert two[0].direction == "lean"


def test_nothing_is_said_to_fool_a_number_that_is_not_there():
    """Without a mean there is no number to fool, and no mark in the words."""
    run, _ = virtual_run(2, script=short_ride()[:3])
    found = compare(run, [life(run)]).cylinders[0]

    assert found.measured.mean is None
    assert found.fooled == ()


def test_a_pressure_that_cannot_be_the_stations_is_questioned():
    """At 1500 m a pressure of 1013 hPa is that of sea level: the answer says so, in JSON and in words."""
    weather = Weather(air_temp_c=15.0, air_pressure_hpa=1013.0, humidity_percent=50.0, altitude_m=1500.0)
    run = replace(RUN, setup=Setup(fuel="e5", weather=weather))
    found = compare(run, [life(run)])
    plausible = replace(
        RUN, setup=Setup(fuel="e5", weather=weather.model_copy(update={"air_pressure_hpa": 845.0}))
    )

    assert len(found.to_json()["weather"]) == 1
    assert "1013" in found.weather[0]
    assert any(text.startswith("Air: ") for text in found.in_words())
    assert compare(plausible, []).weather == ()


def test_what_was_done_to_the_channels_is_noted():
    """A note of the loaded run stands with the answer; what the sensor's own history says already stands once."""
    event = SensorEvent("offset", NOW, value=0.02, sd=0.01)
    offset = "the sensor's stated offset of +0.020 lambda is taken off"
    run = replace(RUN, sensor_events=(event,), notes=("egt_1 is left out: it falls", f"lambda_1: {offset}"))
    found = compare(run, [life(run)])

    assert found.notes == ("egt_1 is left out: it falls",)
    assert " ".join(found.in_words()).count(offset) == 1


def test_what_holds_for_every_cylinder_is_said_once():
    """That no free-air check is on record stands in each cylinder's notes, and in the words once."""
    found = compare(RUN, [life(RUN, 1), life(RUN, 2)])
    words = " ".join(found.in_words())

    assert all(any("no free-air check" in note for note in one.notes) for one in found.cylinders)
    assert words.count("no free-air check") == 1


def test_the_budget_is_told_to_a_person_who_asks():
    """Each doubt stands there with its figure, inside and beside the interval, and each thing that fools in full."""
    found = compare(RUN, [life(RUN)])
    short, long = " ".join(found.in_words()), " ".join(found.in_words(budget=True))
    over = found.cylinders[0].measured

    for part in (*over.budget.components, *over.sensor.components):
        assert f"{part.name} {part.sd:.4f}" in long
    assert all(fooled.sentence in long for fooled in found.cylinders[0].fooled)
    assert "Its doubts" not in short
    assert all(fooled.cause in short for fooled in found.cylinders[0].fooled if fooled.size_high > 0.01)
