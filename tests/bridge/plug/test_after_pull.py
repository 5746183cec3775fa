"""A plug cut at the end of a pull: when it is one, how much of its ring pulls printed, and what that weighs."""

import math
from dataclasses import replace
from datetime import timedelta

import numpy as np
import polars as pl
import pytest

from bridge.agreement.compare import compare
from bridge.agreement.kept import Kept
from bridge.agreement.pairs import pairs_of
from bridge.model import Mark, PullSettings
from bridge.plug.after_pull import cut_after_pull, pulls_in
from bridge.plug.lived import live_through
from bridge.plug.ring_fit import RingPair
from bridge.plug.scale import SCATTER, SCATTERS
from bridge.plug.validity import judge
from tests.virtual_runs import BIKE, NOW, life, reading, run_of

HZ = 25.0
SINGLE = BIKE.model_copy(update={"cylinders": 1})


def part(seconds, throttle, from_rpm, to_rpm):
    """Return a stretch of throttle and revs, a row each."""
    rows = round(seconds * HZ)
    return np.column_stack([np.full(rows, float(throttle)), np.linspace(from_rpm, to_rpm, rows)])


PULL = part(10.0, 100, 4000, 9500)
REST = part(20.0, 30, 5000, 4000)
CUT = part(1.0, 100, 9500, 100)
STANDS = part(5.0, 0, 0, 0)


def day(*parts, bike=SINGLE, marks=(), **changes):
    """Return a run of some stretches, and its single plug's life."""
    rows = np.vstack(parts)
    random = np.random.default_rng(3)
    frame = pl.DataFrame(
        {
            "t_s": np.arange(len(rows)) / HZ,
            "throttle": rows[:, 0],
            "rpm": rows[:, 1],
            "lambda_1": np.where(rows[:, 0] > 95.0, 0.87, 0.93) + random.normal(0.0, 0.004, len(rows)),
        }
    )
    run = run_of(frame, bike=bike, marks=marks)
    return run, life(run, **changes)


def found(run, plug):
    """Return what a reading was cut after."""
    lived = live_through(plug.runs, 1)
    return cut_after_pull(run, lived, judge(plug, lived), pulls_in(run))


def end_of(*parts):
    """Return the second at which some stretches end."""
    return sum(len(one) for one in parts) / HZ


def test_a_clean_cut_at_the_end_of_a_pull_is_one():
    """Three pulls and a cut at the last one's end: told with its number and revs, nearly all of its ring by pulls."""
    run, plug = day(REST, PULL, REST, PULL, REST, PULL, CUT, STANDS)
    after = found(run, plug)

    assert after is not None
    assert (after.number, after.chop_s, after.outside) == (3, None, ())
    assert after.rpm_from == pytest.approx(4000.0, abs=300.0)
    assert after.rpm_to == pytest.approx(9500.0, abs=300.0)
    assert after.exposure > 0.9
    assert after.pull_share == after.exposure


def test_a_marked_chop_counts_where_the_engine_ran_down_in_gear():
    """Throttle shut and clutch in two seconds after the pull: with the rider's mark a chop, without it none."""
    run_down = part(3.0, 0, 9500, 450)
    parts = (REST, PULL, REST, PULL)
    unmarked = found(*day(*parts, run_down, STANDS))
    marked = found(*day(*parts, run_down, STANDS, marks=(Mark(end_of(*parts) + 2.0, "chop", "hand"),)))

    assert unmarked is None
    assert marked is not None
    assert marked.chop_s == pytest.approx(2.0, abs=0.3)


@pytest.mark.parametrize("seconds_before", [3.8, 0.0])
def test_a_mark_does_not_outweigh_the_log(seconds_before):
    """A chop marked at the pull's end, or after it, with four seconds of part throttle between pull and stand."""
    parts = (REST, PULL, REST, PULL)
    rides_on = part(4.0, 30, 6000, 5000)
    mark = Mark(end_of(*parts) + 4.0 - seconds_before, "chop", "hand")

    assert found(*day(*parts, rides_on, part(1.0, 0, 5000, 0), STANDS, marks=(mark,))) is None


def test_revs_held_at_the_top_belong_to_the_pull():
    """Two seconds at the top before the cut are still its end, and what they printed is known as well."""
    after = found(*day(REST, PULL, part(2.0, 100, 9500, 9500), CUT, STANDS))

    assert after is not None
    assert after.exposure > 0.9


