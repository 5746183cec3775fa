"""``plug photo``: the ring from a picture, with its known limits beside it."""

import argparse
import re
from pathlib import Path
from typing import TYPE_CHECKING

from bridge.cli.context import reading, writing
from bridge.cli.output import answer, wrap
from bridge.cli.parser import Parser, command, positive, session_number
from bridge.cli.plug_words import label
from bridge.errors import BadValue

if TYPE_CHECKING:
    pass


def add_photo(plug: "argparse._SubParsersAction[Parser]") -> None:
    """Add ``photo`` to the commands of ``plug``."""
    one = command(plug, "photo", photo, "find the ring on a picture of the nose; your own reading goes first")
    one.add_argument("file", metavar="FILE", help="the picture; it is kept without place and device data")
    one.add_argument("--label", type=label, required=True, metavar="L", help="of the plug")
    one.add_argument("--session", type=session_number, required=True, metavar="S")
    one.add_argument(
        "--nose-mm", type=positive, metavar="MM", help="nose length, tip to seat (else the plug's own)"
    )
    one.add_argument(
        "--tip", type=pixel, metavar="X,Y", help="where the nose ends, in pixels of the upright picture"
    )
    one.add_argument(
        "--seat", type=pixel, metavar="X,Y", help="where it sits in the shell, or where the rim hides it"
    )
    one.add_argument(
        "--view", choices=("cut", "magnifier"), default="cut", help="shell cut away, or down its mouth"
    )
    one.add_argument(
        "--rim-mm",
        type=positive,
        metavar="MM",
        help="down the mouth: from the tip to where the rim hides the nose",
    )


def pixel(text: str) -> tuple[float, float]:
    """Read a place in a picture, such as ``1200,840``."""
    match = re.fullmatch(r"\s*(-?\d{1,6}(?:\.\d{1,9})?)\s*,\s*(-?\d{1,6}(?:\.\d{1,9})?)\s*", text)
    if not match:
        raise argparse.ArgumentTypeError(
            f"'{text}' is no place in a picture; write it as X,Y in pixels, such as 1200,840"
        )
    return float(match[1]), float(match[2])


def photo(args: argparse.Namespace) -> int:
    """Find the ring on a picture, and keep both."""
    from bridge.logbook.photos import load_picture  # noqa: PLC0415  # start-up
    from bridge.plug.beside_eye import apart  # noqa: PLC0415  # start-up
    from bridge.plug.photo import read_photo  # noqa: PLC0415  # start-up

    if args.rim_mm is not None and args.view != "magnifier":
        raise BadValue(
            "--rim-mm is said of a picture down the shell's mouth; say --view magnifier too, or leave it out"
        )
    picture = load_picture(Path(args.file))
    with reading(args) as logbook:
        nose_mm = logbook.nose_length(args.label, args.session) if args.nose_mm is None else args.nose_mm
    if nose_mm is None:
        raise BadValue(
            f"the nose length of plug {args.label} is not known; give --nose-mm, measured from tip to seat"
        )
    found = read_photo(
        picture.pixels, nose_mm=nose_mm, view=args.view, tip=args.tip, seat=args.seat, rim_mm=args.rim_mm
    )
    document = found.to_json()
    with writing(args) as logbook:
        kept = logbook.add_photo(
            args.label,
            args.session,
            picture,
            view=args.view,
            nose_mm=nose_mm,
            tip=args.tip,
            seat=args.seat,
            answer=document,
        )
        differs = apart(logbook.reading(args.label, args.session), [kept])
    document = {
        "photo": kept.id,
        "plug": kept.plug,
        "session": kept.session,
        "file": f"photos/{kept.file}",
        **document,
        "differs": differs,
    }
    lines = [f"plug {kept.plug}, session {kept.session}, kept as photos/{kept.file}"]
    if found.proposed and found.tip is not None and found.seat is not None:
        lines += wrap(
            f"The tool took the tip to be at {_place(found.tip)} and the seat at {_place(found.seat)}, in pixels of the"
            " upright picture; where that is not so, give --tip X,Y and --seat X,Y."
        )
    lines += [line for text in (*differs, *found.in_words()) for line in wrap(text)]
    answer(args, document, lines)
    return 0


def _place(point: tuple[float, float]) -> str:
    return f"{point[0]:.0f},{point[1]:.0f}"
