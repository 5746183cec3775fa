"""A season as the command line gives it to programs: plain values, ready for ``json.dumps``."""

from __future__ import annotations

from dataclasses import asdict
from datetime import datetime
from typing import TYPE_CHECKING, Any

from bridge.agreement.season.shows import cannot_show

if TYPE_CHECKING:
    from bridge.agreement.methods import BlandAltman, Cusum
    from bridge.agreement.season.points import Absolute, Point
    from bridge.agreement.season.result import Season


def season_json(found: Season) -> dict[str, Any]:
    """Return a season.

    Args:
        found: the season. ``pairs`` counts the points; each method says its own ``n``, why it has no figure
            (``because``) and what it ``cannot_show``.
    """
    limits, line = found.bland_altman, found.deming
    low, high = found.bias_interval
    blind = cannot_show(found)
    plain = {
        name: asdict(getattr(found, name))
        for name in ("deming", "proportional", "concordance", "equivalence")
    }
    methods = {"bland_altman": _limits(limits), **plain, "drift": _drift(found)}
    return {
        "bikes": list(found.bikes),
        "filters": {key: _plain(value) for key, value in found.filters.to_json().items()},
        "margin": found.margin,
        "scale": found.scale,
        "pairs": len(found.points),
        "sessions": len({point.session for point in found.points}),
        "left_out": [asdict(one) for one in found.left_out],
        "not_asked_for": found.not_asked,
        "bias": limits.bias,
        "bias_low": low,
        "bias_high": high,
        "limit_low": limits.lower.value if limits.lower else None,
        "limit_high": limits.upper.value if limits.upper else None,
        "slope": line.slope,
        "slope_low": line.slope_low,
        "slope_high": line.slope_high,
        "intercept": line.intercept,
        "equivalent": found.equivalent,
        "off": [asdict(one) for one in found.off],
        "without_off": _limits(found.without_off) if found.without_off else None,
        "methods": {name: method | {"cannot_show": list(blind[name])} for name, method in methods.items()},
        "absolute": [_absolute(one) for one in found.absolute],
        "points": [_point(one) for one in found.points],
        "stops": [asdict(one) for one in found.stops],
        "cautions": list(found.cautions),
    }


def _limits(found: BlandAltman) -> dict[str, Any]:
    return asdict(found)


def _drift(found: Season) -> dict[str, Any]:
    turn = found.turn
    return _cusum(found.drift, [point.session for point in found.points]) | {
        "turn": asdict(turn) | {"changed": list(turn.changed)} if turn else None,
        "by_cylinder": {
            str(number): _cusum(one, [point.session for point in found.points if point.cylinder == number])
            for number, one in found.drift_by_cylinder.items()
        },
    }


def _cusum(found: Cusum, sessions: list[int]) -> dict[str, Any]:
    return asdict(found) | {
        "sessions": found.sessions,
        "in_order": list(dict.fromkeys(sessions)),
        "means": found.means.tolist(),
        "sums": found.sums.tolist(),
    }


def _absolute(one: Absolute) -> dict[str, Any]:
    bias = one.bias
    return {
        "bike": one.bike,
        "plug_type": one.plug_type,
        "nose_mm": one.nose_mm,
        "build": one.build,
        "scale": one.scale,
        "pairs": one.pairs,
        "sessions": one.sessions,
        "bias": bias.difference,
        "low": bias.low,
        "high": bias.high,
        "verdict": bias.verdict,
        "budget": [
            {"what": part.name, "sd": part.sd, "status": part.status}
            for part in (bias.budget.components if bias.budget else ())
        ],
    }


def _point(one: Point) -> dict[str, Any]:
    return asdict(one) | {
        "started": _plain(one.started),
        "difference": one.difference,
        "average": one.average,
    }


def _plain(value: object) -> object:
    return (
        value.isoformat(timespec="milliseconds").replace("+00:00", "Z")
        if isinstance(value, datetime)
        else value
    )
