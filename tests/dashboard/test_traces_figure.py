"""Thinned traces: no peak lost, gaps left open, nothing sent to the web."""

from itertools import pairwise

import numpy as np
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.model import Mark
from dashboard.components.parts import GRAPH_CONFIG
from dashboard.figures.reduce import reduce_window
from dashboard.figures.traces import figure_height, panels, traces_figure


def ride(count=20_000, **columns):
    """Return samples at 100 Hz."""
    t_s = np.arange(count) / 100.0
    return pl.DataFrame({"t_s": t_s, **{name: values(t_s) for name, values in columns.items()}})


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 19_999), st.floats(2.0, 50.0))
def test_a_single_spike_survives(place, height):
    """However long the session, its one highest sample is on the figure, within the stretch that it fell in."""
    frame = ride(rpm=np.zeros_like)
    values = frame["rpm"].to_numpy().copy()
    values[place] = height
    (series,) = reduce_window(frame.with_columns(rpm=pl.Series(values)).lazy(), None)

    assert np.nanmax(series.value) == pytest.approx(height)
    assert series.t_s[np.nanargmax(series.value)] == pytest.approx(place / 100.0, abs=0.3)


def test_a_long_session_is_few_points():
    """Two hundred seconds at 100 Hz come to two points for each of 700 stretches."""
    (series,) = reduce_window(ride(rpm=np.sin).lazy(), None)

    assert len(series.t_s) == 1400
    assert np.all(np.diff(series.t_s) > 0)


def test_a_short_window_is_every_sample():
    """Zoomed in far enough each sample is there as it was."""
    frame = ride(rpm=np.sin)
    (series,) = reduce_window(frame.lazy(), (50.0, 55.0))

    assert len(series.t_s) == 501
    assert np.allclose(series.value, np.sin(series.t_s))


@pytest.mark.parametrize("window", [None, (95.0, 104.0)])
def test_a_gap_is_left_open(window):
    """Where the log has a hole of a second the line is broken, thinned or not."""
    frame = ride(rpm=np.sin).filter(~pl.col("t_s").is_between(100.0, 101.0))
    (series,) = reduce_window(frame.lazy(), window)
    broken = series.t_s[np.isnan(series.value)]

    assert len(broken) == 1
    assert 100.0 < broken[0] < 101.0


def test_a_slow_channel_is_not_broken():
    """A channel with a reading in every tenth row is one line, not loose points."""
    frame = ride(rpm=np.sin).with_columns(egt_1=pl.when(pl.int_range(pl.len()) % 10 == 0).then(pl.lit(600.0)))
    series = {one.name: one for one in reduce_window(frame.lazy(), (50.0, 55.0))}

    assert len(series["egt_1"].value) == 51
    assert not np.isnan(series["egt_1"].value).any()


def test_nothing_is_nothing():
    """An empty log, and a window beside the log, give no traces and still a figure."""
    empty = ride(0, rpm=np.sin)

    assert reduce_window(empty.lazy(), None) == ()
    assert reduce_window(ride(rpm=np.sin).lazy(), (900.0, 901.0)) == ()
    assert traces_figure((), (), "light", None)["data"] == []


def test_mixture_stands_first():
    """Panels come in the order of the trade: mixture, throttle, speed, heat, then the rest."""
    names = ["battery", "egt_2", "egt_1", "rpm", "lambda_2", "throttle", "lambda_1", "my own"]
    found = panels(names)

    assert [panel.title for panel in found] == [
        "Lambda",
        "Throttle, %",
        "Engine speed, rev/min",
        "Exhaust gas, °C",
        "Battery, V",
        "my own",
    ]
    assert found[0].names == ("lambda_1", "lambda_2")


def test_panels_do_not_overlap():
    """Each panel ends above the next one, and the marks stand on the time axis."""
    frame = ride(rpm=np.sin, throttle=np.sin, lambda_1=np.cos, egt_1=np.cos)
    figure = traces_figure(reduce_window(frame.lazy(), None), (Mark(12.0, "chop", "wire"),), "dark", None)
    domains = [figure["layout"][f"yaxis{suffix}"]["domain"] for suffix in ("", "2", "3", "4")]

    assert all(upper[0] > lower[1] for upper, lower in pairwise(domains))
    assert figure["layout"]["shapes"][0]["x0"] == 12.0
    assert figure["layout"]["height"] == figure_height(4)


def test_a_foreign_channel_name_is_no_markup():
    """A channel that a file named with markup is a word in the figure."""
    frame = ride(rpm=np.sin).rename({"rpm": "<a href=x>"})
    figure = traces_figure(reduce_window(frame.lazy(), None), (), "light", None)

    assert all("<a" not in note["text"] for note in figure["layout"]["annotations"])


def test_no_graph_offers_the_web():
    """The button that sends a chart to a server is off, and there is no server it knows."""
    assert GRAPH_CONFIG["showSendToCloud"] is False
    assert GRAPH_CONFIG["plotlyServerURL"] == ""
    assert GRAPH_CONFIG["topojsonURL"] == ""
    assert GRAPH_CONFIG["displaylogo"] is False
