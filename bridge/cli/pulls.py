"""``pulls``: full-throttle runs of a session, before and after a change, and the best mixture."""

import argparse
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from bridge.cli.answers import part
from bridge.cli.context import reading
from bridge.cli.output import answer, number, table, wrap
from bridge.cli.parser import Parser, add_part, command, finite, positive, session_number
from bridge.errors import BadValue

if TYPE_CHECKING:
    from bridge.logbook import Logbook
    from bridge.model import PullSettings
    from bridge.pulls import Pulls
    from bridge.pulls.best import Best
    from bridge.pulls.compare import Comparison


def add(commands: "argparse._SubParsersAction[Parser]") -> None:
    """Add this module's command."""
    one = command(
        commands,
        "pulls",
        pulls,
        "full-throttle runs: of a SESSION; 'compare --before S,S --after S,S'; 'best BIKE --rpm N'; 'coast SESSION'",
    )
    one.add_argument("what", metavar="SESSION", help="a session's number, or compare, best or coast")
    one.add_argument("of", nargs="?", metavar="OF", help="the bike of 'best', the session of 'coast'")
    one.add_argument("--before", metavar="S,S", help="sessions before the change")
    one.add_argument("--after", metavar="S,S", help="sessions after it")
    one.add_argument(
        "--rpm", type=positive, metavar="N", help="engine speed at which the best mixture is sought"
    )
    one.add_argument(
        "--correct",
        metavar="BY",
        default="iso_1585",
        help="iso_1585 (the default), sae_j1349, din_70020 or none",
    )
    one.add_argument(
        "--outside-limits",
        action="store_true",
        help="correct outside the standard's limits too; it is then flagged",
    )
    one.add_argument(
        "--target", type=finite, metavar="LAMBDA", help="say where the mixture leaves this lambda"
    )
    one.add_argument(
        "--window", type=positive, metavar="S", help="window of the differentiation, for all runs alike (1)"
    )
    one.add_argument(
        "--add-loss",
        action="store_true",
        help="add the driveline's loss by coast-downs of a roller that nobody braked",
    )
    add_part(one)


def pulls(args: argparse.Namespace) -> int:
    """Answer for a session, a comparison, a bike's best mixture or a coast-down."""
    ways = {"compare": _compare, "best": _best, "coast": _coast}
    if args.what in ways:
        return ways[args.what](args)
    try:
        args.session = session_number(args.what)
    except argparse.ArgumentTypeError:
        raise BadValue(
            f"'{args.what}' is neither a session's number nor compare, best or coast; write pulls 12, or pulls"
            " compare --before 12 --after 13"
        ) from None
    _only(args, "a session", ("of", "before", "after", "rpm"))
    return _session(args)


def _only(args: argparse.Namespace, what: str, foreign: Sequence[str]) -> None:
    """Refuse words that belong to another question."""
    # 0 is a word like any other, and is equal to False
    told = ((name, getattr(args, name)) for name in foreign)
    given = next((name for name, value in told if value is not None and value is not False), None)
    if given is not None:
        said = f"'{args.of}'" if given == "of" else f"--{given.replace('_', '-').removesuffix('-s')}"
        raise BadValue(f"{said} does not belong to pulls of {what}; leave it out")


def _found(args: argparse.Namespace, logbook: "Logbook", session: int, *, ask_ride: bool) -> "Pulls":
    from bridge.model import PullSettings  # noqa: PLC0415  # start-up
    from bridge.pulls import pulls_of  # noqa: PLC0415  # start-up

    run = logbook.run(session)
    settings = run.bike.pulls if run.bike else PullSettings()
    if args.window is not None:
        settings = _with_window(settings, args.window)
    from_s, to_s = part(args, run)
    return pulls_of(
        run,
        settings=settings,
        standard=args.correct,
        anyway=args.outside_limits,
        target=args.target,
        from_s=from_s,
        to_s=to_s,
        ask_ride=ask_ride,
        add_loss=args.add_loss,
    )


