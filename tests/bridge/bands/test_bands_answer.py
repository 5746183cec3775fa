"""Bands of whole runs."""

import json

import numpy as np
import polars as pl
import pytest

from bridge.bands import bands, counts, session_fuel
from bridge.errors import BadValue
from bridge.model import Bike, PartState, Setup, StatedFuel

T = np.arange(3000) * 0.01
CONTRACT_KEYS = {
    "cylinder",
    "throttle_from",
    "throttle_to",
    "rpm_from",
    "rpm_to",
    "seconds",
    "samples",
    "lambda_mean",
    "lambda_sd",
    "lambda_se",
    "lambda_p10",
    "lambda_p50",
    "lambda_p90",
    "afr_mean",
    "egt_mean_c",
}


def test_each_cylinder_has_its_own_mixture(make_run):
    """Two cylinders at one steady point: two cells, each with its mean, AFR and exhaust temperature."""
    run = make_run(30, lambda_1=0.88, lambda_2=0.93, egt_1=650.0, egt_2=700.0, setup=Setup(fuel="petrol"))
    cells = bands(run).cells.to_dicts()

    assert [c["cylinder"] for c in cells] == [1, 2]
    assert [c["circuit"] for c in cells] == ["needle (taper)"] * 2
    assert [c["lambda_mean"] for c in cells] == pytest.approx([0.88, 0.93])
    assert [c["afr_mean"] for c in cells] == pytest.approx([0.88 * 14.60878, 0.93 * 14.60878], abs=1e-4)
    assert [c["egt_mean_c"] for c in cells] == pytest.approx([650.0, 700.0])
    assert cells[0]["seconds"] == pytest.approx(29, abs=0.3)
    assert cells[0]["samples"] == pytest.approx(2900, abs=30)


def test_the_answer_is_the_contracts(make_run):
    """The JSON answer has the contract's keys, and only plain values in them."""
    answer = json.loads(json.dumps(bands(make_run()).to_json(), allow_nan=False))

    assert {"session", "delay", "cells"} <= set(answer)
    assert set(answer["delay"]) >= {"seconds", "sd_s", "from"}
    assert answer["delay"]["from"] == "geometry"
    assert set(answer["cells"][0]) >= CONTRACT_KEYS


def test_bands_are_those_of_the_burning(make_run):
    """The sensor shows the leaner charge of a faster engine a delay later, and it is put where it burned."""
    rpm = np.clip(4000 + 500 * (T - 5), 4000, 9000)
    late = np.interp(T - 0.15, T, 0.85 + (rpm - 4000) * 1e-5)
    cells = bands(make_run(30, rpm=rpm, throttle=100.0, lambda_1=late)).cells
    middle = cells.filter(cells["rpm_from"].is_between(4500, 8000))

    expected = 0.85 + (middle["rpm_from"] + 250 - 4000) * 1e-5
    assert middle["lambda_mean"].to_numpy() == pytest.approx(expected.to_numpy(), abs=3e-4)


def test_a_band_with_too_little_running_keeps_its_seconds_and_says_no_more(make_run):
    """Under a second of steady running no lambda is told."""
    rpm = np.where((T >= 10) & (T < 10.6), 6600.0, 6400.0)
    cells = bands(make_run(30, rpm=rpm)).cells
    row = cells.filter(cells["rpm_from"] == 6500).row(0, named=True)

    assert 0 < row["seconds"] < 1
    assert [row[k] for k in ("lambda_mean", "lambda_sd", "lambda_se", "lambda_p50", "afr_mean")] == [None] * 5


def test_a_throttle_step_is_not_in_the_bands(make_run):
    """The lean stumble after a step of the throttle is in no band."""
    stumble = np.where((T >= 15) & (T < 15.5), 1.2, 0.88)
    cells = bands(make_run(30, throttle=np.where(T < 15, 40.0, 90.0), lambda_1=stumble)).cells

    assert cells["lambda_mean"].to_list() == pytest.approx([0.88, 0.88])


@pytest.mark.parametrize("seen_s", [0.10, 0.16, 0.22])
def test_an_opening_puts_nothing_of_full_throttle_into_idle(make_run, seen_s):
    """Idle at exactly 1.000 and full throttle at exactly 0.880, by turns: each band has its own mixture alone."""
    t_s = np.arange(5000) * 0.02
    full = (t_s % 10.0) >= 5.0
    late = ((t_s - np.where(full, seen_s, 0.55)) % 10.0) >= 5.0
    columns = {"rpm": np.where(full, 6000.0, 1500.0), "throttle": np.where(full, 100.0, 2.0)}
    cells = bands(make_run(100, t_s=t_s, lambda_1=np.where(late, 0.88, 1.0), **columns)).cells

    assert cells["circuit"].to_list() == ["main", "idle"]
    assert cells["lambda_mean"].to_list() == pytest.approx([0.88, 1.0], abs=1e-4)
    assert cells["lambda_sd"].max() < 1e-4
    assert cells["seconds"].min() > 15.0


