"""``plug``: the tray, the life of each plug, and what is told of it later."""

import argparse
from collections.abc import Callable, Iterable
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from bridge.cli.context import reading, writing
from bridge.cli.output import answer, number, table, wrap
from bridge.cli.parser import Parser, command, session_number
from bridge.cli.plug_words import label
from bridge.errors import BadValue, SootlineError

if TYPE_CHECKING:
    from bridge.logbook import Logbook
    from bridge.model import Fitting, PlugStory
    from bridge.plug.hours import Worked


def add(plug: "argparse._SubParsersAction[Parser]") -> None:
    """Add this module's commands to those of ``plug``."""
    one = command(plug, "tray", tray, "show the plugs in cylinder order")
    one.add_argument("--session", type=session_number, metavar="S", help="as it was for this session")
    one = command(plug, "list", list_plugs, "show every plug with its life, in an engine or in the box")
    one.add_argument("--bike", metavar="NAME", help="those that ever were in this bike")
    one = command(plug, "show", show, "tell all that happened to a plug")
    one.add_argument("label", type=label, metavar="LABEL")

    one = command(plug, "swap", swap, "two plugs changed places, from this session on; can be told late")
    one.add_argument("labels", type=label, metavar="LABEL", nargs=2)
    one.add_argument("--session", type=session_number, required=True, metavar="S")
    one.add_argument("--state", choices=("cleaned", "used"), default="used", help="(used)")
    one = command(
        plug, "mixed-up", mixed_up, "correct the record: plugs sat in other cylinders than written all along"
    )
    one.add_argument(
        "labels", type=label, metavar="LABEL[=N]", nargs="+", help="two plugs; or each with its cylinder"
    )
    one.add_argument(
        "--session", type=session_number, required=True, metavar="S", help="one they were in for"
    )
    one.add_argument("--why", metavar="TEXT")
    one = command(plug, "order", order, "the order of pulled plugs is known again, or was lost")
    one.add_argument("labels", type=label, metavar="LABEL[=N]", nargs="*", help="each plug with its cylinder")
    one.add_argument(
        "--session", type=session_number, required=True, metavar="S", help="they came out after it"
    )
    one.add_argument("--lost", action="store_true", help="of these plugs, or of all that came out then")

    one = command(plug, "new", new, "put new plugs into the box, so that their labels are known")
    one.add_argument("labels", type=label, metavar="LABEL", nargs="+")
    one.add_argument("--note", metavar="TEXT")
    for word, run, what in (
        ("clean", clean, "a plug was cleaned, and goes in again as cleaned"),
        ("scrap", scrap, "a plug is scrapped and never goes in again; its readings stay"),
    ):
        one = command(plug, word, run, what)
        one.add_argument("label", type=label, metavar="LABEL")
        one.add_argument(
            "--session", type=session_number, metavar="S", help="pull it first, after this session"
        )
        one.add_argument("--note", metavar="TEXT")
    one.add_argument("--take-back", action="store_true", help="it was not scrapped after all")


def tray(args: argparse.Namespace) -> int:
    """Show the plugs in cylinder order."""
    with reading(args) as logbook:
        rows = logbook.tray(args.session)
        time = _time(logbook, (row.sessions for row in rows))
    document, cells = [], []
    for row in rows:
        hours = time(row.sessions)
        document.append(
            {key: value for key, value in asdict(row).items() if key != "sessions"}
            | {"hours_s": hours.running_s, "full_throttle_s": hours.full_throttle_s}
        )
        place = "lost" if row.order_lost else row.cylinder
        cells.append((row.plug, place, row.fitted, row.pulled, row.state, row.readings, *_hours(hours)))
    head = ("plug", "cylinder", "fitted", "pulled", "state", "readings", "hours", "full s")
    lines = table(head, cells)
    if any(row.order_lost for row in rows):
        lines += wrap("Where the order was lost, readings are kept, but count for no cylinder.")
    answer(args, {"tray": document}, [*lines, *_blind(time(row.sessions) for row in rows)])
    return 0


