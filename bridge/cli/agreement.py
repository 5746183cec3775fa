"""``agreement``: do ring and sensor agree over a season?"""

import argparse
import re
from datetime import datetime
from typing import TYPE_CHECKING

from bridge.cli.context import moment, reading
from bridge.cli.output import answer, wrap
from bridge.cli.parser import Parser, command, whole
from bridge.errors import BadValue

if TYPE_CHECKING:
    from bridge.agreement.season import Filters


def add(commands: "argparse._SubParsersAction[Parser]") -> None:
    """Add this module's command."""
    one = command(
        commands, "agreement", agreement, "ring and sensor over a season: bias, limits, line, drift"
    )
    one.add_argument("--bike", metavar="NAME", help="one bike alone (all of them)")
    one.add_argument("--plug-type", metavar="TEXT", help="pairs of this plug type alone")
    one.add_argument("--fuel", metavar="NAME", help="sessions on this fuel alone")
    one.add_argument("--strokes", type=int, choices=(2, 4), help="bikes of so many strokes alone")
    one.add_argument("--place", metavar="TEXT", help="sessions at this place alone")
    one.add_argument("--from-date", metavar="ISO", help="sessions from then on")
    one.add_argument("--to-date", metavar="ISO", help="sessions up to then; a date alone counts to its end")
    one.add_argument("--build", type=whole, metavar="N", help="this engine build alone")
    one.add_argument(
        "--cut-after", choices=("pull", "ride"), help="readings cut at a pull's end alone, or all others"
    )
    one.add_argument(
        "--setup",
        metavar="KEY=VALUE",
        help="pairs whose cylinder had this in its set-up, such as main_jet=160",
    )


def agreement(args: argparse.Namespace) -> int:
    """Print what a season's pairs say of both methods."""
    from bridge.agreement.season import kept_pairs, season  # noqa: PLC0415  # start-up

    filters, notes = _filters(args)
    with reading(args) as logbook:
        gathered = kept_pairs(logbook, args.bike)
    found = season(gathered, filters)
    words = [*found.in_words(), *(f"Note: {note}." for note in notes)]
    answer(args, found.to_json() | {"notes": notes}, [line for text in words for line in wrap(text)])
    return 0


def _filters(args: argparse.Namespace) -> tuple["Filters", list[str]]:
    """Return what was asked for, and what was assumed of it."""
    from bridge.agreement.season import Filters  # noqa: PLC0415  # start-up

    notes: list[str] = []

    def at(text: str | None) -> datetime | None:
        if text is None:
            return None
        found, note = moment(text)
        notes.extend([note] if note else [])
        return found

    last = args.to_date
    if last is not None and re.fullmatch(r"\d{4}-?\d{2}-?\d{2}", last):
        last = f"{last}T23:59:59.999999"
    begin, end = at(args.from_date), at(last)
    if begin is not None and end is not None and end <= begin:
        raise BadValue("there is no time from --from-date to --to-date; the second must be later")
    return (
        Filters(
            plug_type=args.plug_type,
            fuel=args.fuel,
            strokes=args.strokes,
            place=args.place,
            from_date=begin,
            to_date=end,
            build=args.build,
            cut_after=args.cut_after,
            setup=_setup(args.setup),
        ),
        notes,
    )


def _setup(text: str | None) -> tuple[str, str] | None:
    """Read a key of the set-up and its value.

    Raises:
        BadValue: it is not written as KEY=VALUE.
    """
    if text is None:
        return None
    key, equals, value = (part.strip() for part in text.partition("="))
    if not (key and equals and value):
        raise BadValue(f"'{text}' is no key of the set-up with its value; write it as main_jet=160")
    return key, value