def _with_window(settings: "PullSettings", window_s: float) -> "PullSettings":
    """Return settings with another window, held to what the bike's file is held to.

    Raises:
        BadValue: it is no window for a pull.
    """
    from pydantic import ValidationError  # noqa: PLC0415  # start-up

    try:
        return settings.model_validate(settings.model_dump() | {"window_s": window_s})
    except ValidationError:
        known = type(settings).model_fields["window_s"].metadata
        low, high = (next(getattr(one, end) for one in known if hasattr(one, end)) for end in ("ge", "le"))
        raise BadValue(
            f"a window of {window_s:g} s is none for a pull; give {low:g} to {high:g}, such as 1"
        ) from None


def _session(args: argparse.Namespace) -> int:
    from bridge.agreement.leaner import stops_of  # noqa: PLC0415  # start-up
    from bridge.pulls.document import pulls_json  # noqa: PLC0415  # start-up

    with reading(args) as logbook:
        found = _found(args, logbook, args.session, ask_ride=True)
        found = replace(found, stops=stops_of(logbook, found.run.session.bike))
    answer(args, pulls_json(found), _pull_lines(found))
    return 0


def _pull_lines(found: "Pulls") -> list[str]:
    from bridge.pulls.words import pulls_words  # noqa: PLC0415  # start-up

    rows = []
    for pull in found.pulls:
        power, rpm = pull.peak or (None, None)
        rows.append(
            (
                pull.number,
                number(pull.piece.start_s, 1),
                number(pull.piece.end_s, 1),
                pull.gear,
                f"{pull.piece.rpm_from:.0f}-{pull.piece.rpm_to:.0f}",
                number(power, 1),
                number(rpm, 0),
                *(number(one.mean) for one in pull.mixture),
                number(pull.conditions.start_temp_c, 0),
                number(pull.conditions.rest_s, 0),
            )
        )
    lambdas = [one.column.replace("lambda_", "lam ") for one in found.pulls[0].mixture] if found.pulls else []
    head = ("no", "from s", "to s", "gear", "rev/min", "kW", "at rpm", *lambdas, "start C", "rest s")
    lines = table(head, rows) if rows else []
    if found.holds:
        names = list(found.holds[0].lambdas)
        lines += table(
            ("held from s", "to s", "rpm", "kW", *(name.replace("lambda_", "lam ") for name in names)),
            [
                (
                    number(one.start_s, 1),
                    number(one.end_s, 1),
                    number(one.rpm, 0),
                    _with_doubt(one.power_kw, one.power_sd_kw, (1, 2)),
                    *(_with_doubt(one.lambdas[name], one.lambda_sds[name]) for name in names),
                )
                for one in found.holds
            ],
        )
    return lines + [line for text in pulls_words(found) for line in wrap(text)]


def _with_doubt(value: float | None, sd: float | None, decimals: tuple[int, int] = (3, 3)) -> str:
    """Return a value and its 95 %."""
    told = number(value, decimals[0])
    return told if value is None or sd is None else f"{told} ±{1.96 * sd:.{decimals[1]}f}"


def _sessions(text: str | None, option: str) -> list[int]:
    """Read sessions' numbers parted by commas."""
    if text is None:
        raise BadValue(f"pulls compare needs {option}, such as {option} 12,13")
    try:
        return [session_number(part.strip()) for part in text.split(",")]
    except argparse.ArgumentTypeError as error:
        raise BadValue(f"{option}: {error}; write them as 12,13") from None


def _compare(args: argparse.Namespace) -> int:
    from bridge.agreement.leaner import stops_of  # noqa: PLC0415  # start-up
    from bridge.pulls.compare import compare  # noqa: PLC0415  # start-up
    from bridge.pulls.document import comparison_json  # noqa: PLC0415  # start-up

    _only(args, "a comparison", ("of", "rpm", "target", "from_s", "to_s", "laps"))
    before, after = _sessions(args.before, "--before"), _sessions(args.after, "--after")
    with reading(args) as logbook:
        # power alone is compared, so no ride is asked for its delay
        sides = [[_found(args, logbook, one, ask_ride=False) for one in side] for side in (before, after)]
        stops = stops_of(logbook, sides[0][0].run.session.bike)
    found = replace(compare(*sides), stops=stops)
    answer(args, comparison_json(found), _comparison_lines(found))
    return 0


