"""The weather of a session, as its set-up says it, and what is odd about it."""

from typing import Annotated

from bridge.errors import BadFile, BadValue
from bridge.model.base import FileModel, checked
from bridge.physics.stated_air import (
    checked_altitude_m,
    checked_humidity_percent,
    checked_pressure_hpa,
    checked_temp_c,
    questions,
    refuse_mmhg,
)


class Weather(FileModel):
    """The air of the day at the intake."""

    air_temp_c: Annotated[float, checked(checked_temp_c)] | None = None
    air_pressure_hpa: Annotated[float, checked(checked_pressure_hpa)] | None = None
    """Station pressure, not reduced to sea level [hPa]."""
    humidity_percent: Annotated[float, checked(checked_humidity_percent)] | None = None
    altitude_m: Annotated[float, checked(checked_altitude_m)] | None = None
    """Of the place above sea level [m]; with it a pressure that cannot be station pressure is questioned."""


def weather_notes(weather: Weather) -> tuple[str, ...]:
    """Return what should be questioned about a stated weather, one sentence each.

    Args:
        weather: of a session's set-up.
    """
    return questions(
        weather.air_pressure_hpa, weather.humidity_percent, weather.altitude_m, weather.air_temp_c
    )


_SAME_DAY_S = 12 * 3600.0
"""Weather that was written so long before is that of another day [s]; assumed."""


def carried_notes(weather_of: tuple[int, float] | None) -> tuple[str, ...]:
    """Return what is said of a weather that was taken over from another day.

    Args:
        weather_of: as in ``Run``.
    """
    if weather_of is None or weather_of[1] < _SAME_DAY_S:
        return ()
    session, before_s = weather_of
    days = max(1, round(before_s / 86_400.0))
    said = (
        f"The air, or a part of it, is that written down for session {session}, {days} day{'' if days == 1 else 's'}"
        " before: nobody wrote this day's own; write the whole [weather] for this session by 'sootline setup set'."
    )
    return (said,)


def check_written(weather: Weather, where: str) -> None:
    """Complain about a weather that was just written where its pressure was read in mmHg.

    Not part of the table itself: what once was taken must stay readable.

    Args:
        weather: as it was written.
        where: the file, for the sentence.

    Raises:
        BadFile: as ``refuse_mmhg``.
    """
    if weather.air_pressure_hpa is None:
        return
    try:
        refuse_mmhg(weather.air_pressure_hpa, weather.altitude_m, weather.air_temp_c)
    except BadValue as error:
        raise BadFile(f"{where}: weather.air_pressure_hpa: {error}") from None
