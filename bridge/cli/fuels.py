"""``fuel``: what a fuel is made of and the air that it takes."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from bridge.cli.context import reading, writing
from bridge.cli.output import answer, number, table, wrap
from bridge.cli.parser import Parser, command, positive
from bridge.errors import BadValue, UnknownThing

if TYPE_CHECKING:
    from bridge.model import OwnFuel
    from bridge.physics.fuel import Fuel, Premix

CAUTIONS = {
    "nitromethane": (
        "Caution: nitromethane can explode, by shock or by what is mixed into it, and asks for far more fuel; keep to"
        " the supplier's sheet."
    ),
    "methanol": (
        "Caution: methanol poisons through skin and breath and can blind; its flame cannot be seen by day. Gloves,"
        " fresh air, water at hand."
    ),
}
JETS = "Caution: change the jets before the fuel; a lean engine can seize or hole a piston in seconds."
_TOLD_FACTOR = 0.02


def add(commands: "argparse._SubParsersAction[Parser]") -> None:
    """Add this module's command."""
    one = command(
        commands, "fuel", fuel, "a fuel's stoichiometric AFR, composition and density; your own fuels"
    )
    one.add_argument(
        "name", nargs="?", metavar="NAME", help="petrol, e5, e10, ethanol ..., or one of your own"
    )
    one.add_argument("--blend", metavar="TEXT", help='by volume, such as "ethanol=0.10,petrol=0.90"')
    one.add_argument("--formula", metavar="TEXT", help="such as C8H18 or CH3OH")
    one.add_argument("--mass", metavar="TEXT", help='mass fractions, such as "C=0.86,H=0.14"')
    one.add_argument(
        "--add", type=Path, metavar="FILE.toml", help="add a fuel of your own, or its corrected file"
    )
    one.add_argument("--list", action="store_true", help="all fuels that can be named")
    one.add_argument("--density", type=positive, metavar="KG_M3", help="as the supplier states it, at 15 C")
    one.add_argument(
        "--afr",
        type=positive,
        metavar="N",
        help="the supplier's stoichiometric AFR, in place of the reckoned one",
    )
    one.add_argument("--oil", type=positive, metavar="N", help="two-stroke premix, 32 for 32:1 by volume")
    one.add_argument("--oil-density", type=positive, metavar="KG_M3", help="of the oil (870)")
    one.add_argument("--oil-burns", action="store_true", default=None, help="take the oil to burn (else not)")


def fuel(args: argparse.Namespace) -> int:
    """Say what a fuel is, add one, or list them."""
    _one_thing(args)
    if args.list:
        return _list(args)
    if args.add is not None:
        return _add(args)
    found, mixed, notes = _asked_for(args)
    document = _document(found if mixed is None else mixed.fuel)
    if mixed is not None:
        document["premix"] = _premix(mixed)
    document["lambda_factor_on_petrol_jets"] = _factor(found, mixed)
    lines = [_head(found if mixed is None else mixed.fuel), *(line for note in notes for line in wrap(note))]
    answer(args, document | {"notes": notes}, lines)
    return 0


def _one_thing(args: argparse.Namespace) -> None:
    """Refuse two fuels at once, or none.

    Raises:
        BadValue: as said.
    """
    ways = ["NAME"] if args.name is not None else []
    ways += [f"--{key}" for key in ("blend", "formula", "mass", "add") if getattr(args, key) is not None]
    ways += ["--list"] if args.list else []
    if len(ways) > 1:
        raise BadValue(f"{ways[0]} and {ways[1]} ask for two things at once; leave one of them out")
    if not ways and args.afr is None:
        raise BadValue("say which fuel: a NAME, --blend, --formula, --mass or --afr; --list shows the names")
    further = [
        key for key in ("density", "afr", "oil", "oil_density", "oil_burns") if getattr(args, key) is not None
    ]
    if further and (args.add is not None or args.list):
        raise BadValue(f"--{further[0].replace('_', '-')} has no place beside {ways[0]}; leave it out")
    if args.oil is None and further and further[-1].startswith("oil_"):
        raise BadValue(f"--{further[-1].replace('_', '-')} says nothing without --oil; add --oil 32")


def _asked_for(args: argparse.Namespace) -> tuple["Fuel", "Premix | None", list[str]]:
    """Return the fuel without oil, the premix where oil was asked for, and the notes."""
    from bridge.physics import fuel as fuels  # noqa: PLC0415  # start-up

    if args.blend is not None:
        found = fuels.parse_blend(args.blend)
    elif args.formula is not None:
        found = fuels.fuel_of_formula(args.formula)
    elif args.mass is not None:
        found = fuels.fuel_of_mass(args.mass)
    elif args.name is not None:
        found = _named(args)
    else:
        found = fuels.stated_afr(args.afr)
    if args.density is not None:
        found = fuels.with_density(found, args.density)
    if args.afr is not None and found.name != f"stated AFR {args.afr:g}":
        found = fuels.with_stated_afr(found, args.afr)
    notes = [text for word, text in CAUTIONS.items() if word in found.name]
    if args.oil is None:
        return found, None, [*_jets(_factor(found, None)), *notes]
    density = args.oil_density or fuels.OIL_DENSITY_KG_M3
    mixed = fuels.premix(found, args.oil, oil_density_kg_m3=density, burns=args.oil_burns)
    sentence = mixed.sentence[:1].upper() + mixed.sentence[1:] + "."
    return found, mixed, [sentence, *_jets(_factor(found, mixed)), *notes]