def list_plugs(args: argparse.Namespace) -> int:
    """Show every plug with its life."""
    with reading(args) as logbook:
        stories = _timed(logbook, logbook.plugs(args.bike))
    cells = [(s.label, s.state, s.bike, s.readings, *_hours(time)) for s, time in stories]
    document = [asdict(story) for story, _ in stories]
    lines = table(("plug", "where", "bike", "readings", "hours", "full s"), cells)
    answer(args, {"plugs": document}, [*lines, *_blind(time for _, time in stories)])
    return 0


def show(args: argparse.Namespace) -> int:
    """Tell a plug's story."""
    from bridge.plug.beside_eye import apart  # noqa: PLC0415  # start-up

    with reading(args) as logbook:
        ((story, time),) = _timed(logbook, [logbook.plug_story(args.label)])
        differs = [
            said
            for number in sorted({event.session for event in story.events if event.session is not None})
            for said in apart(
                logbook.reading(story.label, number),
                [one for one in logbook.photos(number) if one.plug == story.label],
            )
        ]
    nose = f", nose {story.nose_mm:g} mm" if story.nose_mm is not None else ""
    of = f" of {story.bike}" if story.state.startswith("in cylinder") and story.bike else ""
    lines = wrap(f"Plug {story.label}: {story.state}{of}{f', {story.type}' if story.type else ''}{nose}")
    hours, full_s = _hours(time)
    if story.sessions:
        lines.append(
            f"{hours} h on it in {_sessions(len(story.sessions))}, {full_s} s of it at full throttle"
        )
    for event in story.events:
        at = "" if event.session is None else f"session {event.session}"
        head = f"{at:<12}  {event.what:<11}  "
        first, *more = wrap(event.words, " " * len(head))
        lines += [head + first.lstrip(), *more]
    lines += [line for said in differs for line in wrap(said)]
    answer(args, asdict(story) | {"differs": differs}, [*lines, *_blind([time])])
    return 0


def swap(args: argparse.Namespace) -> int:
    """Two plugs changed places."""
    with writing(args) as logbook:
        one, other = args.labels
        done = logbook.swap(one, other, args.session, state=args.state)
    lines = [
        f"plug {f.plug}, {f.state}, is in cylinder {f.cylinder} from session {f.fitted} on" for f in done
    ]
    if args.state == "used":
        lines += wrap("They keep the colour they have, so their readings will not count as valid.")
    answer(args, {"session": args.session, "swapped": _places(done)}, lines)
    return 0


def mixed_up(args: argparse.Namespace) -> int:
    """Correct the cylinders of some plugs."""
    told = _told(args.labels) if all(_is_place(word) for word in args.labels) else {}
    if not told and len(args.labels) != 2:
        raise BadValue(
            "name the two plugs that were mixed up, or each plug with its cylinder, such as A1=2 B1=1"
        )
    with writing(args) as logbook:
        if told:
            done = logbook.correct(args.session, told, why=args.why)
        else:
            one, other = args.labels
            done = list(logbook.mixed_up(one, other, args.session, why=args.why))
    lines = [f"plug {f.plug} was in cylinder {f.cylinder} from session {f.fitted} on" for f in done]
    lines += wrap("What was first written stays on record, and each reading stays with its plug.")
    answer(args, {"session": args.session, "corrected": _places(done)}, lines)
    return 0


def order(args: argparse.Namespace) -> int:
    """The order of pulled plugs was lost, or is known again."""
    if not args.lost and not args.labels:
        raise BadValue("give each plug with its cylinder, such as A1=1 A2=2, or say --lost")
    with writing(args) as logbook:
        if args.lost:
            done = logbook.order_lost(args.session, *args.labels)
        else:
            done = logbook.order_found(args.session, _told(args.labels))
    if args.lost:
        lines = wrap(f"the order of {', '.join(f.plug for f in done)} is lost after session {args.session}")
        lines += wrap(
            "Their readings are kept, but count for no cylinder until somebody knows the order again."
        )
    else:
        lines = [f"plug {f.plug} came out of cylinder {f.cylinder}" for f in done]
    answer(args, {"session": args.session, "lost" if args.lost else "found": _places(done)}, lines)
    return 0


