"""Power corrections: what a standard makes of full-throttle power measured in the air of the day.

Each standard has a reference of its own, so figures corrected by different ones differ by 4 to 8 % for the same
run. All hold for full-throttle power of an engine without a blower, and for nothing else: not for lambda, not at
part throttle, and not where the mixture itself moved with the weather, which a correction would hide. On
two-strokes they are used; the crankcase's pumping does not strictly follow them (from memory).
"""

from dataclasses import dataclass

import numpy as np

from bridge.physics.air import dry_pressure_hpa


@dataclass(frozen=True)
class Correction:
    """One standard's factor for one air.

    Attributes:
        factor: corrected power over measured power [1].
        name: the standard.
        reference: the air to which it corrects.
        limits: where it holds, in words.
        status: where formula and limits come from.
        valid: whether this air is inside the limits.
        because: why not, in words that end a sentence; empty where it is.
    """

    factor: float
    name: str
    reference: str
    limits: str
    status: str
    valid: bool
    because: str


def corrections(temp_c: float, pressure_hpa: float, humidity_percent: float) -> dict[str, Correction]:
    """Return the factor of each standard, by a short name.

    Args:
        temp_c: temperature of the intake air [Cel]; -40 to 60.
        pressure_hpa: station pressure [hPa]; 500 to 1100.
        humidity_percent: relative humidity [%]; 0 to 100.

    Returns:
        ``sae_j1349``, ``iso_1585`` and ``din_70020``; outside its limits a factor is given and marked not valid.
    """
    dry_kpa = float(dry_pressure_hpa(temp_c, pressure_hpa, humidity_percent)) / 10.0
    return {
        "sae_j1349": sae_j1349(temp_c, dry_kpa),
        "iso_1585": iso_1585(temp_c, dry_kpa),
        "din_70020": din_70020(temp_c, pressure_hpa / 10.0),
    }


def iso_1585(temp_c: float, dry_kpa: float) -> Correction:
    """Return the factor of ISO 1585, for motorcycles ISO 4106, UN R85 and EU 134/2014 alike.

    Args:
        temp_c: temperature of the intake air [Cel].
        dry_kpa: pressure of its dry part [kPa].
    """
    kelvin = temp_c + 273.0
    factor = float((99.0 / dry_kpa) ** 1.2 * (kelvin / 298.0) ** 0.6)
    reasons = [
        _outside("the intake air", kelvin - 273.0, 10.2, 45.2, "Cel"),
        _outside("the factor", factor, 0.93, 1.07, ""),
    ]
    return Correction(
        factor,
        "ISO 1585 (motorcycles: ISO 4106)",
        "25 Cel, 99 kPa of dry air",
        "spark ignition without a blower, intake air 10.2 to 45.2 Cel, a factor of 0.93 to 1.07",
        "reference and temperatures published, EU 134/2014, appendix 2.2; formula and range of the factor from memory",
        *_verdict(reasons),
    )


def sae_j1349(temp_c: float, dry_kpa: float) -> Correction:
    """Return the factor of SAE J1349 in its form of June 1990, which takes the engine for 85 % efficient in friction.

    Args:
        temp_c: temperature of the intake air [Cel].
        dry_kpa: pressure of its dry part [kPa].
    """
    factor = float(1.18 * (99.0 / dry_kpa) * np.sqrt((temp_c + 273.0) / 298.0) - 0.18)
    reasons = [
        _outside("the intake air", temp_c, 15.0, 35.0, "Cel"),
        _outside("the pressure of dry air", dry_kpa, 90.0, 105.0, "kPa"),
        _outside("the factor", factor, 0.93, 1.07, ""),
    ]
    return Correction(
        factor,
        "SAE J1349 (form of June 1990)",
        "25 Cel, 99 kPa of dry air",
        "spark ignition without a blower, intake air 15 to 35 Cel, dry air 90 to 105 kPa, a factor of 0.93 to 1.07",
        "formula from secondary copies; limits from memory; later revisions are tighter",
        *_verdict(reasons),
    )


def din_70020(temp_c: float, total_kpa: float) -> Correction:
    """Return the factor of DIN 70020, long withdrawn, which does not know humidity.

    Args:
        temp_c: temperature of the intake air [Cel].
        total_kpa: station pressure, vapour and all [kPa].
    """
    factor = float(101.3 / total_kpa * np.sqrt((temp_c + 273.0) / 293.0))
    return Correction(
        factor,
        "DIN 70020 (withdrawn)",
        "20 Cel, 101.3 kPa, humidity not asked",
        "a factor of 0.93 to 1.07, by common practice in place of limits of its own",
        "formula from memory",
        *_verdict([_outside("the factor", factor, 0.93, 1.07, "")]),
    )


def _outside(what: str, value: float, low: float, high: float, unit: str) -> str:
    if low <= value <= high:
        return ""
    unit = f" {unit}" if unit else ""
    return f"{what} is {value:.4g}{unit}, outside {low:g} to {high:g}{unit}"


def _verdict(reasons: list[str]) -> tuple[bool, str]:
    said = [reason for reason in reasons if reason]
    return not said, " and ".join(said)