def _named(args: argparse.Namespace) -> "Fuel":
    from bridge.errors import nearest  # noqa: PLC0415  # start-up
    from bridge.model.fuel import is_built_in  # noqa: PLC0415  # start-up
    from bridge.physics.fuel import fuel_by_name, fuel_names  # noqa: PLC0415  # start-up

    if is_built_in(args.name):
        return fuel_by_name(args.name)
    own = {one.name.strip().lower(): one for one in _own(args)}
    wanted = args.name.strip().lower()
    if wanted not in own:
        raise UnknownThing(f"unknown fuel '{args.name}'{nearest(wanted, [*fuel_names(), *own])}")
    return own[wanted].fuel()


def _own(args: argparse.Namespace) -> list["OwnFuel"]:
    """Return the tuner's own fuels; none where there is no logbook yet."""
    try:
        with reading(args) as logbook:
            return logbook.fuels()
    except UnknownThing:
        return []


def _factor(found: "Fuel", mixed: "Premix | None" = None) -> float | None:
    """Return what lambda is multiplied by on the jets that suit petrol without oil."""
    from bridge.physics.fuel import fuel_by_name, same_jet_factor  # noqa: PLC0415  # start-up

    factor = same_jet_factor(fuel_by_name("petrol"), found)
    return factor if factor is None or mixed is None else factor * mixed.lambda_factor


def _jets(factor: float | None) -> list[str]:
    if factor is None or abs(factor - 1.0) < _TOLD_FACTOR:
        return []
    way = "leaner" if factor > 1.0 else "richer"
    note = f"With the jets that suit petrol, lambda is {factor:.3f} times as high, so {way}."
    return [f"{note} {JETS}" if factor > 1.0 else note]


def _add(args: argparse.Namespace) -> int:
    from bridge.model import OwnFuel  # noqa: PLC0415  # start-up
    from bridge.model.files import read_toml  # noqa: PLC0415  # start-up

    own = read_toml(args.add, OwnFuel)
    with writing(args) as logbook:
        logbook.add_fuel(own)
    found = own.fuel()
    answer(args, _document(found), [_head(found), "added; a set-up may name it now"])
    return 0


def _list(args: argparse.Namespace) -> int:
    from bridge.physics.fuel import fuel_by_name, fuel_names  # noqa: PLC0415  # start-up

    found = [(fuel_by_name(name), False) for name in fuel_names()]
    found += [(one.fuel(), True) for one in _own(args)]
    rows = [
        (
            one.name,
            number(one.stoich_afr, 2),
            number(one.h_to_c),
            number(one.o_to_c),
            number(one.density_kg_m3, 0),
            "own" if own else "built in",
        )
        for one, own in found
    ]
    head = ("fuel", "AFR", "H/C", "O/C", "kg/m3", "")
    document = {"fuels": [_document(one) | {"own": own} for one, own in found]}
    answer(args, document, table(head, rows))
    return 0


def _head(found: "Fuel") -> str:
    parts = [f"{found.name}: stoichiometric AFR {found.stoich_afr:.3f} (sd {found.afr_sd:.3f})"]
    if found.h_to_c is not None:
        parts.append(f"H/C {found.h_to_c:.3f}")
    if found.o_to_c:
        parts.append(f"O/C {found.o_to_c:.3f}")
    if found.density_kg_m3 is not None:
        parts.append(f"{found.density_kg_m3:.0f} kg/m3")
    return ", ".join(parts)


def _document(found: "Fuel") -> dict[str, Any]:
    return {
        "name": found.name,
        "stoich_afr": found.stoich_afr,
        "afr_sd": found.afr_sd,
        "h_to_c": found.h_to_c,
        "o_to_c": found.o_to_c,
        "n_to_c": found.n_to_c,
        "density_kg_m3": found.density_kg_m3,
        "lambda_factor_on_petrol_jets": _factor(found),
    }


def _premix(mixed: "Premix") -> dict[str, Any]:
    return {
        "ratio": mixed.ratio,
        "oil_burns": mixed.burns,
        "oil_share": mixed.oil_share,
        "oil_to_fuel_by_mass": mixed.oil_to_fuel,
        "jet_flow": mixed.jet_flow,
        "fuel_flow": mixed.fuel_flow,
        "lambda_factor": mixed.lambda_factor,
    }
