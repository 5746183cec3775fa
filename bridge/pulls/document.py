"""Pulls, comparisons and best mixtures as the command line gives them to programs: plain values for ``json.dumps``."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from bridge.pulls.corrected import NOT_FOR_MIXTURE
from bridge.pulls.words import CAUTIONS

if TYPE_CHECKING:
    from bridge.pulls.best import Best
    from bridge.pulls.compare import Comparison
    from bridge.pulls.corrected import Corrected
    from bridge.pulls.result import Hold, Pull, Pulls


def pulls_json(found: Pulls) -> dict[str, Any]:
    """Return a session's pulls.

    Args:
        found: the session. ``power_kw`` and ``peak_power_kw`` are corrected by ``corrected_by``, and as measured where
            that is null.
    """
    delay = asdict(found.delay)
    delay["from"] = delay.pop("from_")
    lost = found.coasted
    return {
        "session": found.run.session.id,
        "delay": delay,
        "power_from": found.means.source,
        "no_power_because": found.means.why_not,
        "target": found.target,
        "settings": found.settings.model_dump(),
        "counts": found.findings.counts,
        "gears": {
            "ratios": list(found.findings.gears.ratios),
            "numbers": found.findings.gears.numbers,
            "told_by": found.findings.gears.told_by,
        },
        "pieces": [piece._asdict() for piece in found.findings.pieces],
        "pulls": [_pull(pull) for pull in found.pulls],
        "holds": [_hold(hold) for hold in found.holds],
        "coast_downs": asdict(lost) if lost else None,
        "corrections_are_not_for_mixture": NOT_FOR_MIXTURE,
        "stops": list(found.stops),
        "cautions": list(CAUTIONS),
        "notes": list(found.notes),
    }


def _pull(pull: Pull) -> dict[str, Any]:
    power, rpm = pull.peak or (None, None)
    began, along = pull.conditions, pull.along
    return {
        "number": pull.number,
        "start_s": pull.piece.start_s,
        "end_s": pull.piece.end_s,
        "gear": pull.gear,
        "ratio": pull.piece.ratio,
        "rpm_from": pull.piece.rpm_from,
        "rpm_to": pull.piece.rpm_to,
        "ended": pull.piece.why,
        "peak_power_kw": power,
        "peak_power_rpm": rpm,
        "power_at": along.at if along else None,
        "power_by": along.by if along else None,
        "filter": {"points": along.points, "step_s": along.step_s} if along else None,
        **_corrected(pull.corrected),
        "mixture": [
            {
                "cylinder": one.cylinder,
                "channel": one.column,
                "mean": one.mean,
                "sd": one.sd,
                "left_out": one.left_out,
            }
            for one in pull.mixture
        ],
        "off_target": [asdict(one) for one in pull.leaves],
        "start_temp_c": began.start_temp_c,
        "start_temp_of": began.start_temp_of,
        "start_egt_c": began.start_egt_c,
        "rest_s": began.rest_s,
        "air": {
            "temp_c": began.air.temp_c,
            "pressure_hpa": began.air.pressure_hpa,
            "humidity_percent": began.air.humidity_percent,
            "told_by": began.air.told_by,
        },
        "outside": list(began.outside),
        "chop_after_s": pull.chop_s,
        "curve": pull.curve.to_dicts(),
        "notes": list(pull.notes),
    }


def _corrected(found: Corrected) -> dict[str, Any]:
    return {
        "corrected_by": found.by.name if found.by else None,
        "correction_factor": found.by.factor if found.by else None,
        "correction_because": found.because,
        "corrections": {
            name: {"factor": one.factor, "name": one.name, "valid": one.valid, "because": one.because}
            for name, one in found.all.items()
        },
    }


def _hold(hold: Hold) -> dict[str, Any]:
    return {
        "start_s": hold.start_s,
        "end_s": hold.end_s,
        "gear": hold.gear,
        "rpm": hold.rpm,
        **hold.lambdas,
        "lambda_sds": hold.lambda_sds,
        "power_kw": hold.power_kw,
        "power_sd_kw": hold.power_sd_kw,
        "power_at": hold.at,
        "torque_nm": hold.torque_nm,
        **_corrected(hold.corrected),
    }


def comparison_json(found: Comparison) -> dict[str, Any]:
    """Return a comparison of pulls before a change and after it."""
    return {
        "gain_percent": found.gain_percent,
        "low": found.low,
        "high": found.high,
        "shown": found.shown,
        "statement": found.statement,
        "rpm_from": found.rpm_from,
        "rpm_to": found.rpm_to,
        "corrected_by": found.corrected_by,
        "run_to_run_percent": found.spread_percent,
        "trend": {
            "percent_a_run": found.trend_percent,
            "low": found.trend_low,
            "high": found.trend_high,
            "gain_by": found.by_model,
            "alternates": found.alternates,
        },
        "runs": [
            {
                "side": one.side,
                "session": one.session,
                "number": one.pull.number,
                "start_s": one.pull.piece.start_s,
                "place": one.position,
                "start_temp_c": one.pull.conditions.start_temp_c,
                "rest_s": one.pull.conditions.rest_s,
                "left_out": one.left_out,
            }
            for one in found.entries
        ],
        "curve": found.curve.to_dicts(),
        "corrections_are_not_for_mixture": NOT_FOR_MIXTURE,
        "stops": list(found.stops),
        "cautions": list(CAUTIONS),
        "notes": list(found.notes),
    }


def best_json(found: Best) -> dict[str, Any]:
    """Return a best mixture."""
    top = found.top
    return {
        "rpm": found.rpm,
        "best_lambda": found.best_lambda,
        "best_of_cylinders": {str(number): value for number, value in found.cylinders.items()},
        "low": found.low,
        "high": found.high,
        "at_edge": found.at_edge,
        "edge": top.edge if top else None,
        "power_kw": found.power_kw,
        "power_sd_kw": top.value_sd if top else None,
        "flat_from": found.flat_from,
        "flat_to": found.flat_to,
        "degree": top.degree if top else None,
        "scatter_kw": top.spread if top else None,
        "corrected_by": found.corrected_by,
        "statement": found.statement,
        "points": [
            {
                "session": point.session,
                "number": point.pull,
                # a JSON document knows no nan
                "lambda": None if point.lambda_ != point.lambda_ else point.lambda_,
                "cylinders": {str(number): value for number, value in point.cylinders.items()},
                "power_kw": None if point.power_kw != point.power_kw else point.power_kw,
                "left_out": point.left_out,
            }
            for point in found.points
        ],
        "curve": [{"lambda": float(x), "power_kw": float(y)} for x, y in zip(top.x, top.y, strict=True)]
        if top
        else [],
        "stops": list(found.stops),
        "cautions": list(CAUTIONS),
        "notes": list(found.notes),
    }
