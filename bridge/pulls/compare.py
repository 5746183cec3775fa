"""Two groups of pulls, before and after a change: what the change was worth, or that nothing was shown."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import polars as pl
from numpy.typing import NDArray

from bridge.budget import t_quantile
from bridge.errors import BadValue
from bridge.physics.air import lambda_factor
from bridge.pulls.alike import span_of, why_not
from bridge.pulls.result import Pull, Pulls
from bridge.pulls.trend import FEWEST, Design, Estimate, estimate

Array = NDArray[np.float64]
Side = Literal["before", "after"]

_LEAST_RANGE_RPM = 500.0
"""Runs that have fewer revs than this in common are not compared [1/min]."""
_AIR_MOVED = 0.003
"""The air moved lambda by more than this: worth a sentence [1]."""


@dataclass(frozen=True)
class Entry:
    """One run of the comparison."""

    side: Side
    session: int
    pull: Pull
    position: int
    """Place in its session, from 0."""
    left_out: str | None
    """Why it does not count; None where it does."""


@dataclass(frozen=True)
class Comparison:
    """What a change was worth."""

    entries: tuple[Entry, ...]
    """All runs in order of time."""
    corrected_by: str | None
    """The standard that all figures were corrected by; None where they stand as measured."""
    rpm_from: float | None
    """Range that all runs have in common [1/min]."""
    rpm_to: float | None
    gain_percent: float | None
    """Of the mean power over that range; the middle of its interval, or with too few runs the plain ratio."""
    low: float | None
    high: float | None
    shown: bool
    """Whether the interval leaves out zero."""
    spread_percent: float | None
    """Standard deviation from run to run, trends taken out."""
    trend_percent: float | None
    """What a run adds to the next in its session: warm-up above 0, heat soak below."""
    trend_low: float | None
    trend_high: float | None
    by_model: dict[str, float]
    """The gain by each reading of the trend [%]."""
    alternates: bool
    curve: pl.DataFrame
    """``rpm``, ``before_kw``, ``after_kw`` (means), each with ``_low`` and ``_high`` (95 % of the mean by run-to-run
    spread), and ``gain_percent`` with ``_low`` and ``_high`` at each speed by itself."""
    statement: str
    notes: tuple[str, ...]
    stops: tuple[str, ...] = ()
    """What the bike's plugs show that stops all talk of leaner, a sentence each, told by whoever has its readings."""


def compare(before: Sequence[Pulls], after: Sequence[Pulls]) -> Comparison:
    """Compare the pulls of some sessions with those of others.

    Args:
        before: sessions before the change.
        after: sessions after it.

    Raises:
        BadValue: a session stands on both sides, or there is no power on one of them.
    """
    sides: list[tuple[Side, Pulls]] = [("before", one) for one in before] + [("after", one) for one in after]
    numbers = [one.run.session.id for _, one in sides]
    twice = next((number for number in numbers if numbers.count(number) > 1), None)
    if twice is not None:
        raise BadValue(
            f"session {twice} is named twice; each session is either before the change or after it"
        )
    bikes = {one.run.session.bike for _, one in sides}
    if len(bikes) > 1:
        raise BadValue(
            f"these are sessions of different bikes ({', '.join(sorted(map(str, bikes)))}); name those of one"
        )
    for side, one in sides:
        if one.means.why_not is not None:
            raise BadValue(f"session {one.run.session.id} ({side} the change): {one.means.why_not}")
    sides.sort(key=lambda pair: (pair[1].run.session.started, pair[1].run.session.id))
    entries = _entries(sides)
    kept = [entry for entry in entries if entry.left_out is None]
    notes = _notes(sides, entries)
    missing = [side for side in ("before", "after") if all(entry.side != side for entry in kept)]
    if missing:
        why = (
            "; ".join(dict.fromkeys(entry.left_out for entry in entries if entry.left_out))
            or "no pull was found"
        )
        raise BadValue(f"there is no pull {missing[0]} the change to compare: {why}")
    same = {entry.pull.corrected.by.name if entry.pull.corrected.by else None for entry in kept}
    by = next(iter(same)) if len(same) == 1 else None
    if len(same) > 1:
        notes.append(
            "not all runs could be corrected by one standard, so all are compared as measured, in the air of each"
        )
    rpm, powers = _on_common(kept, "power_kw" if by else "power_measured_kw")
    return _told(entries, kept, by, rpm, powers, notes)


