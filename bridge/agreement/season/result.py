"""A bike's season: the two methods against each other over all its pairs."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from bridge.agreement.compare import MARGIN
from bridge.agreement.history import Stretch
from bridge.agreement.methods import (
    BlandAltman,
    Concordance,
    Cusum,
    Deming,
    Equivalence,
    Proportional,
    bland_altman,
    concordance,
    cusum,
    deming,
    equivalence,
    proportional,
)
from bridge.agreement.pairs import LeftOut
from bridge.agreement.season.document import season_json
from bridge.agreement.season.filters import Filters, checked
from bridge.agreement.season.gather import Gathered
from bridge.agreement.season.points import Absolute, Point, absolutes, likely_off, points_of, seen_only
from bridge.agreement.season.turn import Turn, turn_of
from bridge.agreement.season.words import cautions, figures_in_words, season_words
from bridge.agreement.stops import Stop

_LEAST = 1e-9
"""Stands in for no doubt at all where a ratio of doubts is formed [1]."""


@dataclass(frozen=True)
class Season:
    """What a season comes to.

    Attributes:
        bikes: whose pairs these are.
        filters: what was asked.
        margin: what counts as agreement, the smallest of the bikes' [1].
        scale: ``pairs`` where each point is judged by the pairs of the other sessions; else ``stated`` or ``guess``,
            or ``mixed`` of these two; None without points.
        points: the pairs, in order of time.
        left_out: what makes no point, and why.
        not_asked: how many pairs the filters kept out.
        bland_altman: bias and limits of agreement of ring minus measured.
        deming: ``ring = intercept + slope * measured``.
        proportional: whether the difference grows with lambda.
        concordance: Lin's.
        equivalence: two one-sided tests of the bias.
        drift: cumulative sum of the difference over the sessions.
        drift_by_cylinder: the same for each cylinder alone, all together as rarely wrong as ``drift``.
        turn: where the drift turned, and what changed there; None where none is shown.
        absolute: the bias by a scale that did not come from this sensor.
        off: sessions that are likely off by themselves against the bike's own history.
        without_off: bias and limits without them; None where none is.
        two_stroke: whether a two-stroke is among the bikes.
        stops: what the newest reading of a cylinder shows that stops all talk of leaner; no filter hides it.
    """

    bikes: tuple[str, ...]
    filters: Filters
    margin: float
    scale: str | None
    points: tuple[Point, ...]
    left_out: tuple[LeftOut, ...]
    not_asked: int
    bland_altman: BlandAltman
    deming: Deming
    proportional: Proportional
    concordance: Concordance
    equivalence: Equivalence
    drift: Cusum
    drift_by_cylinder: dict[int, Cusum]
    turn: Turn | None
    absolute: tuple[Absolute, ...]
    two_stroke: bool
    stops: tuple[Stop, ...] = ()
    off: tuple[Stretch, ...] = ()
    without_off: BlandAltman | None = None

    @property
    def bias_interval(self) -> tuple[float | None, float | None]:
        """The 95 % interval of the bias [1].

        Where the scale did not come from pairs its own errors, and the sensor's, are the same in every session, so that
        scatter does not show them: the interval is then that of ``absolute``, where all pairs have one scale.
        """
        if self.scale == "pairs" or not self.absolute:
            return self.bland_altman.bias_low, self.bland_altman.bias_high
        if len(self.absolute) > 1:
            return None, None
        return self.absolute[0].bias.low, self.absolute[0].bias.high

    @property
    def equivalent(self) -> bool | None:
        """Whether the bias is shown to lie inside the margin; None where nothing could be tested."""
        if self.scale == "pairs":
            return None if self.equivalence.because else self.equivalence.equivalent
        return all(one.bias.verdict == "agree" for one in self.absolute) if self.absolute else None

    def to_json(self) -> dict[str, Any]:
        """Return the season as the command line gives it: plain values, ready for ``json.dumps``."""
        return season_json(self)

    def in_words(self) -> list[str]:
        """Return the season for a person, a paragraph each."""
        return season_words(self)

    def figures_in_words(self) -> list[str]:
        """Return what each method says alone."""
        return figures_in_words(self)

    @property
    def cautions(self) -> tuple[str, ...]:
        """What has to stand beside these figures."""
        return cautions(self)


def season(gathered: Gathered, filters: Filters | None = None) -> Season:
    """Hold the two methods against each other over a season.

    Args:
        gathered: all pairs of the bike, or of several.
        filters: which of them are looked at; all where left out.

    Raises:
        BadValue: a filter's word is none that any pair has.
    """
    filters = filters or Filters()
    checked(filters, gathered.pairs)
    asked = [pair for pair in gathered.pairs if filters.takes(pair)]
    seen, one_sided = seen_only(asked)
    points, lonely = points_of(seen, gathered)
    margin = min((pair.about.margin for pair in asked), default=MARGIN)
    sessions = np.array([point.session for point in points], dtype=np.int64)
    measured, ring = (
        np.array([getattr(point, name) for point in points], dtype=np.float64)
        for name in ("measured", "ring")
    )
    ratio = _error_ratio(points)
    found = bland_altman(ring - measured, sessions)
    drift = cusum(ring - measured, sessions)
    told = [
        one
        for one in gathered.left_out
        if one.session not in gathered.about or filters.takes_session(gathered.about[one.session])
    ]
    scales = {point.scale for point in points}
    off = likely_off(seen, gathered) if scales == {"pairs"} else ()
    sound = np.array([not any(one.holds(p.session, p.cylinder) for one in off) for p in points], dtype=bool)
    return Season(
        bikes=tuple(dict.fromkeys(about.bike for about in gathered.about.values())),
        filters=filters,
        margin=margin,
        scale=None if not scales else scales.pop() if len(scales) == 1 else "mixed",
        points=tuple(points),
        left_out=(*told, *one_sided, *lonely),
        not_asked=len(gathered.pairs) - len(asked),
        bland_altman=found,
        deming=deming(measured, ring, ratio, sessions),
        proportional=proportional(measured, ring, ratio, sessions),
        concordance=concordance(measured, ring, sessions),
        equivalence=equivalence(found, margin),
        drift=drift,
        drift_by_cylinder=_by_cylinder(points),
        turn=turn_of(drift, points, gathered),
        absolute=absolutes(seen, gathered, margin),
        two_stroke=any(about.strokes == 2 for about in gathered.about.values()),
        off=off,
        without_off=bland_altman((ring - measured)[sound], sessions[sound]) if off else None,
        stops=gathered.stops,
    )


def _error_ratio(points: Sequence[Point]) -> float:
    """Return the variance of the ring's error over that of the measured lambda's, from the two budgets [1]."""
    ring = sum(point.ring_sd**2 for point in points)
    measured = sum(point.measured_sd**2 for point in points)
    return max(ring, _LEAST) / max(measured, _LEAST) if points else 1.0


def _by_cylinder(points: Sequence[Point]) -> dict[int, Cusum]:
    cylinders = sorted({point.cylinder for point in points})
    if len(cylinders) < 2:
        return {}
    level = 0.05 / len(cylinders)
    return {
        number: cusum(
            np.array([point.difference for point in points if point.cylinder == number]),
            [point.session for point in points if point.cylinder == number],
            level,
        )
        for number in cylinders
    }
