"""The exhaust gas as a third witness: whom it sides with, and what it never says."""

import json
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from bridge.agreement.compare import CYLINDER_SD, compare
from bridge.agreement.witness import gas_found, gas_witness, lambda_of
from bridge.bands import session_fuel
from bridge.model import GasAnalysis, ScaleStatement, Setup, StatedFuel, Weather
from bridge.physics.gas import dry_exhaust, ppm_hexane
from bridge.plug.exposure import measured
from bridge.plug.scale import SLOPE_MM, ring_lambda, stated
from tests.virtual_runs import BIKE, NOW, life, reading, virtual_run

MAIN = 0.87
RUN, _ = virtual_run(1, main=MAIN)
FUEL, _ = session_fuel(RUN.setup)
SURE = ScaleStatement(6.0, 0.1, MAIN, "short", 14.0, 1, NOW)
DRY = Weather()


def gas(lambda_, cylinder=1, *, later=0, fuel=FUEL, unburnt=0.0):
    """Return the analysis of a mixture, by the element balance of the session's fuel (closed form)."""
    made = dry_exhaust(lambda_, fuel.h_to_c, fuel.o_to_c, unburnt=unburnt)
    return GasAnalysis(
        session=1,
        cylinder=cylinder,
        co2_percent=float(made.co2),
        co_percent=float(made.co),
        o2_percent=float(made.o2),
        hc_ppm=float(ppm_hexane(made.hc_c1)),
        no_ppm=0.0,
        written=NOW + timedelta(minutes=later),
    )


def with_gas(*analyses, run=RUN):
    """Return the session with exhaust-gas analyses."""
    return replace(run, gas=analyses)


def ring_at(lambda_):
    """Return a very sure reading of the ring that this lambda leaves by ``SURE``."""
    return reading(ring_mm=6.0 + SLOPE_MM * (lambda_ - MAIN), ring_sd_mm=0.1)


def first(run, seen):
    """Return cylinder one's result."""
    return compare(run, [life(run, seen=seen)], [SURE]).cylinders[0]


@pytest.mark.parametrize("lambda_", [0.78, 0.87, 0.95, 1.10])
def test_the_gas_gives_its_own_lambda(lambda_):
    """What burned at a lambda is told as that lambda, by both formulas, inside its own interval."""
    found = first(with_gas(gas(lambda_)), ring_at(MAIN)).gas

    assert found.lambda_ == pytest.approx(lambda_, abs=1e-3)
    assert found.spindt == pytest.approx(lambda_, abs=0.01)
    assert found.low < lambda_ < found.high
    assert found.high - found.low == pytest.approx(2 * 1.96 * found.budget.sd, rel=1e-3)


@pytest.mark.parametrize(
    ("ring", "told", "sides"),
    [
        (MAIN + 0.10, MAIN, "sensor"),
        (MAIN - 0.10, MAIN, "sensor"),
        (MAIN + 0.10, MAIN + 0.10, "ring"),
        (MAIN - 0.10, MAIN - 0.10, "ring"),
        (MAIN, MAIN, "cannot say"),
        (MAIN + 0.03, MAIN + 0.015, "cannot say"),
        (MAIN + 0.10, MAIN - 0.15, "neither"),
    ],
)
def test_it_sides_with_whom_it_surely_does_not_depart_from(ring, told, sides):
    """It sides with one only where it surely departs from the other; else with neither, or it cannot say."""
    found = first(with_gas(gas(told)), ring_at(ring)).gas

    assert found.sides == sides
    said = {"sensor": "sides with the sensor", "ring": "sides with the ring", "neither": "sides with neither"}
    assert said.get(sides, "does not decide between them") in found.statement


