"""Fuel through jets: areas, discharge, flow.

Sources: Lichtarowicz, Duggins and Markland 1965, J. Mech. Eng. Sci. 7(2):210-219 (discharge; published); geometry in
closed form; ASTM D1250 / API MPMS 11.1 of 1980 (density of gasolines with temperature; constants from a copy).
"""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

PETROL_VISCOSITY_MM2_S = 0.6
"""Kinematic viscosity of petrol at 20 Cel [mm2/s] (assumed)."""
LENGTH_OVER_BORE = 2.0
"""Of a jet whose length nobody measured [1] (assumed)."""


def bore_area_mm2(bore_mm: float | Floats) -> Floats:
    """Return the area of a round bore [mm2] of ``bore_mm`` [mm]."""
    return np.pi / 4.0 * np.asarray(bore_mm, dtype=np.float64) ** 2


def annulus_mm2(
    lift_mm: float | Floats, bore_mm: float, straight_mm: float, taper_start_mm: float, taper_deg: float
) -> Floats:
    """Return the free area between a needle and its jet.

    Args:
        lift_mm: lift of the slide [mm]; any shape.
        bore_mm: of the needle jet [mm].
        straight_mm: diameter of the needle's straight part [mm], under the bore.
        taper_start_mm: lift at which the taper comes into the jet [mm].
        taper_deg: included angle of the taper [deg].

    Returns:
        Area [mm2]: constant up to the taper, then growing, at most the whole bore. 0 where the needle is thicker
        than the bore.
    """
    past = np.clip(np.asarray(lift_mm, dtype=np.float64) - taper_start_mm, 0.0, None)
    needle = np.clip(straight_mm - 2.0 * past * np.tan(np.radians(taper_deg) / 2.0), 0.0, bore_mm)
    return bore_area_mm2(bore_mm) - bore_area_mm2(needle)


def series_mm2(first_mm2: float | Floats, second_mm2: float | Floats) -> Floats:
    """Return the area that two orifices in series are worth, with equal discharge coefficients [mm2].

    Args:
        first_mm2: one area [mm2], 0 or more.
        second_mm2: the other [mm2], 0 or more.
    """
    first, second = np.asarray(first_mm2, dtype=np.float64), np.asarray(second_mm2, dtype=np.float64)
    hypotenuse = np.hypot(first, second)
    return np.divide(first * second, hypotenuse, out=np.zeros_like(hypotenuse), where=hypotenuse > 0)


def discharge(reynolds: float | Floats, length_over_bore: float = LENGTH_OVER_BORE) -> Floats:
    """Return the discharge coefficient of a long orifice, such as a jet.

    Args:
        reynolds: of the jet's own velocity and bore [1]; 10 to 20 000.
        length_over_bore: 2 to 10 [1].

    Returns:
        Flow over that without loss [1]; nan outside the range in which it was measured.
    """
    re = np.asarray(reynolds, dtype=np.float64)
    inside = (re >= 10.0) & (re <= 2e4) & (2.0 <= length_over_bore <= 10.0)
    re = np.where(inside, re, 1e3)
    turbulent = 0.827 - 0.0085 * length_over_bore
    loss = 20.0 / re * (1.0 + 2.25 * length_over_bore)
    transition = 0.005 * length_over_bore / (1.0 + 7.5 * np.log10(1.5e-4 * re) ** 2)
    return np.where(inside, 1.0 / (1.0 / turbulent + loss - transition), np.nan)


def jet_flow_g_s(
    bore_mm: float,
    depression_pa: float,
    density_kg_m3: float = 745.0,
    viscosity_mm2_s: float = PETROL_VISCOSITY_MM2_S,
    length_over_bore: float = LENGTH_OVER_BORE,
) -> tuple[float, float, float]:
    """Return the flow of fuel through a jet.

    Args:
        bore_mm: its bore [mm].
        depression_pa: pressure across it, less the head that lifts the fuel [Pa]; over 0.
        density_kg_m3: of the fuel [kg/m3].
        viscosity_mm2_s: kinematic, of the fuel [mm2/s].
        length_over_bore: of the jet [1].

    Returns:
        Flow [g/s], discharge coefficient [1] and Reynolds number [1]; nan where the jet runs outside the range of
        ``discharge``. Nearly the root of the depression in a main jet, less than that in a small pilot.
    """
    without_loss = np.sqrt(2.0 * depression_pa / density_kg_m3)
    coefficient = 0.8
    for _ in range(50):  # it hardly depends on itself: each round gains two digits
        reynolds = coefficient * without_loss * bore_mm * 1e3 / viscosity_mm2_s
        coefficient = float(discharge(reynolds, length_over_bore))
    flow = coefficient * float(bore_area_mm2(bore_mm)) * 1e-6 * density_kg_m3 * without_loss * 1e3
    return float(flow), coefficient, float(reynolds)


def petrol_volume_factor(temp_c: float | Floats, density_15_kg_m3: float = 745.0) -> Floats:
    """Return the volume at 15 Cel over that at a temperature, of a petrol.

    Args:
        temp_c: of the fuel [Cel]; -20 to 60.
        density_15_kg_m3: at 15 Cel [kg/m3]; under 770.

    Returns:
        The factor [1]: density at the temperature is that at 15 Cel times it. Lambda goes with the inverse root of
        the density at a fixed jet: warm fuel is lean.
    """
    alpha = 346.4228 / density_15_kg_m3**2 + 0.4388 / density_15_kg_m3
    warmer = alpha * (np.asarray(temp_c, dtype=np.float64) - 15.0)
    return np.exp(-warmer * (1.0 + 0.8 * warmer))
