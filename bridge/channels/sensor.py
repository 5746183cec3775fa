"""An oxygen sensor's own history: what was checked, replaced or stated about it, by date."""

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

SensorEventWhat = Literal["free air", "replaced", "offset", "trapped"]


@dataclass(frozen=True)
class SensorEvent:
    """Something that was done to, or is known of, an oxygen sensor.

    Attributes:
        what: ``free air``: it was held in free air and ``value`` is the oxygen share that it told [1].
            ``replaced``: a new one, about which nothing earlier holds. ``offset``: its reading less the truth,
            in lambda [1]. ``trapped``: the apparent lambda of the exhaust less that of the charge trapped in
            the cylinder, known of this engine [1].
        at: when, in UTC.
        cylinder: whose sensor; None for all of the bike's.
        value: see ``what``; None for ``replaced``.
        sd: standard uncertainty of ``value`` [1]; None where nobody said.
        air_temp_c: of the air of a free-air check [Cel]; None where nobody said.
        air_pressure_hpa: its station pressure [hPa].
        humidity_percent: its relative humidity [%].
    """

    what: SensorEventWhat
    at: datetime
    cylinder: int | None = None
    value: float | None = None
    sd: float | None = None
    air_temp_c: float | None = None
    air_pressure_hpa: float | None = None
    humidity_percent: float | None = None
