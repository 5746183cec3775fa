"""Where the logbook is, and how it is opened for one command."""

import argparse
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from bridge.errors import BadValue, printable

if TYPE_CHECKING:
    from bridge.logbook import Logbook


def logbook_folder(args: argparse.Namespace) -> Path:
    """Return the logbook's folder: ``--logbook``, else SOOTLINE_LOGBOOK, else the user's data folder."""
    if args.logbook:
        return Path(args.logbook)
    if os.environ.get("SOOTLINE_LOGBOOK"):
        return Path(os.environ["SOOTLINE_LOGBOOK"])
    import platformdirs  # noqa: PLC0415  # start-up

    return Path(platformdirs.user_data_dir("sootline", appauthor=False))


@contextmanager
def reading(args: argparse.Namespace) -> Iterator["Logbook"]:
    """Open the logbook for a command that only looks; it is never made by that."""
    from bridge.logbook import Logbook  # noqa: PLC0415  # start-up

    with Logbook.open(logbook_folder(args), write=False) as logbook:
        yield logbook


@contextmanager
def writing(args: argparse.Namespace) -> Iterator["Logbook"]:
    """Open the logbook for a command that changes it, making it where it is missing.

    What an interrupted recording left is sealed first, and said on standard error; so is what cannot be sealed
    now, which keeps no command from its work.
    """
    from bridge.logbook import Logbook  # noqa: PLC0415  # start-up
    from bridge.sealing import recover  # noqa: PLC0415  # start-up

    with Logbook.open(logbook_folder(args), write=True) as logbook:
        found = recover(logbook)
        for sealed in found.sealed:
            print(
                f"sootline: sealed session {sealed.session}, which an interrupted recording left:"
                f" {sealed.samples} samples over {sealed.seconds:.0f} s",
                file=sys.stderr,
            )
        for left in found.left:
            print(f"sootline: {printable(left.in_words())}", file=sys.stderr)
        yield logbook


def moment(text: str) -> tuple[datetime, str | None]:
    """Read a time in ISO 8601.

    Args:
        text: such as ``2026-05-14T11:20`` or ``2026-05-14T09:20:00Z``.

    Returns:
        The moment in UTC, and a sentence where no zone was given, since it was then taken as local time.

    Raises:
        BadValue: it is no such time, or its year is none of a session's.
    """
    from bridge.model.moments import FIRST_YEAR, LAST_YEAR, has_sensible_year  # noqa: PLC0415  # start-up

    try:
        given = datetime.fromisoformat(text)
    except ValueError:
        raise BadValue(f"'{text}' is not a time in ISO 8601; write it as 2026-05-14T11:20:00+02:00") from None
    if not has_sensible_year(given):
        raise BadValue(
            f"'{text}' is no time of a session: its year must be from {FIRST_YEAR} to {LAST_YEAR}; write it as"
            " 2026-05-14T11:20:00+02:00"
        )
    if given.tzinfo is None:
        aware = given.astimezone()
        return (
            aware.astimezone(UTC),
            f"'{text}' has no zone, so it was taken as this machine's time ({aware:%z})",
        )
    return given.astimezone(UTC), None
