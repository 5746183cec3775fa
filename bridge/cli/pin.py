"""``pin``: the PIN that other devices give at the dashboard's door."""

import argparse

from bridge.cli.context import logbook_folder, reading, writing
from bridge.cli.output import answer, local
from bridge.cli.parser import Parser, command


def add(commands: "argparse._SubParsersAction[Parser]") -> None:
    """Add this module's command."""
    one = command(commands, "pin", pin, "make a new PIN for the dashboard on the network, and show it once")
    what = one.add_mutually_exclusive_group()
    what.add_argument("--set", metavar="DIGITS", help="take this one: 6 to 32 digits without a pattern")
    what.add_argument("--show", action="store_true", help="say whether there is one; only its hash is kept")
    what.add_argument("--end-sessions", action="store_true", help="log every device out; the PIN stays")


def pin(args: argparse.Namespace) -> int:
    """Make, take or look at the PIN, or end all sessions; a server that runs takes it up at once."""
    if args.show:
        return _show(args)
    from dashboard.gate import pins  # noqa: PLC0415  # start-up

    if args.set is not None:
        pins.check_pin(args.set)  # before a logbook is made for it
    with writing(args):
        pass  # made where it is missing
    folder = logbook_folder(args)
    if args.end_sessions:
        pins.end_sessions(folder)
        answer(args, {"sessions_ended": True}, ["every device is logged out; the PIN stays"])
        return 0
    made = pins.new_pin(folder, args.set)
    lines = [
        f"the PIN is {made}; only its hash is kept, so it is not shown again",
        "every device is logged out",
    ]
    answer(args, {"pin": made, "sessions_ended": True}, lines)
    return 0


def _show(args: argparse.Namespace) -> int:
    from dashboard.gate import pins  # noqa: PLC0415  # start-up

    with reading(args):
        pass  # a logbook that is not there is said to be so
    kept = pins.read_pin(logbook_folder(args))
    made_at = kept.made_at if kept else None
    said = "no PIN has been made; 'sootline serve --host' makes one, or 'sootline pin'"
    if kept is not None:
        when = local(kept.made)
        said = f"a PIN was made on {when}; only its hash is kept, 'sootline pin' makes a new one"
    answer(args, {"made": kept is not None, "made_at": made_at}, [said])
    return 0