def test_the_side_of_a_departure_is_right():
    """A gas leaner than the sensor is said to be leaner, a richer one richer."""
    leaner = first(with_gas(gas(MAIN + 0.12)), ring_at(MAIN)).gas
    richer = first(with_gas(gas(MAIN - 0.12)), ring_at(MAIN)).gas

    assert "reads leaner than the sensor" in leaner.statement
    assert "reads leaner than the ring" in leaner.statement
    assert "reads richer than the sensor" in richer.statement
    assert "reads richer than the ring" in richer.statement


def test_an_invalid_reading_gives_no_side_to_take():
    """A ring that does not count is no party; only the sensor is held against the gas."""
    found = (
        compare(with_gas(gas(MAIN)), [life(RUN, seen=ring_at(MAIN), state="used")], [SURE]).cylinders[0].gas
    )

    assert found.sides is None
    assert "ring" not in found.statement
    assert "sensor" in found.statement


def test_the_newest_of_a_cylinder_counts():
    """A second analysis takes the place of the first, in whatever order they come."""
    for order in ((0.80, 0.90), (0.90, 0.80)):
        analyses = [gas(value, later=value == 0.90) for value in order]
        assert first(with_gas(*analyses), ring_at(MAIN)).gas.lambda_ == pytest.approx(0.90, abs=1e-3)


def test_gas_of_all_cylinders_is_an_average_for_each():
    """It stands in where a cylinder has none of its own, with the doubt of one cylinder by the average."""
    found = compare(with_gas(gas(0.85, cylinder=None), gas(0.90, cylinder=2)), []).cylinders
    own = compare(with_gas(gas(0.85, cylinder=1)), []).cylinders[0].gas

    assert found[0].gas.lambda_ == pytest.approx(0.85, abs=1e-3)
    assert found[1].gas.lambda_ == pytest.approx(0.90, abs=1e-3)
    assert found[0].gas.budget.sd == pytest.approx(np.hypot(own.budget.sd, CYLINDER_SD))
    assert any("average" in note for note in found[0].gas.notes)
    assert not any("average" in note for note in found[1].gas.notes)


def test_without_an_analysis_there_is_no_witness():
    """No gas is null in JSON, and nothing in words."""
    found = compare(RUN, [life(RUN)])

    assert found.to_json()["gas"] == []
    assert found.to_json()["cylinders"][0]["gas"] is None
    assert not any("xhaust gas" in text for text in found.in_words())


def test_gas_changes_no_verdict():
    """Ring and sensor are judged as without it: a third witness is said beside them, not mixed in."""
    without, with_it = first(RUN, ring_at(MAIN)), first(with_gas(gas(1.1)), ring_at(MAIN))

    assert with_it.verdict == without.verdict == "agree"
    assert with_it.absolute.low == pytest.approx(without.absolute.low)
    assert with_it.absolute.high == pytest.approx(without.absolute.high)
    assert with_it.measured.mean == pytest.approx(without.measured.mean)


def test_what_is_no_exhaust_has_no_lambda_and_says_why():
    """An analysis that an earlier version took, and that is air, spoils no answer: it is named in the notes."""
    air = replace(gas(0.9), co2_percent=0.0, co_percent=0.0, o2_percent=20.9)
    (found,) = gas_found([air], FUEL, DRY)
    answer = compare(with_gas(air), [life(RUN)])

    assert found.value is None
    assert "has no lambda" in found.notes[0]
    assert answer.cylinders[0].gas is None
    assert answer.to_json()["gas"][0]["lambda_brettschneider"] is None


def test_the_fuels_own_composition_counts():
    """The same gas is another lambda of another fuel; one of unknown composition says that petrol's stands in."""
    ethanol, _ = session_fuel(Setup(fuel="ethanol"))
    stated, _ = session_fuel(Setup(fuel=StatedFuel(afr=14.1)))
    of_ethanol = gas(0.85, fuel=ethanol)

    assert lambda_of(of_ethanol, ethanol, DRY).brettschneider == pytest.approx(0.85, abs=1e-3)
    # closed form, computed by hand: ethanol's gas of 0.85 put through petrol's H/C and O/C reads 0.867
    assert lambda_of(of_ethanol, FUEL, DRY).brettschneider == pytest.approx(0.867, abs=0.003)
    assert any("composition" in note for note in lambda_of(gas(0.85), stated, DRY).notes)


