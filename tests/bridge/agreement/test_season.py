"""A bike's season: each ring judged by a scale that has not seen its session, and what all pairs say together."""

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from bridge.agreement.kept import Kept
from bridge.agreement.pairs import LeftOut
from bridge.agreement.season import About, Filters, Gathered, SeasonPair, season
from bridge.channels.sensor import SensorEvent
from bridge.errors import BadValue
from bridge.model import ScaleStatement
from bridge.plug.ring_fit import RingPair

START = datetime(2026, 4, 1, 9, 0, tzinfo=UTC)
NOSE_MM = 14.0
SLOPE_MM = 52.0


def bike_season(
    sessions=10, cylinders=2, *, seed=1, noise_mm=0.4, sensor=lambda _session, _cylinder: 0.0, **about
):
    """Return an invented bike's pairs: ring depths by a straight law of the true lambda, the sensor off by some."""
    random = np.random.default_rng(seed)
    pairs = []
    for number in range(1, sessions + 1):
        at = START + timedelta(days=7 * number)
        session = About(number, at, "Weir 400", 4, 1, "Weir", "e5", 0.03)
        session = replace(session, **{key: value(number) for key, value in about.items()})
        jets = random.uniform(-0.04, 0.04)
        for cylinder in range(1, cylinders + 1):
            true = 0.87 + jets + 0.01 * random.standard_normal()
            depth = 7.0 + SLOPE_MM * (true - 0.87 + 0.005 * random.standard_normal())
            pair = RingPair(
                session=number,
                cylinder=cylinder,
                lambda_=true + sensor(number, cylinder) + 0.003 * random.standard_normal(),
                lambda_sd=0.003,
                depth_mm=depth + noise_mm * random.standard_normal(),
                depth_sd_mm=noise_mm,
            )
            kept = Kept(pair, f"P{number}-{cylinder}", "short", NOSE_MM, session.build)
            pairs.append(SeasonPair(kept, session, 0.011, 0.005, {"main_jet": 160.0 + 5.0 * (number % 2)}))
    return Gathered(tuple(pairs), (), {pair.about.session: pair.about for pair in pairs}, {})


def test_a_sound_bike_agrees_on_average_and_its_limits_are_its_noise():
    """Of a sound bike the bias holds zero, the line has slope one, and nothing drifts."""
    found = season(bike_season(20))

    assert (found.scale, len(found.points), found.bland_altman.sessions) == ("pairs", 40, 20)
    low, high = found.bias_interval
    assert low < 0.0 < high
    assert found.equivalent is True
    # 0.4 mm on 52 mm for each 1.00, and the scatter of 0.005
    assert found.bland_altman.sd == pytest.approx(np.hypot(0.4 / SLOPE_MM, 0.006), rel=0.35)
    assert found.deming.slope_low < 1.0 < found.deming.slope_high
    assert found.deming.ratio > 1.0
    assert found.concordance.value > 0.8
    assert not found.drift.shown
    assert found.turn is None


def test_a_pair_is_judged_by_a_scale_that_has_not_seen_its_session():
    """Moving the rings of one session moves their own lambda as the slope says: the scale did not follow them."""
    plain = bike_season(8)
    moved = tuple(
        replace(
            pair,
            kept=replace(pair.kept, pair=replace(pair.kept.pair, depth_mm=pair.kept.pair.depth_mm + 2.0)),
        )
        if pair.about.session == 5
        else pair
        for pair in plain.pairs
    )
    before, after = season(plain).points, season(replace(plain, pairs=moved)).points
    shifts = [b.ring - a.ring for a, b in zip(before, after, strict=True) if a.session == 5]

    assert shifts == pytest.approx([2.0 / SLOPE_MM] * 2, rel=0.2)
    assert shifts[0] == pytest.approx(shifts[1], rel=0.1)
    # and the scale of the other sessions, which has seen them, moved the other way
    others = [b.ring - a.ring for a, b in zip(before, after, strict=True) if a.session != 5]
    assert np.mean(others) < 0.0


def test_a_constant_error_of_the_sensor_is_no_bias_here_and_said_so():
    """An error that the sensor has all season is in the scale too: no bias shows it, and the words say that."""
    found = season(bike_season(12, sensor=lambda _s, _c: 0.04))

    assert abs(found.bland_altman.bias) < 0.01
    assert any("stands on the same sensor" in text for text in found.in_words())
    assert "stands on the same sensor" in found.to_json()["methods"]["bland_altman"]["cannot_show"][0]


def test_the_absolute_bias_shows_a_constant_error_by_a_statement():
    """By the tuner's own statement the same error is there, with its sign, and sound sensors have none."""
    statement = ScaleStatement(7.0, 0.2, 0.87, "short", NOSE_MM, 1, START)
    for error in (0.0, 0.06, -0.06):
        gathered = bike_season(12, sensor=lambda _s, _c, by=error: by)
        (one,) = season(replace(gathered, statements={"Weir 400": (statement,)})).absolute
        assert one.scale == "stated"
        assert one.bias.low < -error < one.bias.high
        wanted = "agree" if error == 0.0 else "ring richer" if error > 0.0 else "ring leaner"
        assert one.bias.verdict == wanted