@pytest.mark.parametrize(
    "parts",
    [
        (REST, part(12.0, 100, 8000, 8200), CUT, STANDS),
        (REST, PULL, REST, part(6.0, 100, 8000, 8200), CUT, STANDS),
        (REST, PULL, REST, PULL, part(7.0, 100, 9500, 9500), CUT, STANDS),
        (REST, PULL, PULL, part(40.0, 30, 5000, 4500), STANDS),
        (REST, PULL, REST, PULL),
    ],
    ids=[
        "one speed",
        "another full throttle after the pull",
        "held long at the top",
        "ridden in",
        "no cut in the log",
    ],
)
def test_anything_else_is_none(parts):
    """No pull, a pull that was not the last full throttle, a ride in, a log that ends too soon: as any other."""
    assert found(*day(*parts)) is None


def test_an_invalid_reading_is_none():
    """A plug that was coloured already is not valid, whatever it was cut after."""
    assert found(*day(REST, PULL, REST, PULL, CUT, STANDS, state="used")) is None


def test_what_else_printed_the_ring_takes_its_share():
    """A long steady full throttle before the pulls leaves them a smaller share, and an old one a larger share again."""
    steady = part(30.0, 100, 8000, 8200)
    shares = []
    for between in ((), (part(120.0, 30, 5000, 4500),)):
        after = found(*day(REST, steady, REST, *between, PULL, CUT, STANDS))
        assert after is not None
        shares.append(after.exposure)

    assert 0.1 < shares[0] < 0.5 < shares[1] < 0.95


def test_a_pull_outside_the_stated_window_weighs_as_any_other():
    """Begun too soon after the one before, by the bike's own window: said, and no share of it counts."""
    bike = SINGLE.model_copy(update={"pulls": PullSettings(rest_low_s=60.0)})
    run, plug = day(REST, PULL, REST, PULL, CUT, STANDS, bike=bike)
    after = found(run, plug)
    one = compare(run, [plug]).cylinders[0]

    assert after is not None
    assert after.outside
    assert after.pull_share == 0.0
    assert after.exposure > 0.8
    assert any("weighs no more than any other reading" in note for note in one.notes)


def scatter_of(one):
    """Return the scatter in the budget of a cylinder's ring."""
    return next(part.sd for part in one.ring.budget.components if part.name == SCATTERS)


def test_the_session_s_answer_weighs_it_and_says_so():
    """Its ring is surer than that of a long chop with the same depth, the pair has it too, words and JSON tell it."""
    pull = day(REST, PULL, REST, PULL, REST, PULL, CUT, STANDS)
    ride = day(REST, part(30.0, 100, 8000, 8200), CUT, STANDS)
    weighed, usual = (compare(run, [replace(plug, reading=reading())]) for run, plug in (pull, ride))
    one, other = weighed.cylinders[0], usual.cylinders[0]
    (pair,), _ = pairs_of(weighed, 1)
    told = weighed.to_json()["cylinders"][0]["after_pull"]

    assert one.ring.mean == other.ring.mean
    assert scatter_of(other) == SCATTER
    assert 0.75 * SCATTER < scatter_of(one) < 0.82 * SCATTER
    assert one.ring.high - one.ring.low < other.ring.high - other.ring.low
    assert pair.pair.pull_share == one.pull_share > 0.9
    assert (told["number"], told["pull_share"]) == (3, one.pull_share)
    assert usual.to_json()["cylinders"][0]["after_pull"] is None
    assert any("so it weighs more" in note and f"{scatter_of(one):.4f}" in note for note in one.notes)
    assert not any("weighs more" in note for note in other.notes)
    assert math.isclose(other.pull_share, 0.0)


def test_the_scatter_that_is_said_is_that_of_the_answer():
    """With enough pairs of its own the note gives the fitted scatters; before that the assumed ones, and says which."""
    run, plug = day(REST, PULL, REST, PULL, REST, PULL, CUT, STANDS)
    kept = [
        Kept(
            RingPair(
                number, 1, lambda_, 0.001, 6.0 + 50.0 * (lambda_ - 0.87), 0.4, pull_share=0.9 * (number > 4)
            ),
            f"P{number}",
            "short",
            14.0,
            1,
            None,
            NOW - timedelta(days=10 - number),
        )
        for number, lambda_ in enumerate(np.linspace(0.85, 0.89, 6), 2)
    ]
    bare = compare(run, [plug]).cylinders[0]
    fitted = compare(run, [plug], pairs=kept).cylinders[0]
    scale = fitted.departed.scale

    assert any("0.0100 (assumed" in note for note in bare.notes)
    less = scale.scatter_of(fitted.pull_share)
    said = f"of {less:.4f} lambda instead of {scale.scatter:.4f} (fitted on the bike's own pairs)"
    assert any(said in note for note in fitted.notes)
    assert not any("assumed, until" in note for note in fitted.notes)
