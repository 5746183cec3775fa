"""Needle, jets and discharge against worked values and a published table."""

import numpy as np
import pytest

from bridge.physics.jets import NeedleGeometry, jet_for_density, jet_for_lambda, lambda_after_jet
from bridge.physics.orifice import (
    annulus_mm2,
    bore_area_mm2,
    discharge,
    jet_flow_g_s,
    petrol_volume_factor,
    series_mm2,
)

GEOMETRY = NeedleGeometry(
    needle_jet_bore_mm=2.65,
    straight_mm=2.511,
    taper_start_mm=15.0,
    taper_deg=1.5,
    main_jet_bore_mm=1.10,
    slide_travel_mm=34.0,
)


# closed form, computed by hand: lift [mm], annulus [mm2], in series with the main jet [mm2], shares of main and needle
@pytest.mark.parametrize(
    ("lift", "annulus", "series", "main", "needle"),
    [
        (0.0, 0.563428, 0.484652, 0.260, 0.740),
        (15.0, 0.563428, 0.484652, 0.260, 0.740),
        (20.0, 1.066302, 0.709458, 0.557, 0.443),
        (25.0, 1.542258, 0.809065, 0.725, 0.275),
        (34.0, 2.331144, 0.880015, 0.857, 0.143),
    ],
)
def test_needle_table(lift, annulus, series, main, needle):
    """Annulus, series area and shares along the slide's travel."""
    assert GEOMETRY.annulus_mm2(lift) == pytest.approx(annulus, abs=2e-6)
    assert series_mm2(GEOMETRY.annulus_mm2(lift), bore_area_mm2(1.10)) == pytest.approx(series, abs=2e-6)
    assert GEOMETRY.main_share(lift) == pytest.approx(main, abs=6e-4)
    assert 1 - GEOMETRY.main_share(lift) == pytest.approx(needle, abs=6e-4)


def test_needle_raised_by_one_clip():
    """A millimetre higher adds 9.13 % of annulus and 3.75 % of flow at 20 mm, 1.54 % at 25 mm (closed form)."""
    main = bore_area_mm2(1.10)

    def gained(lift):
        higher, lower = GEOMETRY.annulus_mm2(lift + 1.0), GEOMETRY.annulus_mm2(lift)
        return higher / lower - 1, series_mm2(higher, main) / series_mm2(lower, main) - 1

    assert gained(20.0) == pytest.approx((0.0913, 0.0375), abs=1e-4)
    assert gained(25.0)[1] == pytest.approx(0.0154, abs=1e-4)


def test_worn_needle_jet():
    """A hundredth of a millimetre more bore opens the straight part's annulus by 7.40 % (closed form)."""
    worn = annulus_mm2(10.0, 2.66, 2.511, 15.0, 1.5) / annulus_mm2(10.0, 2.65, 2.511, 15.0, 1.5)

    assert worn - 1 == pytest.approx(0.0740, abs=1e-4)


# published: Lichtarowicz, Duggins and Markland 1965, J. Mech. Eng. Sci. 7(2):210-219, eq. 7 and 12; L/d 2
@pytest.mark.parametrize(
    ("reynolds", "coefficient"), [(100, 0.42842), (1000, 0.74464), (3000, 0.78990), (10_000, 0.80811)]
)
def test_discharge_table(reynolds, coefficient):
    """The discharge coefficient of a short orifice by Reynolds number."""
    assert discharge(reynolds, 2.0) == pytest.approx(coefficient, abs=1e-5)


def test_discharge_says_nothing_outside_its_range():
    """Under Re 10, over 20 000, or in another length than 2 to 10 bores there is no number."""
    assert np.isnan(discharge(np.array([9.0, 2.1e4]))).all()
    assert np.isfinite(discharge(np.array([10.0, 2e4]))).all()
    assert np.isnan(discharge(1000.0, 1.5))
    assert np.isnan(discharge(1000.0, 11.0))


# closed form with that published coefficient: bore [mm], depression [Pa], Re, C_d; petrol of 745 kg/m3, 0.6 mm2/s
@pytest.mark.parametrize(
    ("bore", "pascal", "reynolds", "coefficient"),
    [
        (1.10, 1500, 2903, 0.789),
        (1.10, 4000, 4811, 0.801),
        (1.10, 10_000, 7666, 0.807),
        (0.40, 1500, 996, 0.744),
    ],
)
def test_jet_flow(bore, pascal, reynolds, coefficient):
    """Main jets run near the square root; a pilot loses more to friction."""
    flow, found, re = jet_flow_g_s(bore, pascal)

    assert (re, found) == (pytest.approx(reynolds, abs=1), pytest.approx(coefficient, abs=6e-4))
    without_loss = bore_area_mm2(bore) * 1e-6 * np.sqrt(2 * 745.0 * pascal) * 1e3
    assert flow == pytest.approx(found * without_loss, rel=1e-12)


def test_premix_thickens_the_fuel():
    """32:1 premix flows 0.12 % less through a 1.10 mm jet; 0.69 mm2/s costs a pilot 1.4 % (closed form)."""
    mixed = (32 * 745.0 + 870.0) / 33
    main = jet_flow_g_s(1.10, 4000, mixed, viscosity_mm2_s=0.6899)[0] / jet_flow_g_s(1.10, 4000)[0]
    pilot = jet_flow_g_s(0.40, 1500, viscosity_mm2_s=0.69)[0] / jet_flow_g_s(0.40, 1500)[0]

    assert main == pytest.approx(1 - 0.0012, abs=1e-5)
    assert pilot == pytest.approx(1 - 0.014, abs=0.001)


# published: ASTM D1250 / API MPMS 11.1 of 1980, gasolines (constants from a copy)
@pytest.mark.parametrize(
    ("temp_c", "density"), [(0.0, 758.48), (15.0, 745.0), (30.0, 731.37), (45.0, 717.61)]
)
def test_petrol_shrinks_and_swells(temp_c, density):
    """Density of a 745 kg/m3 petrol by temperature."""
    assert 745.0 * petrol_volume_factor(temp_c) == pytest.approx(density, abs=0.01)


def test_warm_fuel_is_lean():
    """From 15 to 40 Cel the fuel's own density makes lambda 1.01565 of what it was (closed form)."""
    assert petrol_volume_factor(40.0) ** -0.5 == pytest.approx(1.01565, abs=2e-5)


def test_jets_for_another_lambda():
    """From 0.95 to 0.88: 1.10 mm becomes 1.14291, a flow number 130 becomes 140.34 (closed form)."""
    assert jet_for_lambda(1.10, 0.95, 0.88, "bore") == pytest.approx(1.14291, abs=1e-5)
    assert jet_for_lambda(130, 0.95, 0.88, "flow") == pytest.approx(140.34091, abs=1e-5)
    assert jet_for_lambda(1.10, 0.80, 0.88, "bore") == pytest.approx(1.04881, abs=1e-5)


def test_jets_for_thin_air():
    """At 0.90 of the density a bore number shrinks to 0.974004, a flow number to 123.33 from 130 (closed form)."""
    assert jet_for_density(1.0, 0.90, "bore") == pytest.approx(0.97400375, abs=1e-7)
    assert jet_for_density(130, 0.90, "flow") == pytest.approx(123.33, abs=0.005)


def test_one_step_of_bore():
    """From 1.10 to 1.12 mm lambda falls by 3.54 % (closed form)."""
    assert lambda_after_jet(1.0, 1.10, 1.12, "bore") == pytest.approx(1 - 0.0354, abs=1e-4)
