"""``sensor``: the oxygen sensor's own history, and what is known of it now."""

import argparse
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from bridge.cli.context import moment, reading, writing
from bridge.cli.output import answer, local, number, table, utc, wrap
from bridge.cli.parser import Parser, command, finite, whole
from bridge.errors import BadValue

if TYPE_CHECKING:
    from bridge.channels import SensorEvent, SensorState
    from bridge.logbook import Logbook
    from bridge.model import Bike

_BESIDE = {"sd": "--sd", "at": "--at", "cylinder": "--cylinder"}
_AIR = {"temp": "--temp", "pressure": "--pressure", "humidity": "--humidity"}


def add(commands: "argparse._SubParsersAction[Parser]") -> None:
    """Add this module's command."""
    one = command(
        commands, "sensor", sensor, "the history of a bike's oxygen sensors, and what is known of them"
    )
    one.add_argument("bike", metavar="BIKE")
    one.add_argument(
        "--free-air",
        type=finite,
        metavar="SHARE",
        help="oxygen share that it told in free air, such as 0.205",
    )
    one.add_argument(
        "--replaced", action="store_true", help="a new sensor; nothing said of the old one holds"
    )
    one.add_argument(
        "--offset", type=finite, metavar="LAMBDA", help="by how much it reads over the truth, in lambda"
    )
    one.add_argument(
        "--trapped-offset",
        type=finite,
        metavar="LAMBDA",
        help="by how much the exhaust of this two-stroke reads over the charge that burned",
    )
    one.add_argument("--sd", type=finite, metavar="SD", help="standard uncertainty of what is stated")
    one.add_argument("--at", metavar="ISO", help="when; now if left out")
    one.add_argument("--cylinder", type=whole, metavar="N", help="whose sensor; of all if left out")
    one.add_argument("--temp", type=finite, metavar="C", help="air temperature of the free-air check")
    one.add_argument("--pressure", type=finite, metavar="HPA", help="its station pressure")
    one.add_argument("--humidity", type=finite, metavar="PERCENT", help="its relative humidity")


def sensor(args: argparse.Namespace) -> int:
    """Write an event down, or show the history."""
    event, zone_note = _event(args)
    if event is None:
        with reading(args) as logbook:
            return _show(args, logbook, None)
    with writing(args) as logbook:
        logbook.add_sensor_event(args.bike, event)
        return _show(args, logbook, zone_note)


def _event(args: argparse.Namespace) -> tuple["SensorEvent | None", str | None]:
    """Return what was told, and a note on its time; None where nothing was."""
    from bridge.channels import SensorEvent  # noqa: PLC0415  # start-up
    from bridge.channels.sensor import SensorEventWhat  # noqa: PLC0415  # start-up

    told: dict[SensorEventWhat, float | None] = {
        "free air": args.free_air,
        "offset": args.offset,
        "trapped": args.trapped_offset,
    }
    events = [kind for kind, value in told.items() if value is not None]
    events += ["replaced"] if args.replaced else []
    if len(events) > 1:
        raise BadValue(
            f"{' and '.join(events)} are {len(events)} events; write them down one after the other"
        )
    what = events[0] if events else None
    if what is None:
        given = [word for key, word in (_BESIDE | _AIR).items() if getattr(args, key) is not None]
        if given:
            raise BadValue(
                f"{' and '.join(given)} alone says nothing; add --free-air SHARE, --replaced, --offset LAMBDA or"
                " --trapped-offset LAMBDA"
            )
        return None, None
    at, zone_note = (datetime.now(UTC), None) if args.at is None else moment(args.at)
    return (
        SensorEvent(
            what,
            at,
            cylinder=args.cylinder,
            value=told.get(what),
            sd=args.sd,
            air_temp_c=args.temp,
            air_pressure_hpa=args.pressure,
            humidity_percent=args.humidity,
        ),
        zone_note,
    )


def _show(args: argparse.Namespace, logbook: "Logbook", zone_note: str | None) -> int:
    from bridge.model.sensor_known import state_at  # noqa: PLC0415  # start-up

    bike, events = logbook.bike(args.bike), logbook.sensor_events(args.bike)
    now = datetime.now(UTC)
    states = [state_at(bike, events, cylinder, now) for cylinder in _sensors(bike)]
    notes = [zone_note] if zone_note else []
    document = {
        "bike": bike.name,
        "events": [_event_document(event) for event in events],
        "state": [_state_document(state) for state in states],
        "notes": notes,
    }
    answer(args, document, _lines(events, states, notes))
    return 0


def _sensors(bike: "Bike") -> list[int | None]:
    """Return the cylinders that have a sensor of their own, or None for the one of all."""
    return [None] if bike.sensor == "collector" else [*range(1, bike.cylinders + 1)]


def _event_document(event: "SensorEvent") -> dict[str, Any]:
    return {
        "what": event.what,
        "at": utc(event.at),
        "cylinder": event.cylinder,
        "value": event.value,
        "sd": event.sd,
        "air_temp_c": event.air_temp_c,
        "air_pressure_hpa": event.air_pressure_hpa,
        "humidity_percent": event.humidity_percent,
    }


def _state_document(state: "SensorState") -> dict[str, Any]:
    return {
        "cylinder": state.cylinder,
        "offset": state.offset,
        "offset_sd": state.offset_sd,
        "gain": state.gain,
        "gain_sd": state.gain_sd,
        "accuracy_sd": state.accuracy_sd,
        "drift_sd": state.drift_sd,
        "sd": state.sd,
        "checked_days": state.checked_days,
        "calibrated": state.calibrated,
        "notes": list(state.notes),
    }


def _lines(events: "tuple[SensorEvent, ...]", states: "list[SensorState]", notes: list[str]) -> list[str]:
    if events:
        head = ("what", "when", "cyl", "value", "sd", "air C", "hPa", "humidity %")
        lines = table(head, [_event_row(event) for event in events])
    else:
        lines = ["nothing is on record of this bike's oxygen sensors yet"]
    lines += [
        "",
        *table(("cyl", "gain", "offset", "accuracy", "drift", "sd", "days"), map(_state_row, states)),
    ]
    lines += wrap(
        "Of the sensors now: gain over 1 reads too far from lambda 1; offset is taken off a reading; accuracy, drift"
        " since the last check and sd (both together) are standard uncertainties of lambda."
    )
    told = dict.fromkeys(note for state in states for note in state.notes)
    return [*lines, *(line for note in (*told, *notes) for line in wrap(f"Note: {note}."))]


def _event_row(event: "SensorEvent") -> tuple[object, ...]:
    return (
        event.what,
        local(event.at),
        "all" if event.cylinder is None else event.cylinder,
        number(event.value, 4 if event.what == "free air" else 3),
        number(event.sd, 4 if event.what == "free air" else 3),
        number(event.air_temp_c, 1),
        number(event.air_pressure_hpa, 1),
        number(event.humidity_percent, 0),
    )


def _state_row(state: "SensorState") -> tuple[object, ...]:
    return (
        "all" if state.cylinder is None else state.cylinder,
        number(state.gain),
        number(state.offset),
        number(state.accuracy_sd),
        number(state.drift_sd),
        number(state.sd),
        number(state.checked_days, 0),
    )
