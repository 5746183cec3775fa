"""An exhaust-gas analysis, as an analyser shows it and a person typed it."""

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class GasAnalysis:
    """Dry exhaust gas of one cylinder, or of the collector.

    Attributes:
        session: its number.
        cylinder: from 1; None for the gas of all cylinders together.
        co2_percent: carbon dioxide by volume [%].
        co_percent: carbon monoxide [%].
        o2_percent: oxygen [%].
        hc_ppm: unburned fuel as hexane [ppm].
        no_ppm: nitrogen monoxide [ppm]; None where the analyser does not show it.
        written: when it was typed, in UTC.
    """

    session: int
    cylinder: int | None
    co2_percent: float
    co_percent: float
    o2_percent: float
    hc_ppm: float
    no_ppm: float | None
    written: datetime
