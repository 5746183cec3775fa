"""``plug``: plugs put in, pulled and read, and the tuner's own word on the ring."""

import argparse
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from bridge.cli import plug_lives, ring_scale
from bridge.cli.context import writing
from bridge.cli.output import answer, wrap
from bridge.cli.parser import Parser, command, finite, group, positive, session_number, whole
from bridge.cli.photo import add_photo
from bridge.cli.plug_words import label
from bridge.errors import BadValue

if TYPE_CHECKING:
    from bridge.model import Reading

FIELDS = (
    "ring",
    "ring_mm",
    "ring_sd_mm",
    "view",
    "nose_colour",
    "base_ring",
    "strap_mark",
    "specks",
    "edge",
    "glaze",
    "blisters",
    "wet",
    "gap_mm",
    "piston_wash",
    "note",
)
"""Of a reading, what a person says of it."""
LOOKS = "Let the engine cool and keep the ignition off: head and plug burn, and a live lead gives a dangerous shock."


def add(commands: "argparse._SubParsersAction[Parser]") -> None:
    """Add this module's commands."""
    plug = group(commands, "plug", "plugs: fit, pull, read")
    one = command(plug, "fit", fit, "put a plug into a cylinder, from this session on")
    one.add_argument("label", type=label, metavar="LABEL")
    one.add_argument("--cylinder", type=whole, required=True, metavar="N")
    one.add_argument("--session", type=session_number, required=True, metavar="S")
    one.add_argument(
        "--state", choices=("new", "cleaned", "used"), help="where the tray does not know it already"
    )
    one.add_argument("--until", type=session_number, metavar="S", help="it came out again after this session")
    one.add_argument(
        "--pull-first", action="store_true", help="what is in the way came out before this session"
    )
    one.add_argument("--type", metavar="TEXT", help="where it differs from the bike's plug")
    one.add_argument("--nose-mm", type=positive, metavar="MM", help="nose length, tip to seat")
    one.add_argument(
        "--heat-range", type=whole, metavar="STEPS", help="from the bike's usual: + colder, - hotter"
    )

    one = command(plug, "pull", pull, "take a plug out after this session. " + LOOKS)
    one.add_argument("labels", type=label, metavar="LABEL", nargs="*")
    one.add_argument("--all", action="store_true", help="every plug that is in")
    one.add_argument("--session", type=session_number, required=True, metavar="S")
    one.add_argument(
        "--order-lost", action="store_true", help="nobody knows any more which cylinder each was in"
    )

    _add_read(plug)
    add_photo(plug)

    plug_lives.add(plug)
    ring_scale.add(plug)


def _add_read(plug: "argparse._SubParsersAction[Parser]") -> None:
    again = "Read again for the same session, what is not said again is taken from the reading that this one corrects. "
    one = command(plug, "read", read, "write down what a plug shows. " + again + LOOKS)
    one.add_argument("label", type=label, metavar="LABEL")
    one.add_argument("--session", type=session_number, required=True, metavar="S")
    one.add_argument(
        "--ring-mm", type=finite, metavar="MM", help="middle of the ring, from the tip of the nose"
    )
    one.add_argument("--ring-sd-mm", type=positive, metavar="MM", help="how sure: standard uncertainty")
    one.add_argument(
        "--ring", choices=("none", "all-dark", "not-seen"), help="where there is no depth to give"
    )
    one.add_argument("--view", choices=("cut", "magnifier"), help="shell cut away, or its mouth (magnifier)")
    one.add_argument("--specks", choices=("none", "soot", "aluminium", "not-looked"))
    one.add_argument(
        "--strap-mark", type=finite, metavar="SHARE", help="heat mark, from the tip (0) to the weld (1)"
    )
    one.add_argument("--base-ring", metavar="TEXT")
    one.add_argument("--nose-colour", metavar="TEXT")
    one.add_argument("--edge", choices=("sharp", "rounded"), help="edge of the centre electrode")
    for flag in ("glaze", "blisters", "wet"):
        one.add_argument(
            f"--{flag}", action=argparse.BooleanOptionalAction, help="seen, or looked for and not seen"
        )
    one.add_argument("--gap-mm", type=positive, metavar="MM")
    one.add_argument("--piston-wash", metavar="TEXT")
    one.add_argument("--note", metavar="TEXT")


