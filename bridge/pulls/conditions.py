"""What a pull began with: temperatures, the time since the one before, the air."""

from dataclasses import dataclass

import numpy as np

from bridge.model import PullSettings, Weather
from bridge.pulls.log import Near

_BEFORE_S = 1.0
"""A start temperature is the mean over this before the pull [s]."""


@dataclass(frozen=True)
class Air:
    """The air that a pull breathed, as far as it is known."""

    temp_c: float | None
    pressure_hpa: float | None
    humidity_percent: float | None
    told_by: str

    @property
    def whole(self) -> tuple[float, float, float] | None:
        """Temperature [Cel], station pressure [hPa] and humidity [%], or None where one is missing."""
        if self.temp_c is None or self.pressure_hpa is None or self.humidity_percent is None:
            return None
        return self.temp_c, self.pressure_hpa, self.humidity_percent

    @property
    def missing(self) -> tuple[str, ...]:
        """What is not known of it, in words."""
        named = (
            ("air temperature", self.temp_c),
            ("air pressure", self.pressure_hpa),
            ("humidity", self.humidity_percent),
        )
        return tuple(name for name, value in named if value is None)


@dataclass(frozen=True)
class Conditions:
    """How a pull began."""

    start_temp_c: float | None
    """Of the head, else the coolant [Cel]."""
    start_temp_of: str | None
    """What that is the temperature of."""
    start_egt_c: float | None
    rest_s: float | None
    """From the end of the pull before [s]; None for the first one."""
    air: Air
    outside: tuple[str, ...]
    """What is outside the stated window, one clause each."""


def conditions(  # noqa: PLR0913, PLR0917  # a pull and what it is held against
    log: Near, start_s: float, end_s: float, earlier_s: float | None, weather: Weather, settings: PullSettings
) -> Conditions:
    """Return how a pull began.

    Args:
        log: the run.
        start_s: of the pull [s].
        end_s: of the pull [s].
        earlier_s: end of the pull before it [s].
        weather: of the session's set-up, where the log has no air of its own.
        settings: with the window for temperature and rest.
    """
    temp, of = None, None
    for names, what in ((log.chts, "head"), (("coolant_temp",), "coolant")):
        found = [log.mean(name, start_s - _BEFORE_S, start_s) for name in names]
        known = [value for value in found if value is not None]
        if known:
            temp, of = float(np.mean(known)), what
            break
    egts = [log.mean(name, start_s - _BEFORE_S, start_s) for name in log.egts]
    known = [value for value in egts if value is not None]
    rest = None if earlier_s is None else start_s - earlier_s
    outside = [
        *_outside(
            f"the {of or 'engine'} was at",
            temp,
            settings.start_low_c,
            settings.start_high_c,
            "Cel at its start",
        ),
        *_outside("it began", rest, settings.rest_low_s, settings.rest_high_s, "s after the one before"),
    ]
    stated = settings.start_low_c is not None or settings.start_high_c is not None
    if temp is None and stated:
        outside.append(
            "no head or coolant temperature was recorded, so its start cannot be held against the window"
        )
    return Conditions(
        temp,
        of,
        float(np.mean(known)) if known else None,
        rest,
        air_of(log, start_s, end_s, weather),
        tuple(outside),
    )


def air_of(log: Near, from_s: float, to_s: float, weather: Weather) -> Air:
    """Return the air of a part: as recorded, else as the set-up states it."""
    names = ("air_temp", "air_pressure", "humidity")
    recorded = [log.mean(name, from_s, to_s) for name in names]
    stated = (weather.air_temp_c, weather.air_pressure_hpa, weather.humidity_percent)
    values = [own if own is not None else other for own, other in zip(recorded, stated, strict=True)]
    logged = [own is not None for own in recorded]
    told_by = (
        "recorded" if all(logged) else "the set-up" if not any(logged) else "recorded, the rest by the set-up"
    )
    return Air(values[0], values[1], values[2], told_by)


def _outside(what: str, value: float | None, low: float | None, high: float | None, unit: str) -> list[str]:
    if value is None or ((low is None or value >= low) and (high is None or value <= high)):
        return []
    limit = f"under {low:g}" if low is not None and value < low else f"over {high:g}"
    return [f"{what} {value:.0f} {unit}, {limit}"]