def _entries(sides: Sequence[tuple[Side, Pulls]]) -> list[Entry]:
    """Return all runs, and why some do not count."""
    runs = [(side, place, pull) for side, pulls in sides for place, pull in enumerate(pulls.pulls)]
    reasons = why_not([pull for _, _, pull in runs])
    return [
        Entry(side, pull.session, pull, place, why)
        for (side, place, pull), why in zip(runs, reasons, strict=True)
    ]


def _on_common(kept: Sequence[Entry], column: str) -> tuple[Array, Array]:
    """Return the speeds that all runs have in common, shape (m,), and their powers there, shape (n, m)."""
    spans = [span for span in (span_of(entry.pull) for entry in kept) if span is not None]
    low, high = max(span[0] for span in spans), min(span[1] for span in spans)
    if high - low < _LEAST_RANGE_RPM:
        raise BadValue(
            f"these runs have only {max(high - low, 0.0):.0f} rpm in common; compare runs through the same revs"
        )
    step = float(kept[0].pull.curve["rpm"][1] - kept[0].pull.curve["rpm"][0])
    rpm = np.arange(low, high + step / 2.0, step)
    powers = []
    for entry in kept:
        known = entry.pull.curve.filter(pl.col(column).is_not_null())
        powers.append(np.interp(rpm, known["rpm"].to_numpy(), known[column].to_numpy()))
    return rpm, np.array(powers)


def _told(  # noqa: PLR0913, PLR0917  # all that is said
    entries: Sequence[Entry],
    kept: Sequence[Entry],
    by: str | None,
    rpm: Array,
    powers: Array,
    notes: list[str],
) -> Comparison:
    after = np.array([entry.side == "after" for entry in kept])
    design = Design(
        after,
        np.array([float(entry.position) for entry in kept]),
        np.array([entry.session for entry in kept], dtype=np.int64),
    )
    floor = 1e-3  # a run without power at a speed has no logarithm there
    logs = np.log(np.maximum(np.column_stack((powers.mean(axis=1), powers)), floor))
    found = estimate(design, logs) if design.enough else None
    plain = float(np.exp(logs[after, 0].mean() - logs[~after, 0].mean()) - 1.0) * 100.0
    gain = (
        [plain, None, None]
        if found is None
        else [_percent(x[0]) for x in (found.change, found.low, found.high)]
    )
    shown = found is not None and bool(found.low[0] > 0.0 or found.high[0] < 0.0)
    trend = None if found is None or np.isnan(found.trend[0]) else found
    return Comparison(
        tuple(entries),
        by,
        float(rpm[0]),
        float(rpm[-1]),
        gain[0],
        gain[1],
        gain[2],
        shown,
        None if found is None else _percent(found.spread[0]),
        None if trend is None else _percent(trend.trend[0]),
        None if trend is None else _percent(trend.trend[0] - trend.trend_half[0]),
        None if trend is None else _percent(trend.trend[0] + trend.trend_half[0]),
        {} if found is None else {name: _percent(change[0]) for name, change in found.by_model.items()},
        design.alternates,
        _curve(rpm, powers, after, found),
        _statement(design, gain, rpm, shown=shown),
        (*notes, *_trend_notes(design, found)),
    )


def _percent(log: float) -> float:
    return float(np.expm1(log) * 100.0)


def _curve(rpm: Array, powers: Array, after: Array, found: Estimate | None) -> pl.DataFrame:
    columns = {"rpm": rpm}
    for side, of in (("before", np.logical_not(after)), ("after", after)):
        own = powers[of]
        mean = own.mean(axis=0)
        reach = np.full(len(rpm), np.nan)
        if len(own) > 1:
            reach = t_quantile(0.975, len(own) - 1) * own.std(axis=0, ddof=1) / np.sqrt(len(own))
        columns |= {f"{side}_kw": mean, f"{side}_kw_low": mean - reach, f"{side}_kw_high": mean + reach}
    parts = ("change", "low", "high")
    names = ("gain_percent", "gain_percent_low", "gain_percent_high")
    nothing = np.full(len(rpm), np.nan)
    columns |= {
        name: nothing if found is None else np.expm1(getattr(found, part)[1:]) * 100.0
        for name, part in zip(names, parts, strict=True)
    }
    return pl.DataFrame(columns, nan_to_null=True)