def new(args: argparse.Namespace) -> int:
    """Put new plugs into the box."""
    with writing(args) as logbook:
        stories = logbook.new_plugs(args.labels, args.note)
    answer(
        args, {"plugs": [asdict(s) for s in stories]}, [f"plug {s.label} is in the box, new" for s in stories]
    )
    return 0


def clean(args: argparse.Namespace) -> int:
    """Write down that a plug was cleaned."""
    with writing(args) as logbook:
        story = logbook.clean(args.label, args.note, session=args.session)
    answer(args, asdict(story), [f"plug {story.label} is cleaned"])
    return 0


def scrap(args: argparse.Namespace) -> int:
    """Write down that a plug was scrapped, or was not after all."""
    with writing(args) as logbook:
        story = logbook.scrap(args.label, args.note, session=args.session, take_back=args.take_back)
    words = "is back in the box" if args.take_back else "is scrapped; what was read on it stays"
    answer(args, asdict(story), [f"plug {story.label} {words}"])
    return 0


def _is_place(word: str) -> bool:
    plug, sign, cylinder = word.rpartition("=")
    return bool(plug and sign) and cylinder.isascii() and cylinder.isdigit() and len(cylinder) <= 9


def _told(words: list[str]) -> dict[str, int]:
    """Read words such as ``A1=2``."""
    told: dict[str, int] = {}
    for word in words:
        if not _is_place(word):
            raise BadValue(f"'{word}' says no cylinder; write the plug and its cylinder as A1=2")
        plug, _, cylinder = word.rpartition("=")
        if plug in told:
            raise BadValue(f"plug {plug} is named twice; give it one cylinder")
        told[plug] = int(cylinder)
    return told


def _places(fittings: "Iterable[Fitting]") -> list[dict[str, Any]]:
    return [
        {"plug": f.plug, "cylinder": f.cylinder, "fitted": f.fitted, "pulled": f.pulled} for f in fittings
    ]


def _timed(logbook: "Logbook", stories: "list[PlugStory]") -> "list[tuple[PlugStory, Worked]]":
    """Return stories with the hours that the logs tell."""
    from bridge.plug.hours import with_hours  # noqa: PLC0415  # start-up

    time = _time(logbook, (story.sessions for story in stories))
    return [(with_hours(story, time(story.sessions)), time(story.sessions)) for story in stories]


def _time(logbook: "Logbook", several: Iterable[Iterable[int]]) -> "Callable[[Iterable[int]], Worked]":
    """Return what tells how long an engine ran in some sessions, each session being looked at once."""
    from bridge.plug.hours import Worked, add_up, worked  # noqa: PLC0415  # start-up

    found: dict[int, Worked] = {}
    for session in {session for sessions in several for session in sessions}:
        try:
            found[session] = worked([logbook.run(session)])
        except SootlineError:  # its samples cannot be read, which is no reason to hide the tray
            found[session] = Worked(None, None, (session,))
    return lambda sessions: add_up(found[session] for session in sessions)


def _hours(time: "Worked") -> tuple[str, str]:
    """Return the running time [h] and the full throttle of it [s] for a table."""
    return number(None if time.running_s is None else time.running_s / 3600, 2), number(
        time.full_throttle_s, 0
    )


def _blind(times: "Iterable[Worked]") -> list[str]:
    """Return which sessions do not tell how long the engine ran, in a sentence."""
    numbers = sorted({session for time in times for session in time.blind})
    if not numbers:
        return []
    which = f"session{'s' if len(numbers) > 1 else ''} {', '.join(map(str, numbers))}"
    return wrap(
        f"The log of {which} does not tell all of it (engine speed, throttle), so the figures are too small."
    )


def _sessions(count: int) -> str:
    return f"{count} session{'s' if count != 1 else ''}"
