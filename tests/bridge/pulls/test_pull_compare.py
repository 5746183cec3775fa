"""Comparing pulls before and after a change: the gain, its interval, and the plain answer where there is none."""

from dataclasses import replace

import numpy as np
import polars as pl
import pytest

from bridge.errors import BadValue
from bridge.model import Brake, Setup, Weather
from bridge.pulls import pulls_of
from bridge.pulls.compare import compare
from tests.bridge.pulls.dyno_days import BIKE, day


def side(number, scales, **what):
    """A session's pulls."""
    return pulls_of(day(scales, number=number, **what), ask_ride=False)


def test_a_gain_of_six_percent_is_shown():
    """Three runs before and three after, 6 % apart and steady: a gain is shown and its interval holds 6 %."""
    found = compare([side(1, [1.0, 1.001, 0.999])], [side(2, [1.06, 1.059, 1.061])])

    assert found.shown
    assert found.low < 6.0 < found.high
    assert "A gain is shown" in found.statement
    assert found.corrected_by.startswith("ISO 1585")
    assert found.curve["gain_percent"].mean() == pytest.approx(6.0, abs=0.7)
    assert found.curve["after_kw"].mean() > found.curve["before_kw"].mean()


def test_a_loss_is_shown_as_one():
    """The other way round it is a loss."""
    found = compare([side(1, [1.06, 1.059, 1.061])], [side(2, [1.0, 1.001, 0.999])])

    assert found.shown
    assert found.high < 0.0
    assert "A loss is shown" in found.statement


def test_no_difference_is_said_plainly():
    """Where runs scatter by a percent and a half and nothing changed, the answer is that no difference was shown."""
    found = compare([side(1, [1.0, 1.015, 0.985])], [side(2, [1.01, 0.99, 1.0])])

    assert not found.shown
    assert found.low < 0.0 < found.high
    assert found.statement.startswith("No difference shown")


def test_two_runs_a_side_are_no_claim():
    """With two runs on a side the means are told and no interval, whatever they are apart."""
    found = compare([side(1, [1.0, 1.0])], [side(2, [1.2, 1.2, 1.2])])

    assert (found.shown, found.low, found.high) == (False, None, None)
    assert found.gain_percent == pytest.approx(20.0, abs=1.0)
    assert "it takes 3" in found.statement


def test_a_warm_up_is_no_gain():
    """An engine that gains a percent a run while it warms, on both days alike, has not gained by the change."""
    found = compare([side(1, [1.0, 1.01, 1.02])], [side(2, [1.0, 1.01, 1.02])])

    assert not found.shown
    assert found.trend_percent == pytest.approx(1.0, abs=0.2)
    assert found.low < 0.0 < found.high


def test_a_day_that_goes_on_is_no_gain():
    """Power that grows by a percent from run to run over both sessions is the day's course, not the change's worth."""
    found = compare([side(1, [1.0, 1.01, 1.02])], [side(2, [1.03, 1.04, 1.05])])

    assert not found.shown
    assert not found.alternates
    assert any("cannot be told apart" in note for note in found.notes)


def test_going_back_tells_the_day_from_the_change():
    """Before, after, after, before: the same drift of a percent a run, and a change of 4 % is shown all the same."""
    rng = np.random.default_rng(1)
    day_ = 1.01 ** np.arange(12) * (1.0 + rng.normal(0.0, 0.002, 12))
    before = [side(1, day_[:3]), side(4, day_[9:])]
    after = [side(2, 1.04 * day_[3:6]), side(3, 1.04 * day_[6:9])]
    found = compare(before, after)

    assert found.alternates
    assert found.shown
    assert found.low < 4.0 < found.high
    assert found.high - found.low < 2.0


