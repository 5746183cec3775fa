"""Bringing columns to the catalogue's units and limits, and time that rises."""

import math

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.channels import CATALOGUE
from bridge.channels.conform import conform, rising
from bridge.errors import BadValue
from bridge.units import UNITS, convert


def test_units_limits_and_what_is_unknown():
    """A channel is converted, then held to its limits; one that nobody knows keeps unit and values."""
    frame = pl.DataFrame(
        {"t_s": [0, 1, 2], "egt_1": [1000.0, 3000.0, None], "odd": [1.0, math.inf, math.nan]}
    )

    done = conform(frame, {"egt_1": "[degF]", "odd": "mV"})

    assert done.frame.schema == {"t_s": pl.Float64, "egt_1": pl.Float32, "odd": pl.Float32}
    assert done.frame["egt_1"].to_list() == [pytest.approx(537.7778), None, None]
    assert done.frame["odd"].to_list() == [1.0, None, None]
    assert done.units == {"egt_1": "Cel", "odd": "mV"}
    assert done.notes == (
        "egt_1: 1 value outside -60..1300 Cel left out",
        "odd: 2 values left out, not finite",
    )


def test_a_unit_that_does_not_fit_names_its_channel():
    """A unit of another quantity is refused with the channel's name."""
    with pytest.raises(BadValue, match=r"channel rpm: .*'Cel'"):
        conform(pl.DataFrame({"t_s": [0.0], "rpm": [1.0]}), {"rpm": "Cel"})


@given(st.sampled_from(sorted(CATALOGUE)), st.floats(0, 1), st.data())
def test_every_channel_in_every_unit_that_fits(name, share, data):
    """A value inside the limits is kept in whatever fitting unit it comes, one outside is null."""
    channel = CATALOGUE[name]
    fitting = [u.code for u in UNITS.values() if u.dimension == UNITS[channel.unit].dimension]
    unit = data.draw(st.sampled_from(fitting))
    width = channel.high - channel.low
    inside, outside = channel.low + width * (0.001 + 0.998 * share), channel.high + width * (0.001 + share)
    told = [convert(value, channel.unit, unit) for value in (inside, outside)]

    done = conform(pl.DataFrame({"t_s": [0.0, 1.0], name: told}), {name: unit})

    assert done.frame[name].to_list() == [pytest.approx(inside, rel=1e-5, abs=width * 1e-5), None]


@given(st.lists(st.floats(allow_infinity=True, allow_nan=True) | st.none()))
def test_time_rises_and_every_row_is_accounted_for(times):
    """What is kept rises strictly and is finite; what is kept and left out are all rows there were."""
    frame = pl.DataFrame({"t_s": times}, schema={"t_s": pl.Float64})

    kept, left_out = rising(frame)

    assert kept.height + left_out == len(times)
    assert all(b > a for a, b in zip(kept["t_s"], kept["t_s"][1:], strict=False))
    assert all(map(math.isfinite, kept["t_s"]))
    finite = [t for t in times if t is not None and math.isfinite(t)]
    assert kept["t_s"].to_list() == [
        t for i, t in enumerate(finite) if all(t > before for before in finite[:i])
    ]
