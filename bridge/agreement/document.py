"""A comparison as the command line gives it to programs: plain values, ready for ``json.dumps``."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from bridge.agreement.collector import Together
    from bridge.agreement.result import Comparison, CylinderResult
    from bridge.agreement.verdict import Difference
    from bridge.agreement.witness import GasFound, GasWitness
    from bridge.budget import Budget
    from bridge.physics.fuel import Fuel
    from bridge.plug.exposure import Measured
    from bridge.plug.scale import RingLambda


def comparison_json(found: Comparison) -> dict[str, Any]:
    """Return a session's answer.

    Args:
        found: the answer; AFR is that of its fuel.
    """
    return {
        "session": found.session,
        "fuel": found.fuel.name,
        "stoich_afr": found.fuel.stoich_afr,
        "stoich_afr_sd": found.fuel.afr_sd,
        "margin": found.margin,
        "cylinders": [_cylinder(result, found.fuel) for result in found.cylinders],
        "together": _together(found.together, found.fuel.stoich_afr),
        "gas": [gas_json(one) for one in found.gas],
        "weather": list(found.weather),
        "notes": list(found.notes),
        "reading_limits": found.limits.model_dump(),
        "cautions": list(found.cautions),
    }


def gas_json(one: GasFound) -> dict[str, Any]:
    """Return an exhaust-gas analysis with what it comes to.

    Args:
        one: the analysis; its lambdas are null where it has none.
    """
    analysis, value = one.analysis, one.value
    low, high = value.budget.interval(0.95) if value else (0.0, 0.0)
    return {
        "cylinder": analysis.cylinder,
        "written": analysis.written.isoformat(timespec="milliseconds").replace("+00:00", "Z"),
        "co2_percent": analysis.co2_percent,
        "co_percent": analysis.co_percent,
        "o2_percent": analysis.o2_percent,
        "hc_ppm": analysis.hc_ppm,
        "no_ppm": analysis.no_ppm,
        "lambda": value.brettschneider if value else None,
        "lambda_brettschneider": value.dry_air if value else None,
        "lambda_spindt": value.spindt if value else None,
        "sd": value.sd if value else None,
        "low": value.brettschneider + low if value else None,
        "high": value.brettschneider + high if value else None,
        "budget": budget_json(value.budget if value else None),
        "notes": list(one.notes),
    }


def budget_json(budget: Budget | None) -> list[dict[str, Any]]:
    """Return the doubts of a budget, each with what it adds and where its figure comes from."""
    parts = budget.components if budget else ()
    return [{"what": part.name, "sd": part.sd, "status": part.status} for part in parts]


def _cylinder(result: CylinderResult, fuel: Fuel) -> dict[str, Any]:
    over, stoich_afr = result.measured, fuel.stoich_afr
    departed = result.departed if result.departure else None
    ring = departed.ring if departed else result.ring
    absolute = result.scale.name if result.scale else None
    return {
        "cylinder": result.cylinder,
        "plug": result.plug,
        "reading_valid": result.validity.valid,
        "invalid_because": result.validity.because,
        "rules": [asdict(rule) for rule in result.validity.rules],
        "doubtful": [rule.in_full for rule in result.validity.doubtful],
        "evidence": [
            {
                "key": one.evidence.key,
                "seen": one.seen,
                "may_indicate": one.evidence.may_indicate,
                "caution": one.evidence.caution,
                "direction": one.evidence.direction,
                "status": one.evidence.status,
            }
            for one in result.evidence
        ],
        "after_pull": asdict(result.after_pull) | {"pull_share": result.pull_share}
        if result.after_pull
        else None,
        "full_throttle_s": result.validity.full_throttle_s,
        "gap_s": result.validity.gap_s,
        "ring_depth_mm": result.ring_depth_mm,
        "scale": "pairs" if result.departure else absolute,
        "scales": {"absolute": absolute, "departure": "pairs" if result.departure else None},
        "ring_lambda": _interval(ring) | {"one_sided": ring.one_sided if ring else None},
        "ring_lambda_absolute": _interval(result.ring),
        "ring_afr": _interval(ring, stoich_afr),
        "measured_lambda": _interval(over)
        | {
            "seconds": over.seconds,
            "effective_n": over.effective_n,
            "memory_s": over.memory_s,
            "sensor_sd_not_in_interval": over.sensor_sd,
            "sensor_checked_days": over.sensor.checked_days,
            "reads": result.reads,
            "because": over.because,
            "budget": _measured_budget(over),
        },
        "measured_afr": _interval(over, stoich_afr)
        | {
            "sensor_sd_not_in_interval": over.sensor_sd * stoich_afr,
            "fuel_sd_not_in_interval": _times(over.mean, fuel.afr_sd),
        },
        "fooled": [
            {
                "cause": fooled.cause,
                "direction": fooled.direction,
                "low": fooled.size_low,
                "high": fooled.size_high,
                "sentence": fooled.sentence,
            }
            for fooled in result.fooled
        ],
        "gas": _witness(result.gas, stoich_afr),
        "absolute": _difference(result.absolute, stoich_afr),
        "departure": _departure(result, stoich_afr),
        "verdict": result.verdict,
        "causes": [
            {
                "cause": one.cause,
                "weight": one.weight,
                "next_test": one.next_test,
                "predicts": one.predicts,
                "for": list(one.for_),
                "against": list(one.against),
            }
            for one in result.causes
        ],
        "nothing_wrong": result.sound,
        "next_test": _next_test(result),
        "running": asdict(result.running) if result.running else None,
        "statement": result.statement,
        "caution": result.caution,
        "notes": list(result.notes),
    }


def _departure(result: CylinderResult, stoich_afr: float) -> dict[str, Any] | None:
    found = _difference(result.departure, stoich_afr)
    if found is None or result.departed is None:
        return found
    departed = result.departed
    return found | {
        "pairs": departed.pairs,
        "sessions": departed.sessions,
        "slope_mm_per_lambda": departed.scale.slope_mm,
        "scatter_lambda": departed.scale.scatter,
        "off_in_history": departed.history.off,
        "notes": list(departed.notes),
    }


def _next_test(result: CylinderResult) -> dict[str, Any] | None:
    test = result.next_test
    if test is None:
        return None
    return {
        "test": test.test,
        "how": test.how,
        "bits": test.bits,
        "separates": list(test.separates),
        "outcomes": [{"seen": seen, "speaks_for": list(names)} for seen, names in test.outcomes],
        "caution": test.caution,
    }


def _together(found: Together | None, stoich_afr: float) -> dict[str, Any] | None:
    if found is None:
        return None
    return {
        "difference": _difference(found.difference, stoich_afr),
        "scale": found.scale,
        "cylinders": [
            {
                "cylinder": one.cylinder,
                "difference": one.difference,
                "low": one.low,
                "high": one.high,
                "departs": one.departs,
            }
            for one in found.cylinders
        ],
        "statement": found.statement,
    }


def _measured_budget(over: Measured) -> list[dict[str, Any]]:
    """Return every doubt about a measured lambda: those in its interval, and the sensor's own beside it.

    ``same_each_session`` marks what cancels against the bike's own history.
    """
    inside = [row | {"in_interval": True, "same_each_session": False} for row in budget_json(over.budget)]
    beside = [
        {
            "what": part.name,
            "sd": part.sd,
            "status": part.status,
            "in_interval": False,
            "same_each_session": part in over.sensor.constant,
        }
        for part in over.sensor.components
    ]
    return inside + beside


def _witness(gas: GasWitness | None, stoich_afr: float) -> dict[str, Any] | None:
    if gas is None:
        return None
    return {
        "lambda": gas.lambda_,
        "lambda_brettschneider": gas.dry_air,
        "lambda_spindt": gas.spindt,
        "sd": gas.budget.sd,
        "low": gas.low,
        "high": gas.high,
        "afr": gas.lambda_ * stoich_afr,
        "of_all_cylinders": gas.of.cylinder is None,
        "sides_with": gas.sides,
        "statement": gas.statement,
        "budget": budget_json(gas.budget),
        "notes": list(gas.notes),
    }


def _interval(thing: RingLambda | Measured | None, factor: float = 1.0) -> dict[str, float | None]:
    keys = ("mean", "low", "high")
    return {key: _times(getattr(thing, key), factor) if thing else None for key in keys}


def _times(value: float | None, factor: float) -> float | None:
    return None if value is None else value * factor


def _difference(found: Difference | None, stoich_afr: float) -> dict[str, Any] | None:
    if found is None:
        return None
    return {
        "difference": found.difference,
        "low": found.low,
        "high": found.high,
        "difference_afr": _times(found.difference, stoich_afr),
        "low_afr": _times(found.low, stoich_afr),
        "high_afr": _times(found.high, stoich_afr),
        "verdict": found.verdict,
        "budget": budget_json(found.budget),
    }
