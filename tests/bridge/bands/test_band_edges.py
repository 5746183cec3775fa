"""Where bands begin and end."""

from itertools import pairwise

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.bands import banding
from bridge.errors import BadValue


def placed(division, throttle, rpm):
    """Return the bands of single points, None for those in no band."""
    frame = pl.DataFrame(
        {"throttle": pl.Series(throttle, dtype=pl.Float32), "rpm": pl.Series(rpm, dtype=pl.Float32)}
    ).with_columns(inside=division.inside(), band=division.key())
    names = ("throttle_from", "throttle_to", "rpm_from", "rpm_to")
    spelled = frame.with_columns(division.spelled_out())
    return [
        tuple(row[name] for name in names) if row["inside"] else None for row in spelled.iter_rows(named=True)
    ]


@pytest.mark.parametrize(
    ("throttle", "rpm", "expected"),
    [
        (0.0, 0.0, (0, 12.5, 0, 500)),
        (12.5, 500.0, (12.5, 25, 500, 1000)),
        (12.49, 499.9, (0, 12.5, 0, 500)),
        (25.0, 1000.0, (25, 50, 1000, 1500)),
        (50.0, 6000.0, (50, 75, 6000, 6500)),
        (74.99, 6499.0, (50, 75, 6000, 6500)),
        (75.0, 9000.0, (75, 100, 9000, 9500)),
        (100.0, 12000.0, (75, 100, 12000, 12500)),
        (102.5, 12000.0, (75, 100, 12000, 12500)),
        (-1.5, 1499.0, (0, 12.5, 1000, 1500)),
    ],
)
def test_a_band_holds_its_lower_edge_and_the_last_its_upper(throttle, rpm, expected):
    """An edge belongs to the band above it, 100 % to the last, and the ends take what is beyond."""
    assert placed(banding(None, 500), [throttle], [rpm]) == [expected]


def test_edges_of_ones_own_may_leave_something_out():
    """With 20,40,60 an opening of 60 is in the last band and one of 19 or 61 in none."""
    found = placed(banding([20, 40, 60], 1000), [19.0, 20.0, 40.0, 60.0, 61.0, 120.0], [500.0] * 6)

    assert found == [None, (20, 40, 0, 1000), (40, 60, 0, 1000), (40, 60, 0, 1000), None, None]


EDGES = st.lists(st.integers(0, 200), min_size=2, max_size=9, unique=True).map(
    lambda halves: [half / 2 for half in sorted(halves)]
)


@given(
    EDGES,
    st.sampled_from([1.0, 250.0, 300.0, 333.3, 500.0, 1000.0]),
    st.lists(st.tuples(st.integers(-4, 410), st.floats(0, 25_000, width=32)), min_size=1, max_size=30),
)
def test_bands_agree_with_plain_comparison(edges, step, points):
    """For any edges and any point, the band is the one that a plain search finds."""
    throttle = np.array([quarter / 4 for quarter, _ in points], dtype=np.float32)
    rpm = np.array([value for _, value in points], dtype=np.float32)
    for found, opening, speed in zip(placed(banding(edges, step), throttle, rpm), throttle, rpm, strict=True):
        clipped = min(max(float(opening), 0.0), 100.0)
        spans = [(low, high) for low, high in pairwise(edges) if low <= clipped < high]
        if clipped == edges[-1]:
            spans = [(edges[-2], edges[-1])]
        if not spans:
            assert found is None
        else:
            assert found[:2] == spans[0]
            assert found[2] == pytest.approx(int(float(speed) / step) * step)
            assert found[2] <= float(speed) * (1 + 1e-12) + 1e-9


@pytest.mark.parametrize(
    ("edges", "words"),
    [
        ([0, 50, 50, 100], "do not rise"),
        ([0, 60, 50], "do not rise"),
        ([0, 101], "from 0 to 100"),
        ([-1, 50], "from 0 to 100"),
        ([50], "two or more"),
        ([], "two or more"),
        ([0, float("nan"), 100], "from 0 to 100"),
    ],
)
def test_bad_edges_are_refused_in_words(edges, words):
    """Edges that make no bands are answered with what is wrong."""
    with pytest.raises(BadValue, match=words):
        banding(edges, 500)


@pytest.mark.parametrize("step", [0, -500, 0.5, float("nan"), float("inf")])
def test_a_bad_step_is_refused(step):
    """A step below 1 rpm, or one that is no number, makes no bands."""
    with pytest.raises(BadValue, match="step of 1 or more"):
        banding(None, step)


def test_bands_are_named_by_their_circuit():
    """The default bands carry the circuits' names; on a constant-depression carburettor none does."""
    frame = pl.DataFrame({"throttle": [5.0, 20.0, 30.0, 60.0, 90.0], "rpm": [4000.0] * 5})
    named, unnamed = (
        frame.with_columns(band=d.key()).with_columns(d.spelled_out())["circuit"].to_list()
        for d in (banding(None, 500), banding(None, 500, circuits=False))
    )

    assert named == ["pilot", "cutaway", "needle (straight)", "needle (taper)", "main"]
    assert unnamed == [None] * 5
