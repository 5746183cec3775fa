"""``bands`` and ``compare``: what a session says."""

import argparse
from typing import TYPE_CHECKING

from bridge.cli.context import reading
from bridge.cli.output import answer, number, table, wrap
from bridge.cli.parser import Parser, add_part, command, laps, numbers, positive, session_number
from bridge.errors import BadValue

if TYPE_CHECKING:
    from bridge.bands import Bands
    from bridge.model import Run


def add(commands: "argparse._SubParsersAction[Parser]") -> None:
    """Add this module's commands."""
    one = command(
        commands, "bands", bands, "the measured mixture by throttle and engine speed, steady running only"
    )
    one.add_argument("session", type=session_number, metavar="SESSION")
    one.add_argument(
        "--throttle", type=numbers, metavar="E1,E2,..", help="edges in percent (0,12.5,25,50,75,100)"
    )
    one.add_argument("--rpm-step", type=positive, default=500.0, metavar="N", help="width of a band (500)")
    add_part(one)
    one = command(commands, "compare", compare, "ring and sensor on one lambda axis, cylinder by cylinder")
    one.add_argument("session", type=session_number, metavar="SESSION")
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
    """Print the band table."""
    from bridge.bands import bands as work_out  # noqa: PLC0415  # start-up

    with reading(args) as logbook:
        run = logbook.run(args.session)
        from_s, to_s = part(args, run)
        found = work_out(run, throttle_edges=args.throttle, rpm_step=args.rpm_step, from_s=from_s, to_s=to_s)
    answer(args, found.to_json(), _band_lines(found))
    return 0


def _band_lines(found: "Bands") -> list[str]:
    delay = found.delay
    rows = [
        (
            cell["cylinder"],
            _circuit(cell["circuit"]),
            _span(cell["throttle_from"], cell["throttle_to"]),
            _span(cell["rpm_from"], cell["rpm_to"]),
            number(cell["seconds"], 1),
            number(cell["lambda_mean"]),
            number(cell["lambda_se"], 4),
            number(cell["afr_mean"], 2),
            number(cell["egt_mean_c"], 0),
        )
        for cell in found.cells.iter_rows(named=True)
    ]
    head = ("cyl", "circuit", "slide %", "rev/min", "s", "lambda", "se", "AFR", "EGT C")
    return [
        f"session {found.session}: sensor delay {delay.seconds:.3f} s (sd {delay.sd_s:.3f}, from {delay.from_})",
        *table(head, rows),
        *wrap(
            "A dash for lambda: too little steady running. se is sampling alone, the sensor's accuracy comes on top."
        ),
        *(line for note in found.notes for line in wrap(note)),
    ]


def _circuit(name: str | None) -> str | None:
    return None if name is None else name.replace(" (", " ").removesuffix(")")


def _span(low: float | None, high: float | None) -> str | None:
    return None if low is None or high is None else f"{low:g}-{high:g}"


def compare(args: argparse.Namespace) -> int:
    """Print what both methods say, and whether they agree."""
    from bridge.agreement import compare as work_out  # noqa: PLC0415  # start-up

    with reading(args) as logbook:
        run = logbook.run(args.session)
        from_s, to_s = part(args, run)
        statements = logbook.statements(run.bike.name) if run.bike else []
        found = work_out(run, logbook.plug_lives(args.session), statements, from_s=from_s, to_s=to_s)
    answer(args, found.to_json(), [line for text in found.in_words() for line in wrap(text)])
    return 0
