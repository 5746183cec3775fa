"""``gas``: exhaust-gas analyses, entered by hand and looked at."""

import argparse
from collections.abc import Sequence
from typing import TYPE_CHECKING

from bridge.cli.context import reading, writing
from bridge.cli.output import answer, number, table, wrap
from bridge.cli.parser import Parser, command, finite, session_number, whole
from bridge.errors import BadValue

if TYPE_CHECKING:
    from bridge.agreement.witness import GasFound
    from bridge.physics.fuel import Fuel

CAUTION = (
    "Exhaust holds carbon monoxide, which kills unseen and without a smell: measure outdoors, or lead the exhaust"
    " outdoors by an extraction, with a CO alarm beside you. Pipe and probe burn."
)
NEEDED = ("co2", "co", "o2", "hc")


def add(commands: "argparse._SubParsersAction[Parser]") -> None:
    """Add this module's command."""
    one = command(
        commands,
        "gas",
        gas,
        "an exhaust-gas analysis as a third witness; without figures, those of a session",
    )
    one.epilog = CAUTION
    one.add_argument("session", type=session_number, metavar="SESSION")
    one.add_argument(
        "--cylinder",
        type=whole,
        metavar="N",
        help="whose gas; where left out, that of all cylinders together",
    )
    for name, what in (("co2", "carbon dioxide"), ("co", "carbon monoxide"), ("o2", "oxygen")):
        one.add_argument(
            f"--{name}", type=finite, metavar="PERCENT", help=f"{what}, in percent of the dry gas"
        )
    one.add_argument("--hc", type=finite, metavar="PPM", help="unburnt fuel, in ppm as hexane")
    one.add_argument("--no", type=finite, metavar="PPM", help="nitrogen monoxide, in ppm; may be left out")


def gas(args: argparse.Namespace) -> int:
    """Write an analysis down, or list those of a session where no figures are given."""
    given = [name for name in (*NEEDED, "no") if getattr(args, name) is not None]
    if given:
        return _enter(args, given)
    if args.cylinder is not None:
        raise BadValue("--cylinder needs the figures of an analysis: --co2, --co, --o2 and --hc")
    return _list(args)


def _enter(args: argparse.Namespace, given: Sequence[str]) -> int:
    from datetime import UTC, datetime  # noqa: PLC0415  # start-up

    from bridge.agreement.document import gas_json  # noqa: PLC0415  # start-up
    from bridge.agreement.witness import GasFound, lambda_of  # noqa: PLC0415  # start-up
    from bridge.bands import session_fuel  # noqa: PLC0415  # start-up
    from bridge.model import GasAnalysis  # noqa: PLC0415  # start-up
    from bridge.model.gas_entry import check_gas  # noqa: PLC0415  # start-up

    missing = [f"--{name}" for name in NEEDED if name not in given]
    if missing:
        raise BadValue(
            f"an analysis also needs {' and '.join(missing)}; give 0 where the analyser shows nothing of it"
        )
    figures = (args.co2, args.co, args.o2, args.hc, args.no)
    check_gas(*figures)
    with writing(args) as logbook:
        run = logbook.run(args.session)
        fuel, fuel_note = session_fuel(run.setup)
        # before it is written down: what has no lambda is refused, and nothing is changed
        value = lambda_of(
            GasAnalysis(args.session, args.cylinder, *figures, written=datetime.now(UTC)),
            fuel,
            run.setup.weather,
        )
        analysis = logbook.add_gas(
            args.session,
            cylinder=args.cylinder,
            co2_percent=args.co2,
            co_percent=args.co,
            o2_percent=args.o2,
            hc_ppm=args.hc,
            no_ppm=args.no,
        )
    notes = (*value.notes, *([fuel_note] if fuel_note else []))
    found = GasFound(analysis, value, notes)
    document = {"session": args.session, "fuel": fuel.name, **gas_json(found), "caution": CAUTION}
    answer(args, document, _entered(args.session, fuel, found))
    return 0


def _entered(session: int, fuel: "Fuel", found: "GasFound") -> list[str]:
    value, cylinder = found.value, found.analysis.cylinder
    assert value is not None  # what has none is refused
    low, high = (value.brettschneider + end for end in value.budget.interval(0.95))
    whose = "all cylinders together" if cylinder is None else f"cylinder {cylinder}"
    spindt = "" if value.spindt is None else f", {value.spindt:.3f} by Spindt"
    said = (
        f"Session {session}, exhaust gas of {whose} ({fuel.name}): lambda {value.brettschneider:.3f} ({low:.3f} to"
        f" {high:.3f}, 95 % interval) by Brettschneider{spindt}. Most of the doubt is the {value.budget.largest.name}."
    )
    texts = (said, *(f"Note: {note}." for note in found.notes), f"Caution: {CAUTION}")
    return [line for text in texts for line in wrap(text)]


def _list(args: argparse.Namespace) -> int:
    from bridge.agreement.document import gas_json  # noqa: PLC0415  # start-up
    from bridge.agreement.witness import gas_found  # noqa: PLC0415  # start-up
    from bridge.bands import session_fuel  # noqa: PLC0415  # start-up

    with reading(args) as logbook:
        run = logbook.run(args.session)
        analyses = logbook.gas(args.session)
    fuel, _ = session_fuel(run.setup)
    found = [one for analysis in analyses for one in gas_found([analysis], fuel, run.setup.weather)]
    document = {"session": args.session, "fuel": fuel.name, "gas": [gas_json(one) for one in found]}
    answer(args, document, _listed(found))
    return 0


def _listed(found: "Sequence[GasFound]") -> list[str]:
    if not found:
        return ["no exhaust gas was analysed in this session"]
    rows = [
        (
            "all" if one.analysis.cylinder is None else one.analysis.cylinder,
            number(one.analysis.co2_percent, 2),
            number(one.analysis.co_percent, 2),
            number(one.analysis.o2_percent, 2),
            number(one.analysis.hc_ppm, 0),
            number(one.analysis.no_ppm, 0),
            number(one.value.brettschneider if one.value else None),
            number(one.value.sd if one.value else None),
            number(one.value.spindt if one.value else None),
        )
        for one in found
    ]
    head = ("cyl", "CO2 %", "CO %", "O2 %", "HC ppm", "NO ppm", "lambda", "sd", "Spindt")
    how = (
        "lambda is by Brettschneider, sd its standard uncertainty. The newest analysis of a cylinder counts."
    )
    return [*table(head, rows), *wrap(how), *wrap(f"Caution: {CAUTION}")]
