"""A bike's ring scale as it stands: guess, statement and pairs apart, and one history for whoever asks."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from bridge.agreement.bike_history import TWO_STROKES_APART, bike_history
from bridge.agreement.history import SENSORS_APART
from bridge.agreement.scales import layers
from bridge.agreement.season import season
from bridge.model import ScaleStatement
from tests.bridge.agreement.test_season import NOSE_MM, bike_season

STATED = ScaleStatement(7.0, 0.3, 0.87, "short", NOSE_MM, 1, datetime(2026, 3, 1, tzinfo=UTC))
PLUG = {"plug_type": "short", "nose_mm": NOSE_MM, "build": 1, "strokes": 4}


def width(curve, depth_mm):
    """Return how wide a curve's band is at a depth [1]."""
    at = min(range(len(curve.depth_mm)), key=lambda i: abs(curve.depth_mm[i] - depth_mm))
    return curve.high[at] - curve.low[at]


def test_the_scale_starts_wide_and_narrows():
    """At the middle of the nose the guess is the widest, the statement narrower, twenty pairs narrower still."""
    made = layers(bike_season(10).of_bike("Weir 400"), [STATED], **PLUG)

    assert [curve.name for curve in made.curves] == ["guess", "stated", "pairs"]
    guess, stated, pairs = (width(curve, 7.0) for curve in made.curves)
    assert guess > 2.0 * stated
    assert stated > pairs
    assert made.fitted.slope_mm == pytest.approx(52.0, rel=0.25)
    assert len(made.pairs) == 20


def test_without_a_pair_there_is_no_fit_and_pairs_of_another_plug_do_not_count():
    """No pair, or pairs of another plug type, leave the guess alone, and it is said."""
    for kept, plug in (([], PLUG), (bike_season(5).of_bike("Weir 400"), PLUG | {"plug_type": "long"})):
        made = layers(kept, [], **plug)
        assert [curve.name for curve in made.curves] == ["guess"]
        assert made.fitted is None
        assert "No valid pair" in made.in_words()[0]


def test_a_session_that_is_off_is_named_and_hardly_counted():
    """One leak of 0.09 among ten sessions: told with its probability, and the slope stays."""
    leak = bike_season(10, sensor=lambda session, cylinder: 0.09 if (session, cylinder) == (5, 2) else 0.0)
    made = layers(leak.of_bike("Weir 400"), [], **PLUG)

    assert any(one.holds(5, 2) for one in made.off)
    assert made.fitted.slope_mm == pytest.approx(52.0, rel=0.25)
    assert any("session 5 in cylinder 2" in words for words in made.in_words())


def test_pairs_cut_at_a_pulls_end_are_counted_and_said():
    """Two of twenty pairs by pulls alone: said with the scatter that they count with, which is the smaller one."""
    kept = [
        replace(one, pair=replace(one.pair, pull_share=float(one.pair.session == 10)))
        for one in bike_season(10).of_bike("Weir 400")
    ]
    made = layers(kept, [], **PLUG)
    words = made.of_pairs()

    assert made.fitted.pull_scatter < made.fitted.scatter
    assert "2 of them were cut at a pull's end" in words
    assert f"with a scatter of {made.fitted.pull_scatter:.3f} lambda" in words
    assert "cut at a pull's end" not in layers(bike_season(10).of_bike("Weir 400"), [], **PLUG).of_pairs()


def test_a_two_strokes_sensors_may_stand_further_apart():
    """The same pairs on a two-stroke leave more room between its cylinders' sensors."""
    kept = bike_season(6).of_bike("Weir 400")
    four, two = (bike_history(kept, [], **PLUG | {"strokes": strokes}) for strokes in (4, 2))

    assert (four.apart_sd, two.apart_sd) == (SENSORS_APART, TWO_STROKES_APART)
    assert two.apart(1)[1] > four.apart(1)[1]


def test_the_season_judges_a_session_by_the_history_that_compare_has():
    """The season's ring lambda of a session is that of the bike's history without it, to the last digit."""
    gathered = bike_season(8)
    point = next(one for one in season(gathered).points if (one.session, one.cylinder) == (3, 1))
    known = bike_history(gathered.of_bike("Weir 400"), [], **PLUG, without=3)

    assert known.pairs == 14
    assert point.ring == known.scale.lambda_at(point.depth_mm, 0.4)[0]
