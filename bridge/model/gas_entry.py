"""What an exhaust-gas analyser cannot have shown: slips of the hand, told with their mend.

The limits are far outside what any engine gives, so that only a slip is refused; common practice, no source.
"""

import math

from bridge.errors import BadValue

MOST_PERCENT = {"co2": 24.0, "co": 20.0, "o2": 21.0}
"""Petrol burned completely gives 15.4 % CO2, fuels that bring oxygen up to 23 %; free air has 20.9 % O2 [%]."""
MOST_PPM = {"hc": 60_000.0, "no": 10_000.0}
"""Hydrocarbons as hexane, and nitrogen monoxide [ppm]."""
MOST_OXYGEN_PERCENT = 26.0
"""CO2 + CO/2 + O2: what the air brought, 20.9 %, and room for oxygen in the fuel [%]."""
LEAST_CARBON_PERCENT = 1.0
"""CO2 + CO: under it the gas is air [%]."""
_PPM = 1e4
_SMALLEST_PPM = 500.0


def check_gas(
    co2_percent: float, co_percent: float, o2_percent: float, hc_ppm: float, no_ppm: float | None
) -> None:
    """Refuse an analysis that no analyser shows.

    Args:
        co2_percent: carbon dioxide in dry gas [%].
        co_percent: carbon monoxide [%].
        o2_percent: oxygen [%].
        hc_ppm: unburned fuel as hexane [ppm].
        no_ppm: nitrogen monoxide [ppm]; None where it was not shown.

    Raises:
        BadValue: one is below zero or above all that engines give, percent and ppm were taken for each other,
            or together they are no exhaust.
    """
    percents = {"co2": co2_percent, "co": co_percent, "o2": o2_percent}
    parts = {"hc": hc_ppm} | ({} if no_ppm is None else {"no": no_ppm})
    for name, value in percents.items():
        _checked_percent(name, value)
    for name, value in parts.items():
        _checked_ppm(name, value)
    total = sum(percents.values()) + sum(parts.values()) / _PPM
    if total > 100.0:
        raise BadValue(f"the gases add up to {total:.1f} percent, over 100; read them off again")
    for name, value in percents.items():
        if value > MOST_PERCENT[name]:
            raise BadValue(_too_much(name, value))
    oxygen = co2_percent + co_percent / 2.0 + o2_percent
    if oxygen > MOST_OXYGEN_PERCENT:
        raise BadValue(
            f"co2 {co2_percent:g}, co {co_percent:g} and o2 {o2_percent:g} percent hold more oxygen than the air"
            " brought in; see whether two fields were taken for each other"
        )
    if co2_percent + co_percent < LEAST_CARBON_PERCENT:
        raise BadValue(
            f"co2 and co come to {co2_percent + co_percent:g} percent together, which is no exhaust; give percent,"
            " not a share (12.1 for 0.121), and take the gas deep in the pipe, free of air"
        )


def _too_much(name: str, value: float) -> str:
    if name == "o2":
        return (
            f"o2 = {value:g} percent is more than free air has (20.9); set the analyser's oxygen in free air"
        )
    most = MOST_PERCENT[name]
    return f"{name} = {value:g} percent is more than an engine gives ({most:g} at most); read it off again"


def _checked_percent(name: str, value: float) -> None:
    if not math.isfinite(value):
        raise BadValue(f"{name} must be a number of percent")
    if value < 0.0:
        raise BadValue(
            f"{name} = {value:g} percent is below zero; set the analyser's zero in clean air and measure again"
        )
    if value >= _SMALLEST_PPM and value / _PPM <= MOST_PERCENT[name]:
        raise BadValue(f"{name} = {value:g} looks like ppm; give it in percent: {value / _PPM:g}")


def _checked_ppm(name: str, value: float) -> None:
    unit = "ppm as hexane" if name == "hc" else "ppm"
    if not math.isfinite(value):
        raise BadValue(f"{name} must be a number of {unit}")
    if value < 0.0:
        raise BadValue(
            f"{name} = {value:g} ppm is below zero; set the analyser's zero in clean air and measure again"
        )
    if 0.0 < value < 1.0:
        raise BadValue(f"{name} = {value:g} looks like percent; give it in {unit}: {value * _PPM:g}")
    if value > MOST_PPM[name]:
        raise BadValue(
            f"{name} = {value:g} {unit} is more than an engine gives ({MOST_PPM[name]:g} at most); read it off again"
        )
