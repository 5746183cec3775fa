"""The command line's grammar: one parser, to which each command's module adds its own part."""

import argparse
import re
from collections.abc import Callable
from typing import Any, NoReturn

from bridge.errors import BadValue, nearest, printable

Run = Callable[[argparse.Namespace], int]
Commands = "argparse._SubParsersAction[Parser]"

EPILOG = (
    "A lean engine can seize or hole a piston in seconds. What this program says is for a competent person to"
    " judge; local rules and licensed practice come first."
)


class Parser(argparse.ArgumentParser):
    """An argument parser that says what is wrong in one sentence."""

    def __init__(self, *args: Any, **settings: Any) -> None:  # noqa: ANN401  # argparse's own
        super().__init__(*args, **settings)
        # what begins as a number is one, also in "-5,200", so that the sentence is about the number
        self._negative_number_matcher = re.compile(r"-(?:[0-9.]|inf|nan)")

    def error(self, message: str) -> NoReturn:
        """Print one sentence with the mend and leave with exit code 2."""
        match = re.search(r"invalid choice: '?([^'\s]*)'? \(choose from (.*)\)", message)
        if match:
            choices = re.findall(r"[\w.-]+", match[2])
            what = message.split(":", 1)[0].removeprefix("argument ")
            message = f"{what} cannot be '{match[1]}'{nearest(match[1], choices)}"
        self.exit(2, f"sootline: {printable(message)}; see '{self.prog} --help'\n")


def build() -> Parser:
    """Return the parser of all commands."""
    from bridge.cli import (  # noqa: PLC0415  # start-up
        agreement,
        air,
        answers,
        files,
        fuels,
        garage,
        gas,
        pin,
        plugs,
        pulls,
        recording,
        sensor,
        serving,
        sessions,
        todo,
    )

    parser = Parser(
        prog="sootline",
        allow_abbrev=False,
        description="Spark plug readings and measured mixture on one lambda axis.",
        epilog=EPILOG,
    )
    parser.add_argument(
        "--logbook",
        metavar="DIR",
        help="the folder that holds everything (else SOOTLINE_LOGBOOK, else your data folder)",
    )
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True, parser_class=Parser)
    for module in (
        serving,
        pin,
        recording,
        files,
        sessions,
        garage,
        plugs,
        sensor,
        gas,
        answers,
        agreement,
        pulls,
        todo,
        air,
        fuels,
    ):
        module.add(commands)
    return parser


def command(
    commands: "argparse._SubParsersAction[Parser]",
    name: str,
    run: Run,
    help_text: str,
    *,
    with_json: bool = True,
) -> Parser:
    """Add one command.

    Args:
        commands: where it belongs.
        name: its word.
        run: what does it, from the parsed words to the exit code.
        help_text: one line on what it does.
        with_json: whether it can answer in JSON.

    Returns:
        Its parser, for its own options.
    """
    parser = commands.add_parser(name, help=help_text, description=help_text, allow_abbrev=False)
    parser.set_defaults(run=run)
    # it belongs before the command; behind it, it is understood all the same
    parser.add_argument("--logbook", default=argparse.SUPPRESS, help=argparse.SUPPRESS)
    if with_json:
        parser.add_argument("--json", action="store_true", help="answer with one JSON document")
    return parser


def group(
    commands: "argparse._SubParsersAction[Parser]", name: str, help_text: str
) -> "argparse._SubParsersAction[Parser]":
    """Add a word that has commands of its own, such as ``plug``, and return where they go."""
    parser = commands.add_parser(name, help=help_text, description=help_text, allow_abbrev=False)
    return parser.add_subparsers(dest=f"{name}_command", metavar="WHAT", required=True, parser_class=Parser)


def session_number(text: str) -> int:
    """Read a session's number as ``sootline sessions`` lists it."""
    if not re.fullmatch(r"[0-9]{1,9}", text):
        raise argparse.ArgumentTypeError(f"'{text}' is no session number as 'sootline sessions' lists them")
    return int(text)


def whole(text: str) -> int:
    """Read a whole number of a few digits."""
    if not re.fullmatch(r"[+-]?[0-9]{1,9}", text):
        raise argparse.ArgumentTypeError(f"'{text}' is no whole number of at most nine digits")
    return int(text)


def finite(text: str) -> float:
    """Read a plain number; ``nan`` and ``inf`` are none."""
    try:
        value = float(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"'{text}' is not a number") from None
    if not -1e300 < value < 1e300:
        raise argparse.ArgumentTypeError(f"'{text}' is not a number to reckon with")
    return value + 0.0  # minus zero is zero


def positive(text: str) -> float:
    """Read a number above zero."""
    value = finite(text)
    if value <= 0:
        raise argparse.ArgumentTypeError(f"'{text}' must be above zero")
    return value


def numbers(text: str) -> list[float]:
    """Read numbers parted by commas, such as ``0,25,50``."""
    return [finite(part) for part in text.split(",")]


def add_part(parser: Parser) -> None:
    """Add the options that look at a part of a session."""
    parser.add_argument(
        "--from", dest="from_s", type=finite, metavar="S", help="from this second of the session on"
    )
    parser.add_argument(
        "--to", dest="to_s", type=finite, metavar="S", help="up to this second of the session"
    )
    parser.add_argument("--laps", metavar="2-5", help="these laps alone, counted from 1 by their marks")


def laps(text: str) -> tuple[int, int]:
    """Read a range of laps, such as ``2-5`` or ``3``.

    Raises:
        BadValue: it is neither a number nor two with a dash between.
    """
    match = re.fullmatch(r"([1-9][0-9]*)(?:-([1-9][0-9]*))?", text.strip())
    first, last = (int(match[1]), int(match[2] or match[1])) if match else (0, -1)
    if last < first:
        raise BadValue(f"'{text}' is no range of laps; write it as 2-5, the first lap being 1")
    return first, last
