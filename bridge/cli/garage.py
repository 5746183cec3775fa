"""``bike`` and ``setup``: what is ridden, and how it was set."""

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from bridge.cli.context import reading, writing
from bridge.cli.output import answer, table, wrap
from bridge.cli.parser import Parser, command, group, session_number

if TYPE_CHECKING:
    from bridge.logbook import Logbook
    from bridge.model import Setup


def add(commands: "argparse._SubParsersAction[Parser]") -> None:
    """Add this module's commands."""
    bike = group(commands, "bike", "the bikes in the logbook")
    one = command(bike, "add", add_bike, "add a bike from its TOML file, or take over its corrected file")
    one.add_argument("file", type=Path, metavar="FILE.toml")
    command(bike, "list", list_bikes, "list the bikes and the engine build each is at")
    one = command(
        bike, "rebuilt", rebuilt, "note a rebuilt engine: a new build begins, and with it a new ring scale"
    )
    one.add_argument("name", metavar="NAME")
    one.add_argument("--what", required=True, metavar="TEXT", help="head, pipe, porting, compression ...")
    one = command(bike, "rode", rode, "say which bike ran in a session that has none yet")
    one.add_argument("name", metavar="NAME")
    one.add_argument("--session", type=session_number, required=True, metavar="N")

    setup = group(commands, "setup", "the set-up of a session")
    one = command(
        setup, "set", set_setup, "set a session up from a TOML file; what it leaves out stays as it was"
    )
    one.add_argument("session", type=session_number, metavar="SESSION")
    one.add_argument("file", type=Path, metavar="FILE.toml")
    one = command(setup, "show", show_setup, "show the set-up that a session ran with")
    one.add_argument("session", type=session_number, metavar="SESSION")


def add_bike(args: argparse.Namespace) -> int:
    """Add a bike from its file."""
    from bridge.model.files import read_bike  # noqa: PLC0415  # start-up

    bike = read_bike(args.file)
    with writing(args) as logbook:
        logbook.add_bike(bike)
        return _bikes(args, logbook)


def list_bikes(args: argparse.Namespace) -> int:
    """List the bikes."""
    with reading(args) as logbook:
        return _bikes(args, logbook)


def rebuilt(args: argparse.Namespace) -> int:
    """Begin a new engine build."""
    with writing(args) as logbook:
        logbook.rebuilt(args.name, args.what)
        return _bikes(args, logbook)


def rode(args: argparse.Namespace) -> int:
    """Give a session its bike."""
    with writing(args) as logbook:
        logbook.rode(args.name, args.session)
        return _bikes(args, logbook)


def _bikes(args: argparse.Namespace, logbook: "Logbook") -> int:
    found = logbook.bikes()
    bikes = [{**bike.model_dump(exclude_none=True, by_alias=True), "build": build} for bike, build in found]
    document = {"bikes": bikes}
    rows = [
        (
            b.name,
            build,
            b.strokes,
            b.cylinders,
            f"{b.displacement_cc:g}",
            b.sensor,
            b.plug.type,
            b.plug.nose_mm,
        )
        for b, build in found
    ]
    head = ("bike", "build", "strokes", "cylinders", "cm3", "sensor", "plug", "nose mm")
    answer(args, document, table(head, rows))
    return 0


def set_setup(args: argparse.Namespace) -> int:
    """Set a session up from a file."""
    from bridge.model import weather_notes  # noqa: PLC0415  # start-up
    from bridge.model.files import read_setup  # noqa: PLC0415  # start-up

    setup = read_setup(args.file)
    with writing(args) as logbook:
        logbook.set_setup(args.session, setup)
        return _setup(args, logbook.setup(args.session), questions=weather_notes(setup.weather))


def show_setup(args: argparse.Namespace) -> int:
    """Show what a session ran with."""
    with reading(args) as logbook:
        own = logbook.written_setup(args.session).model_dump(exclude_unset=True)
        return _setup(args, logbook.setup(args.session), carried=not own)


def _setup(
    args: argparse.Namespace, setup: "Setup", *, carried: bool = False, questions: Sequence[str] = ()
) -> int:
    document = setup.model_dump(exclude_none=True)
    lines = _flat(document)
    if not lines:
        lines = ["nothing is set up yet; write a setup.toml and use 'setup set'"]
    elif carried:
        lines += wrap(
            "Nothing was written for this session: all of this is carried over from the one before."
        )
    lines += [line for text in questions for line in wrap(f"Note: {text}")]
    answer(args, document, lines)
    return 0


def _flat(document: dict[Any, Any], prefix: str = "") -> list[str]:
    lines: list[str] = []
    for key, value in document.items():
        if isinstance(value, dict):
            lines += _flat(value, f"{prefix}{key}.")
        else:
            lines.append(f"{prefix}{key} = {value}")
    return lines