def _statement(design: Design, gain: Sequence[float | None], rpm: Array, *, shown: bool) -> str:
    over = f"from {rpm[0]:.0f} to {rpm[-1]:.0f} rpm"
    before, after = int((~design.after).sum()), int(design.after.sum())
    middle, low, high = gain
    if low is None or high is None:
        return (
            f"No claim: {before} runs before and {after} after, and it takes {FEWEST} on each side. The means differ by"
            f" {middle:+.1f} % {over}, which run-to-run spread alone may do."
        )
    if not shown:
        return (
            f"No difference shown: the mean power {over} changed by {low:+.1f} to {high:+.1f} % (95 %), and zero lies"
            f" between. What lies beyond these ends is ruled out; what lies between them these {before} and {after}"
            " runs cannot tell from nothing."
        )
    word = "gain" if (middle or 0.0) > 0.0 else "loss"
    return f"A {word} is shown: {middle:+.1f} % of mean power {over}, {low:+.1f} to {high:+.1f} % (95 %)."


def _trend_notes(design: Design, found: Estimate | None) -> list[str]:
    if found is None:
        return []
    notes = []
    if found.differ[0]:
        notes.append(
            "sessions of one side differ by more than their runs do, so something besides the change and the trends was"
            " at work; the interval counts sessions and not runs"
        )
    if not np.isnan(found.trend[0]):
        low, high = (_percent(found.trend[0] + sign * found.trend_half[0]) for sign in (-1.0, 1.0))
        seen = "is seen" if low > 0.0 or high < 0.0 else "is not shown"
        notes.append(
            f"a trend within the sessions {seen}: {_percent(found.trend[0]):+.2f} % from a run to the next"
            f" ({low:+.2f} to {high:+.2f} %)"
        )
    if not design.alternates:
        told = "; ".join(f"{_percent(change[0]):+.1f} % by {name}" for name, change in found.by_model.items())
        notes.append(
            f"all runs of one side came first, so the day's own course and the change cannot be told apart: {told}; the"
            " interval holds for both. Going back to the old state for three runs more would narrow it most"
        )
    return notes


def _set_otherwise(sides: Sequence[tuple[Side, Pulls]]) -> str:
    """Return what the set-ups of the two sides differ in, as they were written."""
    values: dict[str, dict[str, set[str]]] = {}
    for side, pulls in sides:
        document = pulls.run.setup.model_dump(
            mode="json", exclude_none=True, exclude={"weather", "note", "kind"}
        )
        for key, value in _flat(document).items():
            values.setdefault(key, {}).setdefault(side, set()).add(value)
    differ = [
        f"{key} {' and '.join(sorted(of.get('before', {'not written'})))} to"
        f" {' and '.join(sorted(of.get('after', {'not written'})))}"
        for key, of in values.items()
        if of.get("before") != of.get("after")
    ]
    if not differ:
        return (
            "the set-ups of both sides are written alike, so nobody wrote down what was changed between them"
        )
    return f"written otherwise after the change than before it, and all of it is in the gain: {'; '.join(differ)}"


def _flat(document: Mapping[str, Any], within: str = "") -> dict[str, str]:
    """Return a set-up as keys and values in words; ``all`` is left unsaid, a cylinder's own is named."""
    found: dict[str, str] = {}
    for key, value in document.items():
        name = within if key == "all" else f"{within}{key} "
        if isinstance(value, dict):
            found |= _flat(value, name)
        else:
            found[f"{within}{key}"] = f"{value:g}" if isinstance(value, float) else str(value)
    return found


def _notes(sides: Sequence[tuple[Side, Pulls]], entries: Sequence[Entry]) -> list[str]:
    notes = [_set_otherwise(sides)]
    notes += [
        f"session {entry.session}, pull {entry.pull.number} is left out: {entry.left_out}"
        for entry in entries
        if entry.left_out
    ]
    factors: dict[str, list[float]] = {}
    for side, pulls in sides:
        known = [pull.conditions.air.whole for pull in pulls.pulls]
        values = [float(lambda_factor(*air)) for air in known if air is not None]
        factors.setdefault(side, []).extend(values)
    if all(factors.get(side) for side in ("before", "after")):
        moved = float(np.mean(factors["after"]) / np.mean(factors["before"]) - 1.0)
        if abs(moved) > _AIR_MOVED:
            way = "leaner" if moved > 0.0 else "richer"
            notes.append(
                f"the air alone made the mixture {abs(moved):.1%} {way} after the change than before it, with the same"
                " jets; a correction of power does not put that right"
            )
    by_side = {side: sum(1 for s, _ in sides if s == side) for side in ("before", "after")}
    if min(by_side.values()) == 1:
        notes.append(
            "with one session on a side, whatever differed between the sessions besides the change (tyre pressure,"
            " strap, oil, the roller's own warmth) is in the gain and not in its interval"
        )
    return notes