def _comparison_lines(found: "Comparison") -> list[str]:
    from bridge.pulls.words import comparison_words  # noqa: PLC0415  # start-up

    every = max(1, found.curve.height // 12)
    names = (
        "rpm", "before_kw", "after_kw", "gain_percent", "gain_percent_low", "gain_percent_high",
    )  # fmt: skip
    decimals = (0, 1, 1, 1, 1, 1)
    rows = [
        tuple(number(row[name], places) for name, places in zip(names, decimals, strict=True))
        for row in found.curve[::every].iter_rows(named=True)
    ]
    lines = table(("rev/min", "before kW", "after kW", "gain %", "95 % low", "high"), rows)
    return lines + [line for text in comparison_words(found) for line in wrap(text)]


def _best(args: argparse.Namespace) -> int:
    from bridge.agreement.leaner import stops_of  # noqa: PLC0415  # start-up
    from bridge.pulls.best import best  # noqa: PLC0415  # start-up
    from bridge.pulls.document import best_json  # noqa: PLC0415  # start-up

    _only(args, "a best mixture", ("before", "after", "target", "from_s", "to_s", "laps"))
    if args.of is None or args.rpm is None:
        raise BadValue("pulls best needs a bike and an engine speed; write it as pulls best NAME --rpm 9000")
    with reading(args) as logbook:
        sessions = [one for one in logbook.sessions(args.of) if one.state == "sealed"]
        newest = max((one.build for one in sessions if one.build is not None), default=None)
        wanted = [one.id for one in sessions if one.build == newest]
        # at one engine speed lambda hardly moves within the delay's doubt, so no ride is asked for it
        found, left = [], []
        for one in wanted:
            try:
                found.append(_found(args, logbook, one, ask_ride=False))
            except BadValue as error:
                left.append(f"session {one} is left out: {error}")
        stops = stops_of(logbook, args.of)
    if not found:
        raise BadValue(
            "; ".join(left) or f"there is no finished session of bike '{args.of}' yet; record or import one"
        )
    made = best(found, args.rpm, stops)
    notes = [*made.notes, *left]
    if newest is not None and len(wanted) < len(sessions):
        notes.append(f"sessions before the last rebuild are not counted: engine build {newest} alone")
    document = best_json(made) | {"notes": notes}
    answer(args, document, _best_lines(made, notes))
    return 0


def _best_lines(found: "Best", notes: Sequence[str]) -> list[str]:
    from bridge.pulls.words import best_words  # noqa: PLC0415  # start-up

    rows = [
        (point.session, point.pull, number(point.lambda_), number(point.power_kw, 2))
        for point in sorted(found.points, key=lambda point: point.lambda_)
        if point.left_out is None
    ]
    texts = best_words(found)
    texts += [f"Note: {note}." for note in notes if note not in found.notes]
    return [
        *table(("session", "pull", "lambda", "kW"), rows),
        *(line for text in texts for line in wrap(text)),
    ]


def _coast(args: argparse.Namespace) -> int:
    """Print what coast-downs on the road say of a bike: drag area and rolling resistance."""
    from bridge.pulls.coast import road_numbers_of  # noqa: PLC0415  # start-up
    from bridge.pulls.words import ROAD  # noqa: PLC0415  # start-up

    _only(args, "a coast-down", ("before", "after", "rpm", "target", "from_s", "to_s", "laps"))
    if args.of is None:
        raise BadValue("pulls coast needs a session; write it as pulls coast 12")
    try:
        session = session_number(args.of)
    except argparse.ArgumentTypeError as error:
        raise BadValue(str(error)) from None
    with reading(args) as logbook:
        found, notes = road_numbers_of(logbook.run(session))
    document: dict[str, Any] = {
        "session": session,
        "drag_area_m2": found.drag_area_m2,
        "drag_area_sd_m2": found.drag_area_sd,
        "rolling_resistance": found.rolling_resistance,
        "rolling_resistance_sd": found.rolling_resistance_sd,
        "coast_downs": found.number,
        "notes": list(notes),
        "cautions": [ROAD],
    }
    said = (
        f"By {found.number} coast-down{'' if found.number == 1 else 's'}: drag_area_m2 = {found.drag_area_m2:.3f} (sd"
        f" {found.drag_area_sd:.3f}), rolling_resistance = {found.rolling_resistance:.4f} (sd"
        f" {found.rolling_resistance_sd:.4f}); write them into [road] of bike.toml."
    )
    texts = (said, *(f"Note: {note}." for note in notes), f"Caution: {ROAD}")
    answer(args, document, [line for text in texts for line in wrap(text)])
    return 0
