"""``import`` and ``export``: sessions from files and to files."""

import argparse
from pathlib import Path

from bridge.cli.context import moment, reading, writing
from bridge.cli.output import answer, wrap
from bridge.cli.parser import Parser, command, session_number


def add(commands: "argparse._SubParsersAction[Parser]") -> None:
    """Add this module's commands."""
    one = command(commands, "import", import_file, "make a session of a raw capture or of a delimited log")
    one.add_argument("file", type=Path, metavar="FILE", help=".wire, .capture, .csv, .tsv or .parquet")
    one.add_argument("--map", type=Path, metavar="MAP.toml", help="what the columns of a delimited log mean")
    one.add_argument("--bike", metavar="NAME")
    one.add_argument("--started", metavar="ISO", help="when it began; else the file's own time")
    one.add_argument("--place", metavar="TEXT")
    one.add_argument("--again", action="store_true", help="even if this very file was imported before")
    one = command(commands, "export", export, "write a session's samples to a file")
    one.add_argument("session", type=session_number, metavar="SESSION")
    one.add_argument("--to", type=Path, required=True, metavar="FILE", help=".csv or .parquet, by the ending")


def import_file(args: argparse.Namespace) -> int:
    """Make a session of a file."""
    from bridge.sealing import import_log  # noqa: PLC0415  # start-up

    started, zone_note = moment(args.started) if args.started is not None else (None, None)
    with writing(args) as logbook:
        done = import_log(
            logbook,
            args.file,
            map_file=args.map,
            bike=args.bike,
            started=started,
            place=args.place,
            again=args.again,
        )
    notes = [*done.notes, *([zone_note] if zone_note else [])]
    document = {
        "session": done.session,
        "seconds": done.seconds,
        "samples": done.samples,
        "marks": done.marks,
        **done.counts,
        "notes": notes,
    }
    lines = [
        f"session {done.session}: {done.samples} samples over {done.seconds:.1f} s, {done.marks} marks",
        ", ".join(f"{name.replace('_', ' ')} {value}" for name, value in done.counts.items()),
        *(line for note in notes for line in wrap(note, "  ")),
    ]
    answer(args, document, lines)
    return 0


def export(args: argparse.Namespace) -> int:
    """Write a session's samples to a file."""
    from bridge.imports import export_run  # noqa: PLC0415  # start-up

    with reading(args) as logbook:
        rows = export_run(logbook.recorded(args.session), args.to, units=logbook.units(args.session))
    answer(args, {"rows": rows, "file": str(args.to)}, [f"{rows} rows in {args.to}"])
    return 0
