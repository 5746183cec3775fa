"""The ring scale: direction, inversion, uncertainty, one-sided facts."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.errors import BadValue
from bridge.model import Reading, ScaleStatement
from bridge.plug.scale import SLOPE_MM, SLOPE_RELATIVE_SD, guess, ring_lambda, scale_for, stated

NOW = datetime(2026, 5, 14, 11, 20, tzinfo=UTC)


def reading(ring="seen", ring_mm=None, sd=None, view="cut"):
    return Reading(
        id=1, plug="A1", session=1, written=NOW, ring=ring, ring_mm=ring_mm, ring_sd_mm=sd, view=view
    )


def statement(*, depth=6.0, sd=1.0, lambda_=0.87, type_="short", nose=14.0, build=1, days=0):
    return ScaleStatement(depth, sd, lambda_, type_, nose, build, NOW + timedelta(days=days))


@given(
    nose=st.floats(6.0, 25.0),
    one=st.floats(0.0, 1.0),
    other=st.floats(0.0, 1.0),
)
def test_a_ring_nearer_the_tip_is_richer(nose, one, other):
    """Of two rings on one nose the one nearer the tip is the richer (common practice)."""
    scale = guess(nose)
    near, far = sorted((one * nose, other * nose))

    assert scale.lambda_at(near)[0] <= scale.lambda_at(far)[0]


@given(lambda_=st.floats(0.7, 1.1))
def test_depth_and_lambda_are_each_other_turned_round(lambda_):
    """The depth of a lambda stands for that lambda."""
    scale = stated(statement())

    assert scale.lambda_at(scale.depth_at(lambda_))[0] == pytest.approx(lambda_)


def test_the_guess_is_wide_and_called_one():
    """Half of the nose stands for 0.88 within 0.05, plus scatter, and the words say that it is assumed."""
    mean, budget = guess(14.0).lambda_at(7.0)

    assert mean == pytest.approx(0.88)
    assert budget.sd == pytest.approx(np.hypot(0.05, 0.01))
    assert guess(14.0).name == "guess"
    assert "assumed" in guess(14.0).assumptions[0]
    assert "not validated" in guess(14.0).assumptions[1]


def test_the_doubt_of_a_stated_scale_holds_the_draws():
    """The budget's variance is that of seeded draws of slope, place and reading (a simulation of our own)."""
    rng = np.random.default_rng(20260514)
    sigma = np.sqrt(np.log1p(SLOPE_RELATIVE_SD**2))
    slope = SLOPE_MM * np.exp(rng.normal(0.0, sigma, 400_000))
    ring = 0.93 + rng.normal(0.0, 0.01, slope.size)
    depth = 6.0 + slope * (ring - 0.87) + rng.normal(0.0, np.hypot(1.0, 0.4), slope.size)
    error = stated(statement()).lambda_at(depth, 0.4)[0] - 0.93

    mean, budget = stated(statement()).lambda_at(9.0, 0.4)

    assert mean == pytest.approx(0.93)
    assert budget.sd == pytest.approx(np.sqrt(np.mean(error**2)), rel=0.03)


def test_doubt_grows_away_from_the_known_place():
    """The farther a ring lies from where the scale is known, the less the slope lets it say."""
    scale = stated(statement())

    assert (
        scale.lambda_at(12.0, 0.4)[1].sd > scale.lambda_at(9.0, 0.4)[1].sd > scale.lambda_at(6.0, 0.4)[1].sd
    )


@pytest.mark.parametrize(
    ("plug_type", "nose_mm", "build"),
    [("long", 14.0, 1), ("short", 12.0, 1), ("short", 14.0, 2), (None, 14.0, 1)],
)
def test_a_statement_holds_for_its_own_plug_and_build_only(plug_type, nose_mm, build):
    """Another plug type, nose length or engine build falls back on the guess."""
    scale = scale_for([statement()], plug_type=plug_type, nose_mm=nose_mm, build=build)

    assert scale.name == "guess"


def test_the_newest_statement_wins():
    """What the tuner said last counts, whatever the order of the list."""
    scale = scale_for(
        [statement(depth=7.0, days=3), statement(depth=5.0)], plug_type="short", nose_mm=14.0, build=1
    )

    assert scale.name == "stated"
    assert scale.place_mm == 7.0


def test_without_a_nose_length_there_is_no_guess():
    """A depth alone stands for nothing where neither nose length nor statement is known."""
    with pytest.raises(BadValue, match="nose_mm under"):
        scale_for([], plug_type=None, nose_mm=None, build=1)


def test_a_ring_without_its_own_sd_gets_that_of_the_view():
    """0.4 mm with the shell cut away, 1.0 mm through its mouth (common practice)."""
    scale = stated(statement(sd=0.0))
    cut, mouth, own = (
        ring_lambda(reading(ring_mm=6.0, view=view, sd=sd), scale, 14.0)
        for view, sd in (("cut", None), ("magnifier", None), ("cut", 1.0))
    )

    assert cut is not None
    assert mouth is not None
    assert own is not None
    assert cut.sd < mouth.sd
    assert own.sd == mouth.sd


def test_no_ring_means_lean_of_the_scale():
    """No ring is leaner than a ring at the seat, and has no upper end."""
    scale = guess(14.0)
    found = ring_lambda(reading("none"), scale, 14.0)

    assert found is not None
    assert (found.mean, found.high, found.one_sided) == (None, None, "leaner")
    assert found.bound == pytest.approx(scale.lambda_at(14.0)[0])
    assert found.bound > scale.lambda_at(7.0)[0]
    assert found.low is not None
    assert found.low < found.bound


def test_all_dark_means_rich_of_the_scale():
    """A nose dark all over is richer than a ring at the tip, and has no lower end."""
    scale = guess(14.0)
    found = ring_lambda(reading("all-dark"), scale, 14.0)

    assert found is not None
    assert (found.mean, found.low, found.one_sided) == (None, None, "richer")
    assert found.bound < scale.lambda_at(7.0)[0]
    assert found.high is not None
    assert found.high > found.bound


def test_what_was_not_seen_stands_for_nothing():
    """A ring nobody saw has no lambda, nor has "no ring" on a nose of unknown length."""
    assert ring_lambda(reading("not-seen"), guess(14.0), 14.0) is None
    assert ring_lambda(reading("none"), stated(statement(nose=None)), None) is None


def test_a_scale_says_what_it_rests_on():
    """In JSON and in words the stated scale shows its place, its slope and their doubts."""
    scale = stated(statement())

    assert scale.to_json()["scale"] == "stated"
    assert scale.to_json()["place_mm"] == 6.0
    assert scale.to_json()["slope_mm_per_lambda"] == SLOPE_MM
    assert "6.0 mm" in scale.in_words()[0]
    assert any("not validated" in text for text in scale.in_words())
