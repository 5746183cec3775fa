"""Air as a person states it: a wrong unit, the wrong kind of pressure, a share for a percentage.

What cannot be is refused with the mend; what can be but hardly is, is questioned in a sentence.
"""

from bridge.errors import BadValue
from bridge.physics.altitude import (
    SEA_LEVEL_PRESSURE_HPA,
    pressure_altitude_m,
    pressure_at_altitude,
    sea_level_ratio,
)

LOWEST_HPA, HIGHEST_HPA = 500.0, 1100.0
COLDEST_C, HOTTEST_C = -40.0, 60.0
LOWEST_M, HIGHEST_M = -450.0, 6000.0
SWING_HPA = 35.0
"""How far the weather takes the pressure from its mean, to either side [hPa] (common practice, no source)."""
HPA_PER_MMHG, HPA_PER_INHG = 1.33322387, 33.8638864
"""Conventional columns of mercury [hPa]; published: UCUM."""

# What a barometer may show instead of hPa: its unit, the readings of usual places (850 to 1060 hPa), hPa for each.
_OTHER_UNITS = (
    ("inHg", 20.0, 31.4, HPA_PER_INHG),
    ("psi", 12.3, 15.4, 68.9475729),
    ("kPa", 50.0, 110.0, 10.0),
    ("Pa", 50_000.0, 110_000.0, 0.01),
    ("bar", 0.5, 1.1, 1000.0),
)


def checked_pressure_hpa(pressure_hpa: float) -> float:
    """Return a pressure that can be one of the air in hPa.

    Args:
        pressure_hpa: as it was stated [hPa].

    Raises:
        BadValue: outside 500 to 1100; the message names the value in hPa where it looks like another unit.
    """
    if LOWEST_HPA <= pressure_hpa <= HIGHEST_HPA:
        return pressure_hpa
    for unit, low, high, factor in _OTHER_UNITS:
        if low <= pressure_hpa <= high:
            raise BadValue(
                f"an air pressure of {pressure_hpa:g} hPa cannot be; it looks like {unit}: give"
                f" {pressure_hpa * factor:.1f}, the same in hPa"
            )
    raise BadValue(
        f"an air pressure of {pressure_hpa:g} hPa cannot be; give the station pressure in hPa, at least"
        f" {LOWEST_HPA:g} and at most {HIGHEST_HPA:g}"
    )


def checked_temp_c(temp_c: float) -> float:
    """Return an air temperature that can be one in Cel.

    Args:
        temp_c: as it was stated [Cel].

    Raises:
        BadValue: outside -40 to 60; the message names the value in Cel where it looks like another unit.
    """
    if COLDEST_C <= temp_c <= HOTTEST_C:
        return temp_c
    hint = ""
    if HOTTEST_C < temp_c <= 130.0:
        hint = f"; if it was read in Fahrenheit, give {(temp_c - 32.0) / 1.8:.1f}"
    elif 240.0 <= temp_c <= 330.0:
        hint = f"; if it was read in kelvin, give {temp_c - 273.15:.1f}"
    raise BadValue(
        f"an air temperature of {temp_c:g} Cel cannot be; give it in Cel, at least {COLDEST_C:g} and at most"
        f" {HOTTEST_C:g}{hint}"
    )


def checked_humidity_percent(humidity_percent: float) -> float:
    """Return a relative humidity that can be one.

    Args:
        humidity_percent: as it was stated [%].

    Raises:
        BadValue: outside 0 to 100.
    """
    if 0.0 <= humidity_percent <= 100.0:
        return humidity_percent
    raise BadValue(
        f"a relative humidity of {humidity_percent:g} % cannot be; give it in percent, at least 0 and at most 100"
    )


def checked_altitude_m(altitude_m: float) -> float:
    """Return an altitude that a race track can have.

    Args:
        altitude_m: as it was stated, above sea level [m].

    Raises:
        BadValue: outside -450 to 6000.
    """
    if LOWEST_M <= altitude_m <= HIGHEST_M:
        return altitude_m
    raise BadValue(
        f"an altitude of {altitude_m:g} m cannot be; give metres above sea level, at least {LOWEST_M:g} and at most"
        f" {HIGHEST_M:g}"
    )


