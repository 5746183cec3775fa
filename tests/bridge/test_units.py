"""Units and their conversion."""

import numpy as np
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.errors import BadValue
from bridge.units import UNITS, convert, scale, unit

PAIRS = [(a.code, b.code) for a in UNITS.values() for b in UNITS.values() if a.dimension == b.dimension]
MISFITS = [(a.code, b.code) for a in UNITS.values() for b in UNITS.values() if a.dimension != b.dimension]
REASONABLE = st.floats(-1e6, 1e6)


@pytest.mark.parametrize(
    ("value", "given_in", "wanted", "expected"),
    [
        # published: the definitions of the Celsius and Fahrenheit scales (SI brochure)
        (0.0, "Cel", "K", 273.15),
        (212.0, "[degF]", "Cel", 100.0),
        (32.0, "[degF]", "K", 273.15),
        (-40.0, "[degF]", "Cel", -40.0),
        (1200.0, "[degF]", "Cel", 648.888889),
        # published: the standard atmosphere, 101325 Pa; in inches of mercury rounded (common practice)
        (101.325, "kPa", "hPa", 1013.25),
        (29.9213, "[in_i'Hg]", "hPa", 1013.25),
        # definitions
        (100.0, "km/h", "m/s", 27.777778),
        (450.0, "mV", "V", 0.45),
        (90.0, "min", "s", 5400.0),
        (1500.0, "ms", "s", 1.5),
        (2_500_000.0, "us", "s", 2.5),
        (7.0, "/min", "/min", 7.0),
    ],
)
def test_known_conversions(value, given_in, wanted, expected):
    """Fixed points and definitions come out as published."""
    assert convert(value, given_in, wanted) == pytest.approx(expected, abs=2e-3 if "Hg" in given_in else 1e-6)


@pytest.mark.parametrize(("one", "other"), PAIRS)
@settings(max_examples=25)
@given(value=REASONABLE)
def test_there_and_back_is_where_it_began(one, other, value):
    """Any conversion undone gives the number back."""
    assert convert(convert(value, one, other), other, one) == pytest.approx(value, abs=1e-6)


@pytest.mark.parametrize(("one", "other"), PAIRS)
@settings(max_examples=25)
@given(low=REASONABLE, step=st.floats(1e-3, 1e6))
def test_more_stays_more(one, other, low, step):
    """No unit runs backwards: what is greater is greater in any unit."""
    assert convert(low + step, one, other) > convert(low, one, other)


@pytest.mark.parametrize(("one", "other"), MISFITS)
def test_what_does_not_fit_is_refused(one, other):
    """A unit of another kind is refused in one sentence that names both."""
    with pytest.raises(BadValue) as refused:
        scale(one, other)

    assert f"'{one}'" in str(refused.value)
    assert f"'{other}'" in str(refused.value)


@pytest.mark.parametrize("code", ["psi", "", "C", "rpm", "Cel "])
def test_an_unknown_code_is_refused_with_the_list(code):
    """An unknown code is answered with those that are known."""
    with pytest.raises(BadValue, match="use one of 1, %, Cel"):
        unit(code)
    with pytest.raises(BadValue, match="unknown unit"):
        convert(1.0, code, code)


def test_arrays_series_and_expressions_are_converted_alike():
    """An array, a series and an expression give what the numbers give, and nothing stays nothing."""
    celsius = [convert(f, "[degF]", "Cel") for f in (32.0, 212.0)]
    frame = pl.DataFrame({"f": [32.0, 212.0, None]})

    assert convert(np.array([32.0, 212.0]), "[degF]", "Cel") == pytest.approx(celsius)
    assert convert(frame["f"], "[degF]", "Cel").to_list() == pytest.approx([*celsius, None])
    assert frame.select(convert(pl.col("f"), "[degF]", "Cel"))["f"].to_list() == pytest.approx(
        [*celsius, None]
    )