def test_an_ageing_sensor_drifts_and_a_replaced_one_jumps():
    """A sensor that reads ever leaner drifts gradually; a replaced one jumps, and the replacement is named."""
    ageing = season(bike_season(14, sensor=lambda s, _c: 0.006 * s, noise_mm=0.2))
    new = SensorEvent(
        what="replaced", at=START + timedelta(days=7 * 8 - 2), cylinder=None, value=None, sd=None
    )
    changed = season(
        bike_season(
            14,
            seed=4,
            sensor=lambda s, _c: 0.0 if s < 8 else 0.06,
            noise_mm=0.2,
            sensor_events=lambda s: (new,) if s >= 8 else (),
        )
    )

    assert (ageing.drift.shown, ageing.drift.pattern) == (True, "gradual")
    assert ageing.drift.after < ageing.drift.before  # the sensor leaner is the ring richer
    assert (changed.drift.pattern, changed.turn.last, changed.turn.first) == ("jump", 7, 8)
    assert changed.turn.changed == ("the sensor: replaced on 2026-05-25",)
    assert any("ages" in text for text in ageing.in_words())
    assert any("replaced on 2026-05-25" in text for text in changed.in_words())


def test_one_cylinder_that_drifts_is_named():
    """Where the sensor of one cylinder alone ages, that cylinder's sum crosses its limit and the other's does not."""
    found = season(bike_season(16, sensor=lambda s, c: 0.007 * s if c == 2 else 0.0, noise_mm=0.2))

    assert found.drift_by_cylinder[2].shown
    assert not found.drift_by_cylinder[1].shown


def test_one_sided_readings_are_left_out_of_the_figures_and_kept_in_the_scale():
    """No ring has no difference, is named among what was left out, and still stands in the scale of the others."""
    plain = bike_season(6)
    first = plain.pairs[0].kept
    bare = replace(first, pair=replace(first.pair, depth_mm=NOSE_MM, one_sided="leaner"))
    found = season(replace(plain, pairs=(replace(plain.pairs[0], kept=bare), *plain.pairs[1:])))

    assert len(found.points) == len(plain.pairs) - 1
    assert [one.why for one in found.left_out if "no ring" in one.why]
    assert {point.scale_pairs for point in found.points if point.session != 1} == {10}


def test_all_censored_readings_say_what_they_cannot():
    """Where no ring was seen at all there is nothing to reckon, and words and JSON say so without failing."""
    plain = bike_season(6)
    dark = tuple(
        replace(pair, kept=replace(pair.kept, pair=replace(pair.kept.pair, depth_mm=0.0, one_sided="richer")))
        for pair in plain.pairs
    )
    found = season(replace(plain, pairs=dark))
    document = found.to_json()

    assert (document["pairs"], document["bias"], document["equivalent"]) == (0, None, None)
    assert len(document["left_out"]) == 12
    assert "no pair" in found.in_words()[0]
    assert all(method["because"] for method in document["methods"].values())


@pytest.mark.parametrize("count", [0, 1, 2])
def test_too_few_pairs_say_what_they_cannot(count):
    """Without a pair, with one, with two alike: no agreement is claimed, and the scale that stood in is named."""
    plain = bike_season(2, cylinders=1)
    pairs = tuple(
        replace(plain.pairs[i], kept=replace(plain.pairs[0].kept, plug=f"P{i}")) for i in range(count)
    )
    found = season(replace(plain, pairs=pairs))
    document = found.to_json()

    assert document["pairs"] == count
    assert document["equivalent"] is not True
    assert document["limit_low"] is None
    assert document["scale"] == (None if count == 0 else "guess")
    json.dumps(document, allow_nan=False)
    if count:
        # the guess's own error is in the interval, which scatter would not show
        assert document["bias_high"] - document["bias_low"] > 0.15
        assert "starting guess" in found.in_words()[0]


def test_pairs_of_another_plug_make_no_scale_for_this_one():
    """A lone session on another plug type, nose or build is left out with its reason."""
    plain = bike_season(6)
    for change in ({"plug_type": "long"}, {"nose_mm": 12.0}, {"build": 2}):
        lone = tuple(
            replace(pair, kept=replace(pair.kept, **change)) if pair.about.session == 6 else pair
            for pair in plain.pairs
        )
        found = season(replace(plain, pairs=lone))
        assert {point.session for point in found.points} == {1, 2, 3, 4, 5}
        assert [one.session for one in found.left_out if "too few to make a scale" in one.why] == [6, 6]


