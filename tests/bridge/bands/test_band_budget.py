"""The uncertainty budget of each band and of the full-throttle value."""

import math
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from bridge.bands import bands
from bridge.bands.uncertainty import ACCURACY, DELAY, DRIFT, SAMPLING, afr_sd
from bridge.channels.sensor import SensorEvent
from bridge.model import Bike
from bridge.physics.fooled import TWO_STROKE_READS
from bridge.physics.fuel import fuel_by_name

T = np.arange(6000) * 0.01


def ridden(make_run, strokes=4, **columns):
    """Return a minute of part throttle and full throttle, noisy, on a single."""
    bike = Bike(
        name="b", strokes=strokes, cylinders=1, displacement_cc=250, sensor_distance_mm=600, pipe_bore_mm=38
    )
    noise = np.random.default_rng(1).normal(0, 0.01, 6000)
    whole = {"lambda_1": 0.88 + noise, "throttle": np.where(T < 30, 60.0, 100.0)} | columns
    return make_run(60, bike=bike, **whole)


def test_the_budget_adds_up_to_the_interval(make_run):
    """The components add as squares to sd_budget, and the 95 % interval is that many times 1.96 around the mean."""
    found = bands(ridden(make_run))
    cell, budget = found.cells.row(0, named=True), found.budgets[0]
    parts = {part.name: part.sd for part in budget.components}

    assert set(parts) == {SAMPLING, DELAY, ACCURACY, DRIFT}
    assert parts[SAMPLING] == pytest.approx(cell["lambda_se"])
    assert cell["sd_budget"] == pytest.approx(math.hypot(*parts.values()))
    assert cell["lambda_high"] - cell["lambda_mean"] == pytest.approx(1.96 * cell["sd_budget"], rel=1e-3)
    assert cell["lambda_mean"] - cell["lambda_low"] == pytest.approx(1.96 * cell["sd_budget"], rel=1e-3)


def test_a_two_stroke_is_wider_and_marked(make_run):
    """A two-stroke carries the wide uncertainty and the mark until its offset is stated; a four-stroke does not."""
    four, two = bands(ridden(make_run)), bands(ridden(make_run, strokes=2))
    run = ridden(make_run, strokes=2)
    told = SensorEvent("trapped", run.session.started - timedelta(days=1), value=0.08, sd=0.015)
    calibrated = bands(replace(run, sensor_events=(told,)))
    sds = [found.full_throttle[0].sd for found in (four, calibrated, two)]

    assert (four.reads, two.reads, calibrated.reads) == (None, TWO_STROKE_READS, None)
    assert sds == sorted(sds)
    assert sds[2] > 0.05 > sds[1] > sds[0] > 0.010  # common practice, no source: 0.010 and 0.05
    assert two.fooled[0].cause == "short-circuited charge"
    assert two.to_json()["fooled"][0]["direction"] == "lean"


def test_full_throttle_has_its_own_value(make_run):
    """What was read at full throttle alone is in the full-throttle value, with all its budget spelled out in JSON."""
    lambda_1 = np.where(T < 30, 0.92, 0.86) + np.random.default_rng(2).normal(0, 0.01, 6000)
    found = bands(ridden(make_run, lambda_1=lambda_1))
    value = found.to_json()["full_throttle"][0]

    assert value["mean"] == pytest.approx(0.86, abs=0.002)
    assert value["seconds"] == pytest.approx(29.0, abs=0.5)
    assert value["low"] < value["mean"] < value["high"]
    assert {part["what"] for part in value["budget"]} == {SAMPLING, DELAY, ACCURACY, DRIFT}
    assert all(part["status"] and part["sd"] >= 0.0 for part in value["budget"])


def test_full_throttle_counts_until_90_percent(make_run):
    """92 % after 100 % is still full throttle, 92 % after 80 % is none."""
    after = np.where(T < 20, 80.0, np.where(T < 40, 92.0, 100.0))
    before = np.where(T < 20, 100.0, np.where(T < 40, 92.0, 80.0))
    seconds = [
        bands(ridden(make_run, throttle=throttle)).full_throttle[0].seconds for throttle in (after, before)
    ]

    assert seconds[0] == pytest.approx(19.2, abs=0.4)
    assert seconds[1] == pytest.approx(39.0, abs=1.5)


def test_a_mixture_that_moves_makes_the_delay_count(make_run):
    """Where lambda drifts through a band the delay's uncertainty moves its mean; where it stands still it does not."""
    drifting, still = 0.8 + 0.004 * T, np.full(6000, 0.9)
    moved, stood = (bands(ridden(make_run, lambda_1=values, throttle=60.0)) for values in (drifting, still))
    sds = [{p.name: p.sd for p in found.budgets[0].components}[DELAY] for found in (moved, stood)]

    assert sds[0] == pytest.approx(0.004 * moved.delay.sd_s, rel=0.05)
    assert sds[1] == pytest.approx(0.0, abs=1e-9)


def test_the_fuel_counts_in_afr_alone():
    """AFR is less sure than lambda by what nobody knows of the fuel; a pure substance adds nothing."""
    petrol, pure = fuel_by_name("petrol"), fuel_by_name("isooctane")

    assert afr_sd(0.9, 0.01, pure) == pytest.approx(0.01 * pure.stoich_afr)
    assert afr_sd(0.9, 0.01, petrol) == pytest.approx(
        math.hypot(0.01 * petrol.stoich_afr, 0.9 * petrol.afr_sd)
    )
    assert petrol.afr_sd > 0.0


def test_each_bands_budget_is_spelled_out_when_asked(make_run):
    """The JSON carries a band's budget only when asked for it, and its parts give the band's own sd."""
    found = bands(ridden(make_run))
    plain, whole = found.to_json()["cells"][0], found.to_json(budgets=True)["cells"][0]

    assert "budget" not in plain
    assert math.hypot(*(part["sd"] for part in whole["budget"])) == pytest.approx(whole["sd_budget"])


def test_shares_of_the_circuits_stand_beside_a_band(make_run):
    """A band by hand is named by the circuit with the largest share, and the shares of all add up to one."""
    cells = bands(ridden(make_run), throttle_edges=[0, 40, 70, 100]).cells.to_dicts()
    by_edges = {cell["throttle_from"]: cell for cell in cells}

    for cell in cells:
        assert sum(cell["shares"].values()) == pytest.approx(1.0)
        assert cell["circuit"] == max(cell["shares"], key=cell["shares"].get)
    assert by_edges[70.0]["circuit"] == "main"
    assert by_edges[70.0]["shares"]["main"] > by_edges[40.0]["shares"]["main"]