def fit(args: argparse.Namespace) -> int:
    """Put a plug into a cylinder."""
    with writing(args) as logbook:
        done = logbook.fit(
            args.label,
            cylinder=args.cylinder,
            session=args.session,
            state=args.state,
            type=args.type,
            nose_mm=args.nose_mm,
            heat_range=args.heat_range,
            until=args.until,
            pull_first=args.pull_first,
        )
    document = {"plug": done.plug, "cylinder": done.cylinder, "session": done.fitted, "state": done.state}
    where = "is" if done.pulled is None else "was"
    until = "on" if done.pulled is None else f"to session {done.pulled}"
    lines = wrap(
        f"plug {done.plug}, {done.state}, {where} in cylinder {done.cylinder} from session {done.fitted} {until}"
    )
    if done.state == "used":
        lines += wrap("It keeps the colour it has, so its readings will not count as valid.")
    answer(args, document, lines)
    return 0


def pull(args: argparse.Namespace) -> int:
    """Take one plug or all of them out."""
    if args.all == bool(args.labels):
        raise BadValue("say which plug was pulled, or --all for every one that is in")
    if args.order_lost and len(args.labels) == 1:
        raise BadValue("--order-lost is said of several plugs: name all that lost their order, or say --all")
    with writing(args) as logbook:
        if args.all:
            out = logbook.pull_all(args.session, order_lost=args.order_lost)
        else:
            out = logbook.pull_these(args.labels, args.session, order_lost=args.order_lost)
    document = {
        "session": args.session,
        "pulled": [{"plug": f.plug, "cylinder": f.cylinder, "order_lost": f.order_lost} for f in out],
    }
    lines = [f"plug {f.plug} is out of cylinder {f.cylinder}" for f in out]
    if args.order_lost:
        lines += wrap("The order is lost: their readings are kept, but count for no cylinder.")
    answer(args, document, lines)
    return 0


def read(args: argparse.Namespace) -> int:
    """Write a reading down; where it corrects one, what was not said again is taken over."""
    from bridge.plug.beside_eye import apart  # noqa: PLC0415  # start-up

    if args.ring_mm is not None and args.ring is not None:
        raise BadValue(
            "give the ring's depth by --ring-mm, or say --ring none, all-dark or not-seen, not both"
        )
    with writing(args) as logbook:
        before = logbook.reading(args.label, args.session)
        said = _said(args)
        if before is None and "ring" not in said:
            raise BadValue("give the ring's depth by --ring-mm, or say --ring none, all-dark or not-seen")
        done = logbook.read(args.label, session=args.session, **(_over(before, said) | said))
        differs = apart(done, [one for one in logbook.photos(done.session) if one.plug == done.plug])
        lost = any(row.plug == done.plug and row.order_lost for row in logbook.tray(done.session))
    lines = [f"reading {done.id} of plug {done.plug} for session {done.session} is written down"]
    if done.corrects is not None:
        lines.append(f"it corrects reading {done.corrects}, which stays on record")
        lines += wrap("What was not said again is taken over from it.")
    if before is not None and before.specks == "aluminium" and done.specks != "aluminium":
        lines += wrap(
            f"The aluminium on plug {done.plug} is taken back: its specks now say {done.specks}. Make sure by a"
            " magnifier in bright light before anything goes leaner."
        )
    if lost:
        lines += wrap("The order of this plug was lost: the reading is kept, but counts for no cylinder.")
    if done.specks == "aluminium":
        lines += wrap(
            "Aluminium on a plug may indicate detonation eating the piston: stop, and look inside before it runs"
            " again.",
        )
    lines += [line for text in differs for line in wrap(text)]
    document = {key: value for key, value in asdict(done).items() if value is not None}
    answer(args, document | ({"differs": differs} if differs else {}), lines)
    return 0


def _said(args: argparse.Namespace) -> dict[str, Any]:
    """Return the fields of a reading that were said; an empty text clears what was written before."""
    said = {name: value for name in FIELDS if (value := getattr(args, name)) is not None}
    if args.ring_mm is not None:
        said["ring"] = "seen"
    elif args.ring is not None:
        said["ring_mm"] = None
    return {name: None if value == "" else value for name, value in said.items()}


def _over(before: "Reading | None", said: dict[str, Any]) -> dict[str, Any]:
    """Return what a correction takes over from the reading that it corrects."""
    if before is None:
        return {}
    over = {name: getattr(before, name) for name in FIELDS}
    # how sure a depth was belongs to its view, and to a ring that was seen
    if said.get("view", before.view) != before.view or said.get("ring", before.ring) != "seen":
        over["ring_sd_mm"] = None
    return over