def test_filters_choose_pairs_and_not_what_the_scale_stands_on():
    """Filters by place, dates, set-up and fuel choose what is looked at; the scale still stands on all others."""
    gathered = bike_season(
        8, place=lambda s: "Weir" if s < 5 else "Mole", fuel=lambda s: "e5" if s < 7 else "e10"
    )
    weir = season(gathered, Filters(place="Weir"))

    assert ({p.session for p in weir.points}, weir.not_asked) == ({1, 2, 3, 4}, 8)
    assert {p.scale_pairs for p in weir.points} == {14}
    by_date = season(
        gathered, Filters(from_date=START + timedelta(days=20), to_date=START + timedelta(days=40))
    )
    assert {p.session for p in by_date.points} == {3, 4, 5}
    assert {p.session for p in season(gathered, Filters(setup=("main_jet", "160"))).points} == {2, 4, 6, 8}
    assert {p.session for p in season(gathered, Filters(fuel="e10", strokes=4, build=1)).points} == {7, 8}


def test_readings_after_a_pull_can_be_looked_at_alone():
    """The pairs cut at a pull's end, the others, and a kind that there is none of."""
    plain = bike_season(6)
    with_pulls = replace(
        plain,
        pairs=tuple(
            replace(
                one,
                kept=replace(one.kept, pair=replace(one.kept.pair, pull_share=0.9 * (one.about.session > 3))),
            )
            for one in plain.pairs
        ),
    )
    after = season(with_pulls, Filters(cut_after="pull"))
    others = season(with_pulls, Filters(cut_after="ride"))

    assert {point.session for point in after.points} == {4, 5, 6}
    assert {point.session for point in others.points} == {1, 2, 3}
    assert {point.pull_share for point in after.points} == {0.9}
    assert max(point.ring_sd for point in after.points) < min(point.ring_sd for point in others.points)
    assert after.to_json()["filters"]["cut_after"] == "pull"
    with pytest.raises(BadValue, match="kind of cut"):
        season(plain, Filters(cut_after="pull"))


def test_a_filter_that_fits_no_pair_ever_is_refused_with_what_there_is():
    """A misspelt place, fuel, plug type or key of the set-up is refused in one sentence that names the nearest."""
    gathered = bike_season(4)
    for filters, hint in (
        (Filters(place="Wier"), "did you mean 'Weir'"),
        (Filters(fuel="e85"), "e5"),
        (Filters(plug_type="long"), "short"),
        (Filters(setup=("main jet", "160")), "did you mean 'main_jet'"),
        (Filters(build=3), "there is 1"),
    ):
        with pytest.raises(BadValue, match=hint):
            season(gathered, filters)


def test_what_was_left_out_is_said_with_its_reason():
    """Every reading that made no pair stands in words and JSON with session, cylinder and reason."""
    left = (
        LeftOut(3, 2, "B7", "plug B7 was used when it was fitted"),
        LeftOut(9, None, None, "no plug was read after it"),
    )
    found = season(replace(bike_season(5), left_out=left))
    words = " ".join(found.in_words())

    assert "session 3 cylinder 2: plug B7 was used" in words
    assert "session 9: no plug was read after it" in words
    assert found.to_json()["left_out"][0] == {
        "session": 3,
        "cylinder": 2,
        "plug": "B7",
        "why": "plug B7 was used when it was fitted",
    }


def test_the_document_holds_what_the_contract_names():
    """The keys that scripts rely on are there, plain, with their numbers in order."""
    document = season(bike_season(10)).to_json()
    json.dumps(document, allow_nan=False)

    assert document["pairs"] == 20
    assert document["limit_low"] < document["bias_low"] < document["bias"] < document["bias_high"]
    assert document["bias_high"] < document["limit_high"]
    assert {"slope", "intercept", "equivalent", "left_out", "margin"} <= set(document)
    assert document["points"][0]["difference"] == pytest.approx(
        document["points"][0]["ring"] - document["points"][0]["measured"]
    )


def test_each_points_interval_holds():
    """Of many sound bikes' points, judged by scales of their other sessions, 95 % of the intervals hold zero."""
    inside = []
    for seed in range(25):
        for point in season(bike_season(6, seed=100 + seed)).points:
            inside.append(point.low <= 0.0 <= point.high)  # noqa: PERF401  # reads best as it is

    assert len(inside) == 300
    assert np.mean(inside) > 0.92


def test_two_sessions_that_are_off_are_told_apart_and_drag_nothing_along():
    """Two leaks in different cylinders: both named, the slope stays, and without them the limits are the noise's."""

    def leaks(session, cylinder):
        return {(4, 1): 0.09, (9, 2): 0.07}.get((session, cylinder), 0.0)

    found = season(bike_season(12, sensor=leaks))
    sound = season(bike_season(12))

    (off,) = found.off
    assert off.holds(4, 1)
    assert off.holds(9, 2)
    assert not off.holds(4, 2)
    assert sound.off == ()
    assert found.without_off.sd < 0.6 * found.bland_altman.sd
    assert found.without_off.sd == pytest.approx(sound.bland_altman.sd, rel=0.4)
    kept = [p.difference for p in found.points if not off.holds(p.session, p.cylinder)]
    assert max(map(abs, kept)) < 0.04
    assert "Likely off by itself" in " ".join(found.in_words())
