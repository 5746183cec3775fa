"""Channels worked out from what was recorded, and lambda corrected by what is known of its sensor."""

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.channels.calibrate import Calibration, calibrate, plan_of
from bridge.channels.correct import Correction, corrected_current, corrected_reading
from bridge.channels.points import ordered
from bridge.channels.sound import unsound
from bridge.physics.pump_cell import corrected_lambda, uncorrected_lambda
from bridge.physics.thermocouple import emf_mv, temperature_c

VOLTS = Calibration("throttle_voltage", ordered([(0.52, 0.0), (4.31, 100.0)]))
TABLE = Calibration("pump_current", ordered([(-2.0, 0.65), (-1.0, 0.8), (0.0, 1.0), (1.0, 2.0)]), beyond=0.02)
PROBE = Calibration("egt_emf", thermocouple="K", cold_junction="cold_junction")


def frame(**columns):
    """Samples with a time, float32 as on the disk."""
    n = len(next(iter(columns.values())))
    data = {"t_s": np.arange(n) / 10.0}
    return pl.DataFrame(data | {k: pl.Series(v, dtype=pl.Float32) for k, v in columns.items()}).lazy()


def values(samples, name):
    """One column as a list."""
    return samples.select(name).collect()[name].to_list()


def test_throttle_from_volts():
    """A throttle's two ends in volts give its opening in percent, and what was recorded stays."""
    done = calibrate(frame(throttle_voltage=[0.52, 2.415, 4.31, None]), {"throttle": VOLTS})

    assert values(done.samples, "throttle") == pytest.approx([0.0, 50.0, 100.0, None], abs=1e-4)
    assert values(done.samples, "throttle_voltage")[1] == pytest.approx(2.415)
    assert done.samples.collect_schema()["throttle"] == pl.Float32
    assert done.notes == ("throttle is worked out from throttle_voltage by 2 points of the bike's file",)
    assert done.sources == {"throttle": "throttle_voltage"}


def test_each_numbered_source():
    """A table without a number holds for each cylinder's sensor and for the one in the collector."""
    samples = frame(pump_current_1=[-1.0], pump_current_2=[0.5], pump_current=[0.0], pump_current_x=[0.0])
    done = calibrate(samples, {"lambda": TABLE})

    row = done.samples.collect().row(0, named=True)
    assert (row["lambda_1"], row["lambda_2"], row["lambda"]) == pytest.approx((0.8, 1.5, 1.0))
    assert "lambda_x" not in row


def test_a_numbered_one_goes_before():
    """A cylinder's own table is taken before the one for all of them."""
    own = Calibration("pump_current_2", ordered([(-1.0, 0.9), (1.0, 1.1)]), beyond=0.02)
    done = calibrate(frame(pump_current_1=[-1.0], pump_current_2=[-1.0]), {"lambda": TABLE, "lambda_2": own})

    assert values(done.samples, "lambda_1") == pytest.approx([0.8])
    assert values(done.samples, "lambda_2") == pytest.approx([0.9])


def test_recorded_wins_unless_told():
    """A recorded channel stays, unless the bike's file says instead, and either is said."""
    samples = frame(throttle=[7.0], throttle_voltage=[2.415])
    kept = calibrate(samples, {"throttle": VOLTS})
    taken = calibrate(samples, {"throttle": Calibration("throttle_voltage", VOLTS.points, instead=True)})

    assert values(kept.samples, "throttle") == [7.0]
    assert "instead = true" in kept.notes[0]
    assert values(taken.samples, "throttle") == pytest.approx([50.0], abs=1e-4)


def test_a_channel_recalibrated_from_itself():
    """A throttle that was recorded in the wrong percent is put right from its own readings."""
    how = Calibration("throttle", ordered([(8.0, 0.0), (88.0, 100.0)]), instead=True)
    done = calibrate(frame(throttle=[8.0, 48.0, 88.0]), {"throttle": how})

    assert values(done.samples, "throttle") == pytest.approx([0.0, 50.0, 100.0])


def test_a_source_that_is_not_there():
    """A source that the session lacks is said with the nearest that it has, and nothing else is touched."""
    done = calibrate(
        frame(throttle_voltage=[2.0], rpm=[900.0]), {"throttle": Calibration("throttle_volts", VOLTS.points)}
    )

    assert done.samples.collect_schema().names() == ["t_s", "throttle_voltage", "rpm"]
    assert "no channel throttle_volts" in done.notes[0]
    assert "did you mean 'throttle_voltage'?" in done.notes[0]