def test_the_air_of_the_day_counts():
    """With the humidity written down one doubt is gone, and water in the air moves a rich lambda down a little."""
    humid = Weather(air_temp_c=30.0, air_pressure_hpa=1000.0, humidity_percent=80.0)
    dry, wet = lambda_of(gas(0.85), FUEL, DRY), lambda_of(gas(0.85), FUEL, humid)

    assert wet.brettschneider < dry.brettschneider
    assert wet.brettschneider == pytest.approx(0.85, abs=0.02)
    doubts = [{part.name: part.sd for part in value.budget.components} for value in (dry, wet)]
    assert doubts[1]["humidity of the intake air"] < doubts[0]["humidity of the intake air"]


def test_a_program_and_a_person_get_the_same():
    """JSON has lambda twice with interval and budget; words have the same figures, and where gas comes from."""
    found = compare(with_gas(gas(0.85)), [life(RUN, seen=ring_at(MAIN))], [SURE])
    document = found.to_json()
    own = document["cylinders"][0]["gas"]
    words = found.in_words()

    assert json.loads(json.dumps(document, allow_nan=False)) == document
    assert {
        "lambda_brettschneider",
        "lambda_spindt",
        "sd",
        "low",
        "high",
        "sides_with",
        "notes",
    } <= own.keys()
    assert own["sd"] == pytest.approx(np.hypot.reduce([part["sd"] for part in own["budget"]]))
    assert document["gas"][0]["lambda_brettschneider"] == own["lambda_brettschneider"]
    assert document["gas"][0]["cylinder"] == 1
    assert document["cylinders"][1]["gas"] is None
    assert any(f"Exhaust gas {own['lambda_brettschneider']:.3f}" in text for text in words)
    assert any("of the running that it was taken in" in text for text in words)


def test_a_collectors_sensor_and_one_cylinders_gas_leave_the_average_open():
    """One sensor for two cylinders may differ from one cylinder's gas by what cylinders differ, and still be right."""
    collector = BIKE.model_copy(update={"sensor": "collector"})
    run, _ = virtual_run(1, main=MAIN, bike=collector)
    shared = first(with_gas(gas(MAIN + 0.05), run=run), None)
    single = first(with_gas(gas(MAIN + 0.05)), None)

    assert shared.measured.engine_wide
    assert "reads leaner than the sensor" in single.gas.statement
    assert "does not surely differ from the sensor" in shared.gas.statement


def test_three_witnesses_of_one_mixture_are_seldom_set_against_each_other():
    """Where ring, sensor and gas each err by just what they claim, a side is taken in at most 10 % of 400 draws.

    Blind draws, invented: two comparisons at 5 % each cannot part them more often than that.
    """
    rng = np.random.default_rng(20260514)
    (own,) = gas_found([gas(MAIN)], FUEL, DRY)
    over = measured(life(RUN))
    doubt = np.hypot(over.budget.sd, over.sensor_sd)
    sides = []
    for _ in range(400):
        drawn = replace(
            own, value=replace(own.value, brettschneider=MAIN + rng.normal(0.0, own.value.budget.sd))
        )
        ring_is = MAIN + rng.normal(0.0, 0.01) + rng.normal(0.0, np.hypot(0.1, 0.1)) / SLOPE_MM
        ring = ring_lambda(ring_at(ring_is), stated(SURE), 14.0)
        seen = replace(over, mean=MAIN + rng.normal(0.0, doubt))
        sides.append(gas_witness([drawn], 1, ring, seen, None).sides)

    assert sides.count("cannot say") / len(sides) >= 0.90
    assert len(set(sides)) > 1
