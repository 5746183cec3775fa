"""Slips in an exhaust-gas analysis: each is refused with its mend, and no real exhaust is."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.errors import BadValue
from bridge.model.gas_entry import check_gas
from bridge.physics.gas import dry_exhaust, ppm_hexane

GOOD = {"co2_percent": 12.1, "co_percent": 4.2, "o2_percent": 0.6, "hc_ppm": 900.0, "no_ppm": 300.0}


def refused(**changes):
    """Return the sentence that refuses an analysis with these figures in place of good ones."""
    with pytest.raises(BadValue) as told:
        check_gas(**(GOOD | changes))
    return str(told.value)


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"co2_percent": 121_000.0}, "looks like ppm; give it in percent: 12.1"),
        ({"co_percent": 4200.0}, "looks like ppm; give it in percent: 0.42"),
        ({"hc_ppm": 0.09}, "looks like percent; give it in ppm as hexane: 900"),
        ({"no_ppm": 0.03}, "looks like percent; give it in ppm: 300"),
        ({"co2_percent": 60.0, "co_percent": 41.0}, "add up to 101.7 percent, over 100"),
        ({"co2_percent": 45.0}, "co2 = 45 percent is more than an engine gives (24 at most)"),
        ({"o2_percent": 22.0}, "more than free air has"),
        ({"co2_percent": -0.1}, "co2 = -0.1 percent is below zero; set the analyser's zero"),
        ({"hc_ppm": -3.0}, "hc = -3 ppm is below zero"),
        ({"no_ppm": -3.0}, "no = -3 ppm is below zero"),
        ({"hc_ppm": 61_000.0}, "hc = 61000 ppm as hexane is more than an engine gives"),
        ({"co2_percent": 0.121, "co_percent": 0.042, "o2_percent": 0.006}, "not a share (12.1 for 0.121)"),
        ({"co2_percent": 0.6, "co_percent": 0.1, "o2_percent": 20.0}, "which is no exhaust"),
        ({"co2_percent": 13.0, "o2_percent": 12.1}, "more oxygen than the air brought in"),
        ({"co2_percent": float("nan")}, "co2 must be a number of percent"),
        ({"no_ppm": float("inf")}, "no must be a number of ppm"),
    ],
)
def test_a_slip_is_named_with_its_mend(changes, says):
    """Percent for ppm, a minus, a share, a sum over 100 and what no engine gives are each told apart."""
    assert says in refused(**changes)


def test_what_the_analyser_does_not_show_may_be_left_out():
    """Nitrogen monoxide may be missing, and zeros of what is not there are no slip."""
    check_gas(**(GOOD | {"no_ppm": None}))
    check_gas(**(GOOD | {"o2_percent": 0.0, "hc_ppm": 0.0, "no_ppm": 0.0}))


@given(
    lambda_=st.floats(0.65, 1.5),
    h_to_c=st.floats(1.6, 4.0),
    o_to_c=st.floats(0.0, 1.0),
    unburnt=st.floats(0.0, 0.25),
)
def test_no_real_exhaust_is_refused(lambda_, h_to_c, o_to_c, unburnt):
    """What an element balance gives, rich and lean, petrol and alcohol, with charge lost unburnt, passes.

    Closed form: bridge.physics.gas, which has its own checks against published tables.
    """
    gas = dry_exhaust(lambda_, h_to_c, o_to_c, unburnt=unburnt)
    hc_ppm = float(ppm_hexane(float(gas.hc_c1)))
    if not 0.0 < hc_ppm < 1.0:
        check_gas(float(gas.co2), float(gas.co), float(gas.o2), hc_ppm, None)
