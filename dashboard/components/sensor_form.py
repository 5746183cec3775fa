"""Writing down what was done to an oxygen sensor, or is known of it."""

from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Any, Final

import dash_mantine_components as dmc
from dash import html
from dash.development.base_component import Component

from bridge.channels.sensor import SensorEvent, SensorEventWhat
from bridge.errors import BadValue
from dashboard import ids
from dashboard.components.fields import Choices, as_number, as_words, choice, number, words

WHATS: Final = (
    ("free air", "held in free air"),
    ("replaced", "replaced"),
    ("offset", "offset known"),
    ("trapped", "lost charge known"),
)
ALL = "all"
_TRAPPED = (
    "What this two-stroke's lost charge makes the exhaust read too lean, from a test of yours. It is taken off"
    " from then on: one that is too small is safe, one that is too large lets the engine run lean unseen."
)
VALUES: Final[dict[str, tuple[str, str, str]]] = {
    "free air": (
        "Oxygen that it told",
        "%",
        "Engine off, the sensor warm and out of the pipe, in free air: about 20.8 %. It burns skin for long after.",
    ),
    "offset": (
        "Its reading less the truth",
        "lambda",
        "Against a sensor or an analyser that you trust; plus where it reads too lean. It is taken off from then on.",
    ),
    "trapped": (
        "Exhaust less charge in the cylinder",
        "lambda",
        _TRAPPED,
    ),
}
"""What the number of each kind is: its label, unit, and what it needs."""


def form(cylinders: Sequence[int | None], strokes: int) -> Component:
    """Return the form.

    Args:
        cylinders: those with a sensor each; one None where a sensor stands for all.
        strokes: of the bike; only a two-stroke loses so much charge that it has to be told.
    """
    whats = WHATS if strokes == 2 else WHATS[:3]
    return html.Div(
        [
            html.H2("Write down a check of the sensor"),
            choice(ids.event_field("what"), "It was, or it has", whats, "free air"),
            _which(ids.event_field("cylinder"), cylinders, "Whose sensor", (ALL, "all of them")),
            html.Div(fields("free air"), id=ids.EVENT_FIELDS, className="form"),
            words(
                ids.event_field("at"),
                "When",
                None,
                "Such as 2026-05-14 09:20, by this machine's clock; left empty: now. It counts for later sessions.",
            ),
            dmc.Button("Write it down", id=ids.EVENT, size="xl", fullWidth=True),
        ],
        className="form",
    )


def _which(
    name: dict[str, str], cylinders: Sequence[int | None], label: str, together: tuple[str, str]
) -> Component | None:
    """Return the choice of a cylinder, where there is more than one."""
    numbers: Choices = [(str(n), str(n)) for n in cylinders if n is not None]
    return choice(name, label, (together, *numbers), together[0]) if len(numbers) > 1 else None


def fields(what: str) -> list[Component]:
    """Return the fields that a kind of event needs."""
    if what not in VALUES:
        return [html.P("Nothing that was said of the old sensor holds for the new one.", className="hint")]
    label, unit, hint = VALUES[what]
    percent = what == "free air"
    found = [
        html.P(hint, className="quiet hint"),
        number(ids.event_field("value"), label, None, unit),
        number(
            ids.event_field("sd"),
            "Give or take",
            None,
            unit,
            "As far as it may well be off, two times in three",
        ),
    ]
    if not percent:
        return found
    air = html.Details(
        [
            html.Summary("The air of the check: damp air holds less oxygen"),
            number(ids.event_field("air_temp_c"), "Temperature", None, "°C"),
            number(ids.event_field("air_pressure_hpa"), "Station pressure", None, "hPa"),
            number(ids.event_field("humidity_percent"), "Humidity", None, "%"),
        ]
    )
    return [*found, air]


def event(raw: dict[str, Any], now: datetime) -> SensorEvent:
    """Return what the form holds.

    Args:
        raw: values by the fields' names; those that a kind has no field for may be missing.
        now: with its zone.

    Raises:
        BadValue: a number is none or missing, or the time is none.
    """
    what: SensorEventWhat = raw["what"]
    value, sd = as_number(raw.get("value"), "the value"), as_number(raw.get("sd"), "give or take")
    if what in VALUES and value is None:
        raise BadValue(f"give a number for '{VALUES[what][0]}'; without it there is nothing to correct by")
    if what == "free air":
        if value is not None and value < 1.0:
            raise BadValue(f"oxygen is asked for in percent here, so {value:g} would be {100 * value:g}")
        # the logbook keeps a share
        value, sd = (None if one is None else one / 100.0 for one in (value, sd))
    cylinder = raw.get("cylinder", ALL)
    return SensorEvent(
        what=what,
        at=_moment(as_words(raw.get("at")), now),
        cylinder=None if cylinder == ALL else int(cylinder),
        value=value,
        sd=sd,
        air_temp_c=as_number(raw.get("air_temp_c"), "the temperature"),
        air_pressure_hpa=as_number(raw.get("air_pressure_hpa"), "the pressure"),
        humidity_percent=as_number(raw.get("humidity_percent"), "the humidity"),
    )


def _moment(told: str | None, now: datetime) -> datetime:
    if told is None:
        return now
    try:
        when = datetime.fromisoformat(told).astimezone(UTC)
    except ValueError:
        raise BadValue(f"'{told}' is no time; write it such as 2026-05-14 09:20, or leave it empty") from None
    if when > now:
        raise BadValue(f"{told} has not come yet; a check is written down when it was done")
    return when