def test_without_a_throttle_there_are_bands_of_speed(make_run):
    """No throttle channel: bands of speed alone, and a note that says so."""
    found = bands(make_run(throttle=None))

    assert found.cells["throttle_from"].to_list() == [None]
    assert found.cells["rpm_from"].to_list() == [6000.0]
    assert any("no throttle channel" in note for note in found.notes)


@pytest.mark.parametrize(("column", "words"), [("rpm", "no engine speed"), ("lambda_1", "no lambda channel")])
def test_what_is_lacking_is_said(make_run, column, words):
    """Without engine speed or without lambda there is one sentence."""
    with pytest.raises(BadValue, match=words):
        bands(make_run(**{column: None}))


def test_one_sensor_for_the_engine(make_run):
    """In a collector no cylinder can be told; on a single the engine's sensor is cylinder 1's."""
    columns = {"lambda": 0.9, "lambda_1": None}
    single = Bike(name="s", strokes=2, cylinders=1, displacement_cc=125)
    of_twin, of_single, of_none = (
        bands(make_run(bike=bike, **columns)) for bike in (*twin_and(single), None)
    )

    assert of_twin.cells["cylinder"].to_list() == [None]
    assert any("no cylinder can be told" in note for note in of_twin.notes)
    assert of_single.cells["cylinder"].to_list() == [1]
    assert not any("no cylinder can be told" in note for note in of_single.notes)
    assert of_none.cells["cylinder"].to_list() == [None]


def twin_and(other):
    """Return a twin with its sensor in the collector, and another bike."""
    return Bike(name="t", strokes=4, cylinders=2, displacement_cc=400, sensor="collector"), other


def test_notes_name_what_was_assumed(make_run):
    """Missing geometry, no fuel, constant depression and edges of one's own are each said."""
    bike = Bike(name="c", strokes=4, cylinders=1, displacement_cc=400, carburettor="constant-depression")
    found = bands(make_run(bike=bike), throttle_edges=[20, 80])
    notes = " | ".join(found.notes)

    for words in ("sensor_distance_mm", "pipe_bore_mm", "names no fuel", "constant depression", "under 20 %"):
        assert words in notes
    assert found.cells["circuit"].to_list() == [None]


def test_seconds_of_all_states_add_up_to_the_run(make_run):
    """Whatever was left out is counted: the states' seconds are the run's, the sensors' are told apart."""
    throttle = np.where(T < 10, 60.0, np.where(T < 20, 0.0, 60.0))
    states = (PartState(0.0, "lambda_1", "warming"), PartState(5.0, "lambda_1", "ready"))
    found = bands(make_run(30, throttle=throttle, states=states, lambda_2=0.9))
    seconds = found.state_seconds
    whole = sum(seconds.values())

    assert whole == pytest.approx(30.0, abs=0.01)
    assert seconds["overrun"] == pytest.approx(10.0, abs=0.05)
    assert sum(found.channel_seconds["lambda_1"].values()) == pytest.approx(30.0, abs=0.01)
    assert found.channel_seconds["lambda_1"]["not ready"] == pytest.approx(4.9, abs=0.3)
    assert found.channel_seconds["lambda_2"]["not ready"] == seconds["not ready"] == 0.0


def test_the_counts_are_the_cells_samples(make_run):
    """The distribution holds as many samples as the cells, band for band."""
    rng = np.random.default_rng(9)
    run = make_run(30, rpm=6000 + 900 * np.sin(T), lambda_1=rng.normal(0.9, 0.02, 3000), lambda_2=0.9)
    keys = ["cylinder", "throttle_from", "rpm_from"]
    added = counts(run).group_by(keys).agg(pl.col("n").sum())
    both = added.join(bands(run).cells, on=keys)
    assert len(both) == len(added) > 4
    assert both["n"].to_list() == both["samples"].to_list()


def test_a_part_of_the_session(make_run):
    """From and to look at their seconds alone."""
    run = make_run(30, lambda_1=np.where(T < 15, 0.85, 0.95))

    assert bands(run, to_s=14.0).cells["lambda_mean"].to_list() == pytest.approx([0.85])
    assert bands(run, from_s=16.0).cells["lambda_mean"].to_list() == pytest.approx([0.95])


def test_a_run_without_samples_has_no_cells(make_run):
    """An empty session gives an empty table with all its columns."""
    found = bands(make_run(t_s=[]))

    assert found.cells.shape[0] == 0
    assert set(found.cells.columns) >= CONTRACT_KEYS
    assert counts(make_run(t_s=[])).shape[0] == 0


@pytest.mark.parametrize(
    ("fuel", "name", "afr"),
    [
        ("e10", "e10", 14.01579),
        (StatedFuel(blend="ethanol=0.10,petrol=0.90"), "ethanol=0.10,petrol=0.90", 14.01579),
        (StatedFuel(afr=14.1), "stated AFR 14.1", 14.1),
    ],
)
def test_the_sessions_fuel(fuel, name, afr):
    """A name, a blend and a supplier's figure each give their fuel."""
    found, note = session_fuel(Setup(fuel=fuel))

    assert (found.name, note) == (name, None)
    assert found.stoich_afr == pytest.approx(afr, abs=1e-5)