def questions(
    pressure_hpa: float | None, humidity_percent: float | None, altitude_m: float | None, temp_c: float | None
) -> tuple[str, ...]:
    """Return what should be questioned about a stated air, one sentence each; None is what nobody said.

    Args:
        pressure_hpa: as it was stated [hPa].
        humidity_percent: as it was stated [%].
        altitude_m: of the place above sea level [m].
        temp_c: air temperature [Cel].
    """
    pressure = humidity = None
    if pressure_hpa is not None and altitude_m is not None:
        pressure = questioned_pressure(pressure_hpa, altitude_m, temp_c)
    if humidity_percent is not None:
        humidity = questioned_humidity(humidity_percent)
    return tuple(sentence for sentence in (pressure, humidity) if sentence)


def questioned_humidity(humidity_percent: float) -> str | None:
    """Return a sentence where a relative humidity [%] looks like a share of 1, else None."""
    if not 0.0 < humidity_percent <= 1.0:
        return None
    return (
        f"A relative humidity of {humidity_percent:g} % is drier than any desert; if it is a share of 1, give"
        f" {100.0 * humidity_percent:g}."
    )


def refuse_mmhg(pressure_hpa: float, altitude_m: float | None, temp_c: float | None = None) -> None:
    """Complain where a pressure looks like millimetres of mercury.

    What they show in low places, 708 to 790, is the air of 2000 to 2900 m in hPa. Stated as such a place it is
    taken; without an altitude nobody can tell.

    Args:
        pressure_hpa: as it was stated [hPa].
        altitude_m: of the place [m]; None where nobody said.
        temp_c: air temperature [Cel]; None where nobody said.

    Raises:
        BadValue: it does not fit the altitude and would in mmHg, or there is no altitude to tell by.
    """
    in_hpa = pressure_hpa * HPA_PER_MMHG
    if altitude_m is None:
        if abs(in_hpa - SEA_LEVEL_PRESSURE_HPA) <= 2.0 * SWING_HPA and pressure_hpa < 790.0:
            raise BadValue(
                f"an air pressure of {pressure_hpa:g} hPa is that of a place {pressure_altitude_m(pressure_hpa):.0f} m"
                f" above the sea, or one of {in_hpa:.1f} hPa read in mmHg; give the altitude too, or {in_hpa:.1f}"
            )
    elif not _fits(pressure_hpa, altitude_m, temp_c) and _fits(in_hpa, altitude_m, temp_c):
        raise BadValue(
            f"an air pressure of {pressure_hpa:g} hPa cannot be at {altitude_m:g} m above the sea; it looks like mmHg:"
            f" give {in_hpa:.1f}, the same in hPa"
        )


def questioned_pressure(pressure_hpa: float, altitude_m: float, temp_c: float | None = None) -> str | None:
    """Return a sentence where a pressure cannot be station pressure at an altitude.

    Args:
        pressure_hpa: as it was stated [hPa].
        altitude_m: of the place above sea level [m].
        temp_c: air temperature there [Cel]; None where nobody said.

    Returns:
        The sentence, or None. Weather moves the pressure by some 35 hPa to either side, so a value reduced to sea
        level is told from the station's own only from about 300 m up, and surely from 600 m.
    """
    if _fits(pressure_hpa, altitude_m, temp_c):
        return None
    ratio = _ratios(altitude_m, temp_c)[-1]
    said = (
        f"A pressure of {pressure_hpa:g} hPa can hardly be station pressure at {altitude_m:g} m above the sea, where it"
        f" is about {SEA_LEVEL_PRESSURE_HPA * ratio:.0f} hPa"
    )
    if ratio < 1.0 and abs(pressure_hpa - SEA_LEVEL_PRESSURE_HPA) <= 1.5 * SWING_HPA:
        return (
            f"{said}; it looks like a weather report's value, reduced to sea level, which makes the air"
            f" {100.0 * (1.0 / ratio - 1.0):.0f} % too dense: give what a barometer shows at the track, about"
            f" {pressure_hpa * ratio:.0f}."
        )
    return f"{said}; look at the pressure and at the altitude again."


def _fits(pressure_hpa: float, altitude_m: float, temp_c: float | None) -> bool:
    """Return whether weather can make a pressure at an altitude, by the standard's column or the day's own."""
    usual = [SEA_LEVEL_PRESSURE_HPA * ratio for ratio in _ratios(altitude_m, temp_c)]
    return min(usual) - SWING_HPA <= pressure_hpa <= max(usual) + SWING_HPA


def _ratios(altitude_m: float, temp_c: float | None) -> list[float]:
    """Return station pressure over sea level's, by the standard's column and, where it is known, by the day's own."""
    standard = pressure_at_altitude(altitude_m) / SEA_LEVEL_PRESSURE_HPA
    return [standard] if temp_c is None else [standard, sea_level_ratio(altitude_m, temp_c)]