def test_outside_its_limits_is_no_reading():
    """A throttle far beyond what one can be is no reading."""
    assert values(calibrate(frame(throttle_voltage=[5.0]), {"throttle": VOLTS}).samples, "throttle") == [None]


def test_outside_a_table_is_no_lambda():
    """A current outside the sensor's own table is no lambda."""
    done = calibrate(frame(pump_current_1=[-2.2, -1.0, 1.2]), {"lambda": TABLE})

    assert values(done.samples, "lambda_1") == pytest.approx([None, 0.8, None])


def test_type_k_with_its_cold_junction():
    """Volts against terminals of 25 Cel give the hot end, by adding voltages and not degrees."""
    # published: NIST Monograph 175, E(700) = 29.128974 mV, E(25) = 1.000243 mV: 28.128731 mV between the legs;
    # 4.096 mV with 25 Cel at the terminals is 124.31 Cel
    done = calibrate(
        frame(egt_emf_1=[28.128731, 4.096, 0.0], cold_junction=[25.0, 25.0, 25.0]), {"egt": PROBE}
    )

    assert values(done.samples, "egt_1") == pytest.approx([700.0, 124.31, 25.0], abs=0.01)


@given(st.floats(-50.0, 1290.0), st.floats(-40.0, 100.0))
def test_type_k_there_and_back(hot, cold):
    """Any exhaust temperature comes back from its voltage, at any terminals', as the full inverse gives it."""
    emf = float(emf_mv(hot) - emf_mv(cold))
    done = calibrate(frame(egt_emf=[emf], cold_junction=[cold]), {"egt": PROBE})

    # float32 on the way: 4e-6 mV of 55, which is 1e-4 K, and the temperature itself
    assert values(done.samples, "egt") == pytest.approx([hot], abs=5e-4)
    assert temperature_c(emf, cold) == pytest.approx(hot, abs=1e-6)


def test_a_slow_cold_junction():
    """Terminals that are read once a second hold their reading until the next, and the first one before it."""
    done = calibrate(frame(egt_emf_1=[28.128731] * 4, cold_junction=[None, 25.0, None, 30.0]), {"egt": PROBE})
    hot = values(done.samples, "egt_1")

    assert hot[:3] == pytest.approx([700.0] * 3, abs=0.01)
    assert hot[3] > hot[2] + 4.0


def test_a_fixed_cold_junction():
    """Terminals that nobody records have the temperature that the bike's file says."""
    how = Calibration("egt_emf", thermocouple="K", cold_junction=25.0)

    assert values(calibrate(frame(egt_emf=[28.128731]), {"egt": how}).samples, "egt") == pytest.approx(
        [700.0], abs=0.01
    )


def test_no_cold_junction_at_all():
    """Without the terminals' temperature nothing is guessed, and the mend is said."""
    done = calibrate(frame(egt_emf_1=[20.0]), {"egt": PROBE})

    assert "egt_1" not in done.samples.collect_schema().names()
    assert "cold_junction_c" in done.notes[0]


def test_wired_backwards():
    """A thermocouple that falls when heated is left out and named with its mend; its neighbour stays."""
    hot = np.linspace(2.0, 28.0, 50)
    samples = frame(rpm=[5000.0] * 50, egt_emf_1=hot, egt_emf_2=-hot, cold_junction=[25.0] * 50)
    done = calibrate(samples, {"egt": PROBE}, unsound=unsound)

    assert values(done.samples, "egt_1")[-1] > 600.0
    assert values(done.samples, "egt_2") == [None] * 50
    told = [note for note in done.notes if "backwards" in note]
    assert len(told) == 1
    assert told[0].startswith("egt_2")
    assert "swap its two leads" in told[0]


def test_a_recorded_temperature_that_falls_when_heated():
    """A logger's own temperature that falls while the engine runs is left out; one that rises is not."""
    rising = np.linspace(20.0, 600.0, 50)
    falling = np.linspace(20.0, -50.0, 50)
    samples = frame(rpm=[4000.0] * 50, egt_1=rising, egt_2=falling)
    done = calibrate(samples, {}, unsound=unsound)

    assert values(done.samples, "egt_1")[-1] == pytest.approx(600.0)
    assert values(done.samples, "egt_2") == [None] * 50


