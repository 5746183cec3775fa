"""Power corrections against worked values.

Formulas: ISO 1585 from memory (its reference, 99 kPa dry and 298 K, published in EU 134/2014, appendix 2.2); SAE J1349
of June 1990 from secondary copies; DIN 70020 from memory. The values are their arithmetic, computed by hand.
"""

import pytest

from bridge.physics.power import corrections, din_70020, iso_1585, sae_j1349

COOL_DAMP, HOT_HUMID, HOT_HIGH = (8.0, 1020.0, 85.0), (35.0, 1005.0, 60.0), (30.0, 835.0, 25.0)


@pytest.mark.parametrize(
    ("state", "iso", "sae", "din"),
    [
        (COOL_DAMP, 0.941491, 0.942179, 0.972587),
        (HOT_HUMID, 1.043698, 1.042816, 1.033439),
        (HOT_HIGH, 1.258178, 1.248895, 1.233703),
    ],
)
def test_worked_corrections(state, iso, sae, din):
    """Three days, three standards (closed form)."""
    found = corrections(*state)

    assert found["iso_1585"].factor == pytest.approx(iso, abs=3e-5)
    assert found["sae_j1349"].factor == pytest.approx(sae, abs=3e-5)
    assert found["din_70020"].factor == pytest.approx(din, abs=3e-5)


def test_reference_air_is_left_alone():
    """At 25 Cel and 99 kPa of dry air both modern standards say 1, the old one 1.0216 (closed form)."""
    assert iso_1585(25.0, 99.0).factor == pytest.approx(1.0, abs=1e-12)
    assert sae_j1349(25.0, 99.0).factor == pytest.approx(1.0, abs=1e-12)
    assert din_70020(25.0, 100.0).factor == pytest.approx(1.021607, abs=1e-6)
    assert din_70020(20.0, 101.3).factor == pytest.approx(1.0, abs=1e-12)


def test_hot_and_high_is_outside_the_limits():
    """A factor of 1.26 is told and marked as not valid, with the number and the limit."""
    found = corrections(*HOT_HIGH)["iso_1585"]

    assert not found.valid
    assert "1.258" in found.because
    assert "0.93 to 1.07" in found.because
    assert "0.93 to 1.07" in found.limits


def test_a_usual_day_is_inside_the_limits():
    """On a mild day all three hold, with nothing to say against them."""
    for found in corrections(22.0, 1005.0, 45.0).values():
        assert found.valid
        assert found.because == ""
        assert "Cel" in found.reference


@pytest.mark.parametrize(
    ("temp_c", "iso", "sae"), [(9.0, False, False), (12.0, True, False), (40.0, True, False)]
)
def test_temperature_limits(temp_c, iso, sae):
    """ISO holds from 10.2 to 45.2 Cel (published: EU 134/2014), SAE from 15 to 35 (from memory)."""
    dry_kpa = 99.0

    assert iso_1585(temp_c, dry_kpa).valid is iso
    assert sae_j1349(temp_c, dry_kpa).valid is sae


def test_worse_air_is_made_up_for():
    """Hotter, thinner or damper air gives a larger factor; the old standard does not see the damp."""
    for key in ("iso_1585", "sae_j1349", "din_70020"):
        usual = corrections(20.0, 1000.0, 40.0)[key].factor
        assert corrections(30.0, 1000.0, 40.0)[key].factor > usual
        assert corrections(20.0, 950.0, 40.0)[key].factor > usual
    damp, dry = corrections(30.0, 1000.0, 90.0), corrections(30.0, 1000.0, 10.0)
    assert damp["iso_1585"].factor > dry["iso_1585"].factor
    assert damp["sae_j1349"].factor > dry["sae_j1349"].factor
    assert damp["din_70020"].factor == dry["din_70020"].factor
