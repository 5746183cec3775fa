"""What an oxygen sensor's history says of its readings on a day: what to take off, and how sure the rest is.

All figures in lambda are those near a working mixture, 0.7 to 1.1; a lean reading far beyond is less sure.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from bridge.channels.sensor import SensorEvent, SensorEventWhat
from bridge.physics.pump_cell import correction_sd, free_air_oxygen

SENSOR_SD = 0.010
"""Standard uncertainty of a wideband reading where nobody knows better; common practice, no source [1]."""
TWO_STROKE_SD = 0.05
"""The same on a two-stroke, whose lost charge makes it read lean by an unknown amount; common practice, no
source [1]."""
DRIFT_PER_YEAR = 0.005
"""How much surer a fresh sensor is than one that was checked a year ago, as a standard uncertainty that grows
with the days; common practice, no source [1 per year]."""
UNCHECKED_DAYS = 365.0
"""Taken for the days since the last check where none is on record; common practice, no source [d]."""
# What a check tells where nobody wrote the air down: that of 20 Cel and 50 %, within what dry and humid days
# span; and to what a display can be read. Common practice, no source.
_USUAL_AIR = (20.0, 1013.25, 50.0)
_AIR_UNKNOWN_SD = 0.0015
_READ_SD = 0.001
# A free-air check that is off by more says that the sensor is done, or that it was no free air: common practice, no
# source.
_MOST_OFF = 0.10
# Where the doubt of the gain is reckoned: a working mixture of full throttle.
_WORKING_LAMBDA = 0.87
_DAYS_A_YEAR = 365.0


@dataclass(frozen=True)
class SensorState:
    """What is known of one oxygen sensor at a moment.

    Attributes:
        cylinder: whose; None for the one in the collector.
        offset: to be taken off a reading: the sensor's own stated offset and the stated apparent less trapped
            lambda together [1].
        offset_sd: standard uncertainty of it [1]; it is in ``accuracy_sd`` already.
        gain: the oxygen share that the last free-air check told over the one that was there; 1 without a
            check [1]. A check that is off by over 10 % corrects nothing.
        gain_sd: standard uncertainty of it [1]; what it does to a mixture of 0.87 is in ``accuracy_sd`` already. By how
            much a later check was off that corrects nothing is in it.
        accuracy_sd: standard uncertainty of a corrected reading on the day of the check [1].
        accuracy_status: where ``accuracy_sd`` comes from: ``stated`` or ``common practice``.
        drift_sd: what the days since then add [1].
        drift_status: where that comes from: ``stated``, ``common practice``, or ``assumed`` where nobody wrote
            down when the sensor was checked.
        checked_days: days since the sensor was last checked, replaced or compared with the truth; None where
            nobody wrote any of it down, and ``drift_sd`` is then that of a year.
        calibrated: False for a two-stroke (or strokes unknown) without a stated trapped offset: its reading is
            lean by an unknown amount.
        changes: what gain and offset came from, one sentence each.
        assumed: what nobody wrote down and was assumed, one sentence each.
    """

    cylinder: int | None
    offset: float
    offset_sd: float
    gain: float
    gain_sd: float
    accuracy_sd: float
    accuracy_status: str
    drift_sd: float
    drift_status: str
    checked_days: float | None
    calibrated: bool
    changes: tuple[str, ...]
    assumed: tuple[str, ...]

    @property
    def notes(self) -> tuple[str, ...]:
        """All that there is to say, one sentence each."""
        return (*self.changes, *self.assumed)

    @property
    def sd(self) -> float:
        """Standard uncertainty of a corrected reading: accuracy and drift together [1]."""
        return math.hypot(self.accuracy_sd, self.drift_sd)


def sensor_state(  # noqa: PLR0913, PLR0917  # what is known of a sensor is this much
    events: Sequence[SensorEvent],
    cylinder: int | None,
    at: datetime,
    strokes: int | None,
    accuracy: float | None = None,
    drift: float | None = None,
) -> SensorState:
    """Return what a sensor's history says of it at a moment.

    Of each kind the newest event up to then counts. A replacement voids all that was said of the sensor before;
    what was said of the engine (``trapped``) stays. A stated offset is what is left once gain and pressure are
    put right.

    Args:
        events: the bike's, in any order; those of other cylinders and later ones are left out.
        cylinder: whose sensor, from 1; None for the one in the collector.
        at: the moment, with its zone.
        strokes: 2 or 4; None counts as 2, the less sure.
        accuracy: the sensor's own standard uncertainty where the user knows it [1].
        drift: how much that grows in a year [1]; the common-practice value where None.

    Returns:
        Its state. On a two-stroke the sensor's own accuracy and what the lost charge does are two doubts:
        a stated ``trapped`` offset replaces the wide one by its own.
    """
    own = [e for e in events if e.at <= at and e.cylinder in (None, cylinder)]
    replaced = _newest(own, "replaced")
    of_sensor = [e for e in own if replaced is None or e.at >= replaced.at]
    failed = _failed(of_sensor)
    free_air = _newest([e for e in of_sensor if not _is_failed(e)], "free air")
    offset = _newest(of_sensor, "offset")
    trapped = _newest(own, "trapped")
    last = max((e.at for e in (replaced, free_air, offset) if e is not None), default=None)
    days = None if last is None else (at - last).total_seconds() / 86_400.0
    gain, gain_sd = (1.0, 0.0) if free_air is None else free_air_gain(free_air)
    if failed is not None:  # whether the sensor or the check was wrong is open, so all of it is a doubt
        gain_sd = math.hypot(gain_sd, free_air_gain(failed)[0] - gain)
    stated_sd = offset.sd if offset is not None and offset.sd is not None else accuracy
    knows_sensor = stated_sd is not None
    sensor_sd = SENSOR_SD if stated_sd is None else stated_sd
    knows_charge = strokes == 4 or (trapped is not None and trapped.sd is not None)
    charge_sd = _charge_sd(strokes, trapped)
    per_year = DRIFT_PER_YEAR if drift is None else drift
    lever_sd = float(correction_sd(_WORKING_LAMBDA, gain, gain_sd)) if gain_sd > 0.0 else 0.0
    return SensorState(
        cylinder=cylinder,
        offset=_value(offset) + _value(trapped),
        offset_sd=math.hypot(_sd(offset), _sd(trapped)),
        gain=gain,
        gain_sd=gain_sd,
        accuracy_sd=math.hypot(sensor_sd, charge_sd, lever_sd),
        accuracy_status="stated" if knows_sensor and knows_charge else "common practice",
        drift_sd=per_year * (UNCHECKED_DAYS if days is None else days) / _DAYS_A_YEAR,
        drift_status="assumed" if days is None else "common practice" if drift is None else "stated",
        checked_days=days,
        calibrated=knows_charge,
        changes=(*_of_gain(free_air, gain), *_of_offsets(offset, trapped)),
        assumed=(
            *_of_failed(failed),
            *_of_drift(days, per_year, "usable free-air check" if failed else "free-air check"),
            *([] if knows_charge else [_LEAN if strokes == 2 else _STROKES]),
        ),
    )


def free_air_gain(event: SensorEvent) -> tuple[float, float]:
    """Return what a free-air check says of a sensor's gain.

    Args:
        event: of kind ``free air``, with the share that it told; its air where it was written down.

    Returns:
        The share told over the share that was there, and its standard uncertainty [1]. Where the humidity was not
        written down, that of a usual day stands in with the doubt that goes with it.
    """
    assert event.value is not None  # a free-air check without a value is refused when it is written
    known = event.humidity_percent is not None
    told = (event.air_temp_c, event.air_pressure_hpa, event.humidity_percent)
    there = free_air_oxygen(
        *(usual if own is None else own for own, usual in zip(told, _USUAL_AIR, strict=True))
    )
    gain = event.value / there
    there_sd = 0.0 if known else _AIR_UNKNOWN_SD
    told_sd = _READ_SD if event.sd is None else event.sd
    return gain, math.hypot(told_sd, gain * there_sd) / there


_LEAN = (
    "a two-stroke's lost charge makes the sensor read lean by an unknown amount; the wider uncertainty of"
    f" {TWO_STROKE_SD:g} lambda goes with it until a trapped offset is stated"
)
_STROKES = (
    f"nobody said which bike this is, so the sensor gets the wider uncertainty of {TWO_STROKE_SD:g} lambda"
)


def _newest(events: Sequence[SensorEvent], what: SensorEventWhat) -> SensorEvent | None:
    """Return the newest event of a kind; of two at one moment the one that was written later."""
    return max(
        (e for e in enumerate(events) if e[1].what == what), key=lambda e: (e[1].at, e[0]), default=(0, None)
    )[1]


def _value(event: SensorEvent | None) -> float:
    return 0.0 if event is None or event.value is None else event.value


def _sd(event: SensorEvent | None) -> float:
    return 0.0 if event is None or event.sd is None else event.sd


def _charge_sd(strokes: int | None, trapped: SensorEvent | None) -> float:
    """Return the doubt about the lost charge, beside that of the sensor itself [1]."""
    if trapped is not None and trapped.sd is not None:
        return trapped.sd
    return 0.0 if strokes == 4 else math.sqrt(TWO_STROKE_SD**2 - SENSOR_SD**2)


def _of_gain(free_air: SensorEvent | None, gain: float) -> list[str]:
    if free_air is None:
        return []
    told = (
        f"the reading is corrected for the free-air check of {free_air.at:%Y-%m-%d}, which told"
        f" {free_air.value:.4f} of oxygen, {gain:.3f} times what was there"
    )
    return [told]


def _is_failed(event: SensorEvent) -> bool:
    """Return whether it is a free-air check that is too far off to correct by."""
    return event.what == "free air" and abs(free_air_gain(event)[0] - 1.0) > _MOST_OFF


def _failed(events: Sequence[SensorEvent]) -> SensorEvent | None:
    """Return the newest free-air check where it is too far off to correct by."""
    newest = _newest(events, "free air")
    return newest if newest is not None and _is_failed(newest) else None


def _of_failed(failed: SensorEvent | None) -> list[str]:
    if failed is None:
        return []
    told = (
        f"the free-air check of {failed.at:%Y-%m-%d} told {failed.value:.4f} of oxygen,"
        f" {free_air_gain(failed)[0]:.3f} times what was there: over {_MOST_OFF:.0%} off is not corrected by but"
        " counted as a doubt; exhaust may have been left in the pipe, so blow it out and check again in free air, and"
        " replace the sensor where it stays so"
    )
    return [told]


def _of_offsets(offset: SensorEvent | None, trapped: SensorEvent | None) -> list[str]:
    notes = []
    if offset is not None:
        notes.append(f"the sensor's stated offset of {_value(offset):+.3f} lambda is taken off")
    if trapped is not None:
        notes.append(
            f"the stated {_value(trapped):+.3f} lambda by which the exhaust reads off the trapped charge is taken off"
        )
    return notes


def _of_drift(days: float | None, per_year: float, check: str) -> list[str]:
    if days is None:
        return [
            (
                f"no {check} of the sensor is on record, so a year of drift ({per_year:g} lambda) is assumed;"
                " check it in free air and write it down by 'sootline sensor'"
            )
        ]
    return []