def test_runs_that_cannot_count_are_named():
    """A run that began outside the stated window is left out and named; the rest is compared."""
    bike = BIKE.model_copy(update={"pulls": BIKE.pulls.model_copy(update={"start_low_c": 70.0})})
    heads = [80.0, 80.0, 80.0, 80.0]
    one = side(1, [0.9, 1.0, 1.001, 0.999], bike=bike, heads=[40.0, *heads[1:]])
    found = compare([one], [side(2, [1.06, 1.061, 1.059], bike=bike, heads=heads[1:])])

    assert found.shown
    assert [entry.left_out is None for entry in found.entries] == [False, True, True, True, True, True, True]
    assert any("pull 1 is left out" in note for note in found.notes)


def test_other_weather_is_said_not_to_be_put_right():
    """Hotter, thinner air after the change made the mixture richer, and no correction of power undoes that."""
    hot = Setup(kind="dyno", weather=Weather(air_temp_c=34.0, air_pressure_hpa=985.0, humidity_percent=40.0))
    found = compare([side(1, [1.0, 1.0, 1.0])], [side(2, [1.0, 1.0, 1.0], setup=hot)])

    assert any("richer" in note and "does not put that right" in note for note in found.notes)


def test_one_side_without_weather_leaves_all_as_measured():
    """Where one side cannot be corrected, nothing is: figures by different means are never compared."""
    found = compare([side(1, [1.0, 1.0, 1.0])], [side(2, [1.0, 1.0, 1.0], setup=Setup(kind="dyno"))])

    assert found.corrected_by is None
    assert any("as measured" in note for note in found.notes)


def test_what_cannot_be_compared_is_refused():
    """A session on both sides, sessions without power, sessions without a pull: one sentence each."""
    one = side(1, [1.0, 1.0, 1.0])
    blind = pulls_of(day([1.0], number=3, keep=["t_s", "rpm", "throttle"]), ask_ride=False)

    with pytest.raises(BadValue, match="named twice"):
        compare([one], [one])
    with pytest.raises(BadValue, match="roller_rpm"):
        compare([one], [blind])
    with pytest.raises(BadValue, match="no pull after the change"):
        compare([one], [pulls_of(day([1.0], number=2), to_s=1.0, ask_ride=False)])


CRANK = BIKE.model_copy(update={"brake": Brake(load_cell="cell", arm_mm=500.0, on="engine")})


def with_brake(number, scales):
    """A session's pulls, told by a brake on the crankshaft."""
    run = day(scales, number=number, bike=CRANK)
    return pulls_of(replace(run, samples=run.samples.with_columns(cell=pl.lit(70.0))), ask_ride=False)


@pytest.mark.parametrize("after", [with_brake(2, [1.0, 1.0, 1.0]), None], ids=["crankshaft", "loss added"])
def test_power_told_in_another_way_is_not_compared(after):
    """A brake's crankshaft against a roller's wheel, or the driveline's loss added on one side: refused, and why."""
    before = side(1, [1.0, 1.0, 1.0, 1.0])
    if after is None:
        run = day([1.0, 1.0, 1.0], number=2, coast_s=30.0, rest_s=40.0)
        after = pulls_of(run, ask_ride=False, add_loss=True)
        assert after.pulls[0].along.at == "wheel, the driveline's loss added"

    with pytest.raises(
        BadValue, match=r"its power is told by the .* that of most by the roller at the wheel"
    ):
        compare([before], [after])


def test_what_was_set_otherwise_is_said():
    """Jet, fuel and timing that differ between the sides stand in a note; written alike, that is said too."""
    setups = [
        Setup.model_validate(
            {
                "kind": "dyno",
                "fuel": fuel,
                "timing_deg": 34.0,
                "weather": {"air_temp_c": temp},
                "all": {"main_jet": jet},
            }
        )
        for fuel, jet, temp in (("e5", 160, 18.0), ("e10", 155, 22.0))
    ]
    other = compare(*([side(n, [1.0, 1.0, 1.0], setup=setup)] for n, setup in enumerate(setups, 1)))
    alike = compare([side(1, [1.0, 1.0, 1.0])], [side(2, [1.0, 1.0, 1.0])])

    assert other.notes[0].endswith("all of it is in the gain: fuel e5 to e10; main_jet 160 to 155")
    assert "nobody wrote down what was changed" in alike.notes[0]
