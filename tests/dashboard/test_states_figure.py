"""The strip of states: what each moment was, along the same time axis as the traces."""

import json
from itertools import pairwise

import numpy as np
import polars as pl
import pytest

from bridge.bands import STATES
from dashboard.figures.reduce import Series
from dashboard.figures.states import (
    COLUMNS,
    LOOKS,
    Stretch,
    look_of,
    shade_trace,
    stretches_of,
    strip_traces,
    within,
)
from dashboard.figures.traces import figure_height, traces_figure


def moments(*parts, rate=50.0):
    """Return samples: (state, seconds) one after another."""
    states = [state for state, seconds in parts for _ in range(round(seconds * rate))]
    return pl.DataFrame({"t_s": np.arange(len(states)) / rate, "state": states})


SERIES = (
    Series("lambda_1", np.array([0.0, 50.0, 100.0]), np.array([0.85, 0.9, 0.95])),
    Series("throttle", np.array([0.0, 50.0, 100.0]), np.array([0.0, 50.0, 100.0])),
)
RIDE = (
    Stretch(0.0, 20.0, "idle"),
    Stretch(20.0, 21.0, "opening"),
    Stretch(21.0, 80.0, "steady"),
    Stretch(80.0, 100.0, "cut"),
)


def test_every_state_has_a_look():
    """Each state that the bridge tells apart is drawn and explained."""
    assert set(STATES) == set(LOOKS)


def test_a_state_of_tomorrow_is_left_out_and_not_lost():
    """A state that has no look of its own is drawn as left out, never as steady."""
    assert look_of("something new").name == "crossed"


def test_only_steady_is_solid():
    """What counts is told apart from all the rest without any colour."""
    assert [state for state, look in LOOKS.items() if look.shape == ""] == ["steady"]


def test_stretches_follow_each_other():
    """Each stretch ends where the next begins, and their lengths are those of the states."""
    found = stretches_of(moments(("idle", 4.0), ("opening", 0.5), ("steady", 10.0)))

    assert [s.state for s in found] == ["idle", "opening", "steady"]
    assert [s.to_s - s.from_s for s in found[:2]] == pytest.approx([4.0, 0.5])
    assert all(a.to_s == b.from_s for a, b in pairwise(found))


def test_a_hole_in_the_log_is_no_state():
    """Across a hole of more than a second nobody knows, so the strip is open there."""
    frame = moments(("steady", 10.0)).filter(~pl.col("t_s").is_between(4.0, 6.0))
    before, after = stretches_of(frame)

    assert before.to_s < 4.0
    assert after.from_s > 6.0


def test_no_samples_no_stretches():
    """An empty session has no stretches, and a figure of it has no strip."""
    assert (
        stretches_of(pl.DataFrame({"t_s": [], "state": []}, schema={"t_s": pl.Float64, "state": pl.String}))
        == ()
    )
    assert strip_traces((), "y90", "light") == []


def test_a_window_cuts_the_stretches():
    """Zoomed in, only what lies in the window is drawn, to its edges."""
    found = within(RIDE, (10.0, 30.0))

    assert [(s.from_s, s.to_s) for s in found] == [(10.0, 20.0), (20.0, 21.0), (21.0, 30.0)]


def test_very_many_stretches_become_a_screenful():
    """Thousands of changes are thinned to what a screen has columns for, over the same span and in order."""
    many = tuple(Stretch(n * 0.1, (n + 1) * 0.1, "opening" if n % 2 else "closing") for n in range(20_000))
    found = within(many, None)

    assert len(found) <= COLUMNS
    assert (found[0].from_s, found[-1].to_s) == pytest.approx((0.0, 2000.0))
    assert all(a.to_s == pytest.approx(b.from_s) for a, b in pairwise(found))


def test_the_ground_is_clear_where_it_counts():
    """The pale ground lies on all that was not steady, and nowhere else."""
    (ground,) = shade_trace(RIDE, "y91", "light")
    edges = [x for x in ground["x"] if x is not None]

    assert not any(21.0 < x < 80.0 for x in edges)
    assert edges[0] == 0.0
    assert edges[-2] == 100.0


def test_the_pointer_says_the_state():
    """Wherever the pointer is, an unseen point near it has the state's own name."""
    words = strip_traces(RIDE, "y90", "light")[-1]
    near = int(np.argmin(np.abs(np.array(words["x"]) - 50.0)))

    assert words["text"][near] == "steady"
    assert np.max(np.diff(words["x"])) < 1.0


def test_the_strip_makes_room_for_itself():
    """With states the figure is higher by the strip, and no panel reaches into it."""
    plain = traces_figure(SERIES, (), "light", None)
    shaded = traces_figure(SERIES, (), "light", None, RIDE)
    strip = shaded["layout"]["yaxis90"]["domain"]

    assert plain["layout"]["height"] == figure_height(2)
    assert shaded["layout"]["height"] > plain["layout"]["height"]
    assert shaded["layout"]["yaxis"]["domain"][1] < strip[0] < strip[1] == 1.0


def test_the_ends_of_lambda_are_named():
    """The lambda panel alone says which end is lean, above, and which is rich."""
    notes = {
        note["text"]: note["y"] for note in traces_figure(SERIES, (), "light", None)["layout"]["annotations"]
    }

    assert notes["lean"] > notes["rich"]
    other = traces_figure(SERIES[1:], (), "light", None)["layout"]["annotations"]
    assert not any(note["text"] in ("lean", "rich") for note in other)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_figure_is_plain_values(scheme):
    """The states are plain values that any page can be sent."""
    assert json.dumps(traces_figure((), (), scheme, None, RIDE))
