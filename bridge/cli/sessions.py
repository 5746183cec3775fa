"""``sessions`` and ``mark``: what is in the logbook."""

import argparse

from bridge.cli.context import reading, writing
from bridge.cli.output import answer, local, table, utc
from bridge.cli.parser import Parser, command, finite, session_number


def add(commands: "argparse._SubParsersAction[Parser]") -> None:
    """Add this module's commands."""
    one = command(commands, "sessions", list_sessions, "list the sessions")
    one.add_argument("--bike", metavar="NAME", help="those of one bike")
    one = command(commands, "mark", mark, "mark a moment of a session by hand")
    one.add_argument("session", type=session_number, metavar="SESSION")
    one.add_argument("--at", type=finite, required=True, metavar="S", help="second of the session")
    one.add_argument("--what", required=True, choices=("chop", "lap", "start", "stop", "mark"))


def list_sessions(args: argparse.Namespace) -> int:
    """List the sessions, oldest first."""
    with reading(args) as logbook:
        found = logbook.sessions(bike=args.bike)
    document = {
        "sessions": [
            {
                "id": s.id,
                "started": utc(s.started),
                "bike": s.bike,
                "place": s.place,
                "kind": s.kind,
                "seconds": s.seconds,
                "samples": s.samples,
                "state": s.state,
                "source": s.source,
                "notes": list(s.notes),
            }
            for s in found
        ],
    }
    rows = [(s.id, local(s.started), s.kind, f"{s.seconds:.0f}", s.state, s.bike, s.place) for s in found]
    head = ("no.", "started", "kind", "s", "state", "bike", "place")
    answer(args, document, table(head, rows))
    return 0


def mark(args: argparse.Namespace) -> int:
    """Mark a moment by hand."""
    with writing(args) as logbook:
        logbook.add_mark(args.session, args.at, args.what)
    document = {"session": args.session, "at_s": args.at, "what": args.what}
    answer(args, document, [f"marked '{args.what}' at {args.at:g} s of session {args.session}"])
    return 0
