"""``bands`` and ``compare``: what a session says."""

import argparse
from contextlib import suppress
from typing import TYPE_CHECKING

from bridge.cli.context import reading
from bridge.cli.output import answer, wrap
from bridge.cli.parser import Parser, add_part, command, laps, numbers, positive, session_number
from bridge.errors import BadValue, DiskTrouble

if TYPE_CHECKING:
    from bridge.bands import Bands
    from bridge.model import Run


def add(commands: "argparse._SubParsersAction[Parser]") -> None:
    """Add this module's commands."""
    one = command(
        commands, "bands", bands, "the measured mixture by throttle and engine speed, steady running only"
    )
    one.add_argument("session", type=session_number, metavar="SESSION", nargs="?")
    one.add_argument("--bike", metavar="NAME", help="all sessions of this bike added up, in place of one")
    one.add_argument(
        "--throttle", type=numbers, metavar="E1,E2,..", help="edges in percent (0,12.5,25,50,75,100)"
    )
    one.add_argument("--throttle-step", type=positive, metavar="N", help="even throttle bands, in percent")
    one.add_argument("--rpm-step", type=positive, default=500.0, metavar="N", help="width of a band (500)")
    one.add_argument("--budget", action="store_true", help="with each band's uncertainty budget in full")
    add_part(one)
    one = command(commands, "compare", compare, "ring and sensor on one lambda axis, cylinder by cylinder")
    one.add_argument("session", type=session_number, metavar="SESSION")
    one.add_argument(
        "--budget",
        action="store_true",
        help="with each doubt about the measured lambda, and what could fool the sensor, in full",
    )
    one.add_argument(
        "--rules", action="store_true", help="with every rule that a reading is judged by, and its figure"
    )
    add_part(one)


def part(args: argparse.Namespace, run: "Run") -> tuple[float | None, float | None]:
    """Return the seconds from and to which a session is looked at.

    Raises:
        BadValue: the part is empty or was said twice, or there are no such laps.
    """
    if args.laps is None:
        if args.from_s is not None and args.to_s is not None and args.to_s <= args.from_s:
            raise BadValue(f"the part from {args.from_s:g} s to {args.to_s:g} s is empty; --to must be later")
        return args.from_s, args.to_s
    if args.from_s is not None or args.to_s is not None:
        raise BadValue("say the part by --laps or by --from and --to, not by both")
    first, last = laps(args.laps)
    edges = sorted(mark.t_s for mark in run.marks if mark.what == "lap")
    if last > len(edges) + 1 or not edges:
        raise BadValue(f"session {run.session.id} has {len(edges) + 1 if edges else 0} laps by its lap marks")
    return (edges[first - 2] if first > 1 else None), (edges[last - 1] if last <= len(edges) else None)


def bands(args: argparse.Namespace) -> int:
    """Print the band table of a session, or of a bike's season."""
    from bridge.bands import bands as work_out  # noqa: PLC0415  # start-up
    from bridge.cli.band_lines import band_lines  # noqa: PLC0415  # start-up

    if (args.session is None) == (args.bike is None):
        raise BadValue("say one session by its number, or a whole season by --bike NAME")
    edges = _edges(args)
    if args.bike is not None:
        found = _season(args, edges)
    else:
        with reading(args) as logbook:
            run = logbook.run(args.session)
            from_s, to_s = part(args, run)
            found = work_out(run, edges, args.rpm_step, from_s, to_s)
    answer(args, found.to_json(budgets=args.budget), band_lines(found, budgets=args.budget))
    return 0


def _edges(args: argparse.Namespace) -> tuple[float, ...] | None:
    from bridge.bands.edges import even_edges  # noqa: PLC0415  # start-up

    if args.throttle_step is None:
        return None if args.throttle is None else tuple(args.throttle)
    if args.throttle is not None:
        raise BadValue("say the throttle bands by --throttle or by --throttle-step, not by both")
    return even_edges(args.throttle_step)


def _season(args: argparse.Namespace, edges: tuple[float, ...] | None) -> "Bands":
    """Add a bike's sessions up, from what is kept of each; what is stale is made anew and kept."""
    import polars as pl  # noqa: PLC0415  # start-up

    from bridge.bands import counts_version, kept_counts, season, session_fuel  # noqa: PLC0415  # start-up

    if (args.from_s, args.to_s, args.laps) != (None, None, None):
        raise BadValue("--from, --to and --laps look at a part of one session; leave them out with --bike")
    with reading(args) as logbook:
        kept = logbook.season(args.bike, counts_version(edges, args.rpm_step))
        if not kept.sessions:
            raise BadValue(f"there is no finished session of bike '{args.bike}' yet; record or import one")
        frames = [] if kept.rows is None else [kept.rows]
        for session in kept.stale:
            made = kept_counts(logbook.run(session), edges, args.rpm_step)
            with suppress(DiskTrouble):  # a logbook that cannot be written can still be looked at
                logbook.keep_counts(session, kept.digests[session], made)
            frames.append(made.lazy())
        setup = logbook.setup(kept.sessions[-1])
    fuel = session_fuel(setup)[0] if kept.one_fuel else None
    rows = pl.concat(frames, how="diagonal")
    return season(rows, kept.sessions, kept.bike, fuel, edges, args.rpm_step)


def compare(args: argparse.Namespace) -> int:
    """Print what both methods say, and whether they agree."""
    from bridge.agreement import compare as work_out  # noqa: PLC0415  # start-up
    from bridge.agreement.season import kept_pairs  # noqa: PLC0415  # start-up

    with reading(args) as logbook:
        run = logbook.run(args.session)
        from_s, to_s = part(args, run)
        statements = logbook.statements(run.bike.name) if run.bike else []
        pairs = kept_pairs(logbook, run.bike.name).of_bike(run.bike.name) if run.bike else []
        lives = logbook.plug_lives(args.session)
        found = work_out(run, lives, statements, from_s=from_s, to_s=to_s, pairs=pairs)
    words = found.in_words(budget=args.budget, rules=args.rules)
    answer(args, found.to_json(), [line for text in words for line in wrap(text)])
    return 0
