"""``air``: what the air of the day does to density, mixture and power."""

import argparse
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from bridge.cli.output import answer, number, table, wrap
from bridge.cli.parser import Parser, command, finite

if TYPE_CHECKING:
    from bridge.physics.power import Correction

LAMBDA_HOLDS = (
    "Lambda over reference day (20 Cel, 1013.25 hPa, 50 %): same jets, main circuit at wide throttle; thin or humid"
    " air is richer. A first guess: the next plug and reading have the last word."
)
POWER_HOLDS = (
    "Corrections hold for full-throttle power without a blower, not for lambda, not at part throttle, on"
    " two-strokes only roughly."
)
STANDARDS_DIFFER = (
    "They have different references: never compare figures that were corrected by different ones."
)


def add(commands: "argparse._SubParsersAction[Parser]") -> None:
    """Add this module's command."""
    one = command(
        commands, "air", air, "density of the air, what it does to the mixture, and the power corrections"
    )
    one.add_argument("--temp", type=finite, required=True, metavar="C", help="air temperature in Celsius")
    one.add_argument(
        "--pressure",
        type=finite,
        required=True,
        metavar="HPA",
        help="station pressure, not reduced to sea level",
    )
    one.add_argument(
        "--humidity", type=finite, required=True, metavar="PERCENT", help="relative humidity in percent"
    )
    one.add_argument(
        "--altitude",
        type=finite,
        metavar="M",
        help="of the place above the sea, to look whether the pressure fits",
    )


def air(args: argparse.Namespace) -> int:
    """Print what the air is worth."""
    from bridge.physics import air as moist  # noqa: PLC0415  # start-up
    from bridge.physics import altitude, power, stated_air  # noqa: PLC0415  # start-up

    temp_c = stated_air.checked_temp_c(args.temp)
    pressure_hpa = stated_air.checked_pressure_hpa(args.pressure)
    humidity = stated_air.checked_humidity_percent(args.humidity)
    metres = None if args.altitude is None else stated_air.checked_altitude_m(args.altitude)
    stated_air.refuse_mmhg(pressure_hpa, metres, temp_c)
    state = (temp_c, pressure_hpa, humidity)
    corrections = power.corrections(*state)
    density, factor = moist.density_budget(*state), moist.lambda_factor_budget(*state)
    document = {
        "density_kg_m3": moist.moist_air_density(*state),
        "density_sd_kg_m3": density.sd,
        "relative_density": moist.relative_density(*state),
        "dry_density_kg_m3": moist.dry_air_density(*state),
        "oxygen_density_kg_m3": moist.oxygen_density(*state),
        "vapour_pressure_hpa": moist.vapour_pressure_hpa(temp_c, humidity),
        "dry_pressure_hpa": moist.dry_pressure_hpa(*state),
        "humidity_ratio": moist.humidity_ratio(*state),
        "density_altitude_m": altitude.density_altitude_m(moist.moist_air_density(*state)),
        "pressure_altitude_m": altitude.pressure_altitude_m(pressure_hpa),
        "lambda_factor": moist.lambda_factor(*state),
        "lambda_factor_sd": factor.sd,
    }
    rounded: dict[str, Any] = {key: float(value) for key, value in document.items()}
    questioned = stated_air.questions(pressure_hpa, humidity, metres, temp_c)
    whole = rounded | {
        "correction": {key: found.factor for key, found in corrections.items()},
        "correction_limits": {key: asdict(found) for key, found in corrections.items()},
        "questioned": list(questioned),
    }
    answer(args, whole, _lines(rounded, list(corrections.values()), questioned, checked=metres is not None))
    return 0


def _lines(
    found: dict[str, float], corrections: "list[Correction]", questioned: tuple[str, ...], *, checked: bool
) -> list[str]:
    rows = [
        ("density", f"{found['density_kg_m3']:.4f}", f"{found['density_sd_kg_m3']:.4f}", "kg/m3"),
        ("over 1.225 kg/m3", number(found["relative_density"], 4), "", ""),
        ("density of the dry part", number(found["dry_density_kg_m3"], 4), "", "kg/m3"),
        ("oxygen", number(found["oxygen_density_kg_m3"], 4), "", "kg/m3"),
        ("vapour pressure", number(found["vapour_pressure_hpa"], 2), "", "hPa"),
        ("pressure of the dry part", number(found["dry_pressure_hpa"], 2), "", "hPa"),
        ("density altitude", number(found["density_altitude_m"], 0), "", "m"),
        ("pressure altitude", number(found["pressure_altitude_m"], 0), "", "m"),
        (
            "lambda over reference day",
            number(found["lambda_factor"], 4),
            f"{found['lambda_factor_sd']:.4f}",
            "",
        ),
    ]
    power = [(c.name, number(c.factor, 4), c.reference) for c in corrections]
    said = list(questioned)
    if not checked:
        said.append(
            "The pressure is taken as the station's own; with --altitude it is looked at whether it can be."
        )
    said += [f"{c.name}: not valid here, since {c.because}." for c in corrections if not c.valid]
    limits = [f"{c.name} holds for {c.limits} ({c.status})." for c in corrections]
    return [
        *table(("air", "value", "sd", "unit"), rows),
        "",
        *table(("power correction", "factor", "reference"), power),
        "",
        *(
            line
            for sentence in (*said, LAMBDA_HOLDS, POWER_HOLDS, STANDARDS_DIFFER, *limits)
            for line in wrap(sentence)
        ),
    ]
