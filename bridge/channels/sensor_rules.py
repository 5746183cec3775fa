"""What cannot be said of an oxygen sensor: slips of the hand, told with their mend."""

import math

from bridge.channels.sensor import SensorEvent
from bridge.errors import BadValue
from bridge.physics.stated_air import checked_humidity_percent, checked_pressure_hpa, checked_temp_c

LEAST_OXYGEN, MOST_OXYGEN = 0.15, 0.25
"""What a sensor that still works tells of free air, which has 0.20 to 0.21; common practice, no source [1]."""
LARGEST_OFFSET = 0.5
"""No offset in lambda is larger; common practice, no source [1]."""
LARGEST_SD = 0.5


def check_event(event: SensorEvent) -> None:
    """Refuse an event that cannot be.

    Args:
        event: as somebody wrote it down.

    Raises:
        BadValue: a value is missing or out of its range, or says what does not belong to this kind.
    """
    if event.what == "replaced":
        if event.value is not None or event.sd is not None:
            raise BadValue("a replaced sensor has neither a value nor an uncertainty yet; leave them out")
    elif event.value is None or not math.isfinite(event.value):
        raise BadValue(f"an event of the kind '{event.what}' needs a plain number")
    elif event.what == "free air":
        _check_share(event.value)
    elif abs(event.value) > LARGEST_OFFSET:
        raise BadValue(
            f"an offset of {event.value:g} lambda is more than {LARGEST_OFFSET:g} either way; is it an air-fuel ratio?"
            " divide it by the stoichiometric one"
        )
    if event.sd is not None and not 0.0 < event.sd <= LARGEST_SD:
        raise BadValue(f"the uncertainty of {event.sd:g} must be over 0 and at most {LARGEST_SD:g}")
    if event.what == "trapped" and event.sd is None:
        raise BadValue("say how sure the trapped offset is, as its standard uncertainty, such as --sd 0.03")
    _check_air(event)


def _check_share(share: float) -> None:
    if LEAST_OXYGEN <= share <= MOST_OXYGEN:
        return
    if LEAST_OXYGEN <= share / 100.0 <= MOST_OXYGEN:
        raise BadValue(f"{share:g} looks like percent of oxygen; give its share: {share / 100.0:g}")
    raise BadValue(
        f"in free air a sensor tells an oxygen share near 0.209, and {share:g} is outside {LEAST_OXYGEN:g} to"
        f" {MOST_OXYGEN:g}; hold it in clean air with its heater on and read again, or replace it"
    )


def _check_air(event: SensorEvent) -> None:
    if event.what != "free air":
        if any(one is not None for one in (event.air_temp_c, event.air_pressure_hpa, event.humidity_percent)):
            raise BadValue(
                "the air of the day belongs to a free-air check alone; leave it out, or give --free-air"
            )
        return
    if event.air_temp_c is not None:
        checked_temp_c(event.air_temp_c)
    if event.air_pressure_hpa is not None:
        checked_pressure_hpa(event.air_pressure_hpa)
    if event.humidity_percent is not None:
        checked_humidity_percent(event.humidity_percent)
