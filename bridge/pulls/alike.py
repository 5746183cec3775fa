"""Which runs may be held against each other: power told alike, the same gear, much the same revs, begun as stated."""

from collections.abc import Sequence

import numpy as np
import polars as pl
from numpy.typing import NDArray

from bridge.pulls.result import Pull

Array = NDArray[np.float64]

_SAME_GEAR = 0.04
"""Ratios within this share of each other are one gear: the closest gears are 8 % apart, slip takes a few [1]."""
_FULL_SPAN = 0.6
"""A run that covers less than this share of the usual span is left out, so as not to narrow all others [1]."""


def span_of(pull: Pull) -> tuple[float, float] | None:
    """Return between which speeds a pull has power [1/min]; None where it has none."""
    known = pull.curve.filter(pl.col("power_measured_kw").is_not_null())["rpm"]
    return None if known.is_empty() else (float(known[0]), float(known[-1]))


def why_not(pulls: Sequence[Pull], *, whole_span: bool = True) -> list[str | None]:
    """Return, for each run, why it does not count; None where it does.

    Args:
        pulls: all that could.
        whole_span: leave out those that cover much fewer revs than the others.
    """
    kinds = [kind_of(pull) for pull in pulls]
    usual = _usual(kinds)
    in_gear = _in_the_usual_gear(pulls)
    spans = [span_of(pull) for pull in pulls]
    widths = [high - low for low, high in (span for span in spans if span is not None)]
    typical = float(np.median(widths)) if widths else 0.0
    reasons: list[str | None] = []
    for pull, span, kind, same in zip(pulls, spans, kinds, in_gear, strict=True):
        why = None
        if span is None:
            why = "it has no power"
        elif kind != usual:
            why = f"its power is told {kind}, that of most {usual}, and the two are not alike"
        elif pull.conditions.outside:
            why = "; ".join(pull.conditions.outside)
        elif not same:
            why = "it is in another gear than most"
        elif whole_span and span[1] - span[0] < _FULL_SPAN * typical:
            why = "it covers much fewer revs than the others"
        reasons.append(why)
    return reasons


def kind_of(pull: Pull) -> str | None:
    """Return by what and where a pull's power is told, in words; None without power."""
    return None if pull.along is None else f"by the {pull.along.by} at the {pull.along.at}"


def _usual(kinds: Sequence[str | None]) -> str | None:
    known = [kind for kind in kinds if kind is not None]
    return max(known, key=known.count, default=None)


def _in_the_usual_gear(pulls: Sequence[Pull]) -> list[bool]:
    """Return which pulls are in the gear that most of them are in; where nothing tells gears, all of them."""
    ratios = np.array(
        [np.nan if pull.piece.ratio is None else pull.piece.ratio for pull in pulls], dtype=np.float64
    )
    if np.isnan(ratios).any():
        numbers = [pull.gear for pull in pulls]
        known = [number for number in numbers if number is not None]
        usual = max(set(known), key=known.count, default=None)
        return [number is None or number == usual for number in numbers]
    if len(ratios) == 0:
        return []
    logs = np.log(ratios)
    near = np.abs(logs[:, None] - logs[None, :]) < _SAME_GEAR
    return [bool(same) for same in near[int(np.argmax(near.sum(axis=1)))]]