@pytest.mark.parametrize("rpm", [0.0, 5000.0])
def test_a_sound_thermocouple_is_no_suspect(rpm):
    """A cold start, a few readings of noise about zero and an engine that stands raise no suspicion."""
    emf = np.concatenate([np.random.default_rng(3).normal(0.0, 0.3, 30), np.linspace(0.0, 25.0, 30)])
    samples = frame(rpm=[rpm] * 60, egt_emf_1=emf, cold_junction=[25.0] * 60)

    assert unsound(samples, plan_of(samples.collect_schema().names(), {"egt": PROBE})) == {}


def test_an_offset_is_taken_off():
    """A sensor that reads 0.02 too lean has that taken off, and its own cylinder alone."""
    done = calibrate(
        frame(lambda_1=[0.9, None], lambda_2=[0.9, 1.0]),
        {},
        lambda cylinder: Correction(offset=0.02, because=("told",)) if cylinder == 1 else Correction(),
    )

    assert values(done.samples, "lambda_1") == pytest.approx([0.88, None])
    assert values(done.samples, "lambda_2") == pytest.approx([0.9, 1.0])
    assert done.notes == ("lambda_1: told",)


def test_nothing_known_changes_nothing():
    """Where nothing is known of a bike or its sensors, the samples are those that were recorded."""
    samples = frame(rpm=[1000.0], lambda_1=[0.9])
    done = calibrate(samples, {})

    assert done.samples is samples
    assert done.notes == ()


@given(st.floats(0.6, 1.6), st.floats(0.85, 1.1), st.floats(85.0, 130.0))
def test_correction_there_and_back(true, gain, kpa):
    """What a sensor of any gain reads at any pressure is put right, by the cell's own curve."""
    read = uncorrected_lambda(true, gain, kpa / 101.325, 0.5)
    change = Correction(gain=gain, pressure_share=0.5)
    found = corrected_reading(np.array([read]), change, np.array([kpa]))

    assert found == pytest.approx([true], abs=3e-5)
    assert found == pytest.approx([float(corrected_lambda(read, gain, kpa / 101.325, 0.5))], abs=3e-5)


def test_direction_of_the_correction():
    """A weak sensor and a thin exhaust read too near to 1, so that rich goes richer and lean leaner."""
    read = np.array([0.85, 1.0, 1.2])
    weak = corrected_reading(read, Correction(gain=0.95), None)
    dense = corrected_reading(read, Correction(pressure_share=0.5), np.full(3, 115.0))

    assert weak[0] < 0.85
    assert weak[1] == pytest.approx(1.0)
    assert weak[2] > 1.2
    assert dense[0] > 0.85
    assert dense[1] == pytest.approx(1.0)
    assert dense[2] < 1.2


def test_a_pump_current_is_corrected_before_its_table():
    """The current of a weak sensor is raised before the table is read, and the offset comes last."""
    weak = Correction(gain=0.5, offset=0.01)
    done = calibrate(frame(pump_current=[-0.5]), {"lambda": TABLE}, lambda _: weak)

    # computed by hand: -0.5 / 0.5 = -1 mA, which is 0.8 by the table, less 0.01
    assert values(done.samples, "lambda") == pytest.approx([0.79])


def test_pressure_at_a_pump_current():
    """A tenth more pressure swells the current of a half-porous barrier by 3.125 %, and that is taken off."""
    # closed form: P (1 + a) / (P + a) with P = 1.10, a = 0.5
    change = Correction(pressure_share=0.5)
    current = corrected_current(np.array([-1.03125, -1.0]), change, np.array([111.4575, np.nan]))

    assert current == pytest.approx([-1.0, -1.0])


def test_pressure_that_corrects_nothing_is_said():
    """Where the exhaust's pressure was recorded and the bike's file is silent, the reading stays and a note says so."""
    samples = frame(lambda_1=[0.85], exhaust_pressure=[120.0])
    silent = calibrate(samples, {})
    told = calibrate(samples, {}, lambda _: Correction(pressure_share=0.5))

    assert values(silent.samples, "lambda_1") == pytest.approx([0.85])
    assert "pressure_share" in silent.notes[0]
    assert values(told.samples, "lambda_1")[0] > 0.85
    assert "corrected for exhaust_pressure" in told.notes[0]
