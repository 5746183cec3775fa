"""Each pair judged by a ring scale that has not seen its session, and the season judged by a scale from elsewhere."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from bridge.agreement.bike_history import bike_history
from bridge.agreement.history import History, Stretch
from bridge.agreement.kept import ENOUGH_PAIRS
from bridge.agreement.methods import bland_altman
from bridge.agreement.pairs import LeftOut
from bridge.agreement.season.gather import Gathered, SeasonPair
from bridge.agreement.verdict import Difference, judge_difference
from bridge.budget import Budget, Component
from bridge.plug.fitted_scale import FittedScale
from bridge.plug.ring_fit import RingPair
from bridge.plug.scale import SCATTERS, SLOPE_MM, LinearScale, scale_for

CENSORED = {
    "leaner": "no ring: it says only that the ring is leaner than some lambda, so it has no difference",
    "richer": "all dark: it says only that the ring is richer than some lambda, so it has no difference",
}


@dataclass(frozen=True)
class Point:
    """A pair on one lambda axis.

    Attributes:
        session: its number.
        started: when the session did, in UTC.
        bike: whose.
        cylinder: from 1.
        plug: its label.
        plug_type: the tuner's name of the type.
        measured: lambda by the sensor [1].
        ring: lambda by the ring [1].
        low: lower end of the 95 % interval of ``difference`` [1].
        high: upper end of it.
        scale: ``pairs``, ``stated`` or ``guess``.
        scale_pairs: how many pairs of other sessions the scale stands on.
        ring_sd: standard uncertainty of the ring's lambda by reading and scatter alone [1].
        measured_sd: of the measured lambda by what is not the same each session [1].
        depth_mm: where the ring was read, from the tip [mm].
        expected_mm: where the measured lambda puts it by the same scale [mm]; it may lie off the nose.
        pull_share: of a reading cut at a pull's end the share of its exposure that was pulls; 0 for any other [1].
    """

    session: int
    started: datetime
    bike: str
    cylinder: int
    plug: str
    plug_type: str | None
    measured: float
    ring: float
    low: float
    high: float
    scale: str
    scale_pairs: int
    ring_sd: float
    measured_sd: float
    depth_mm: float
    expected_mm: float
    pull_share: float = 0.0

    @property
    def difference(self) -> float:
        """Ring minus measured [1]; negative is the ring richer."""
        return self.ring - self.measured

    @property
    def average(self) -> float:
        """Half way between the two methods [1]."""
        return (self.ring + self.measured) / 2.0


@dataclass(frozen=True)
class Absolute:
    """The bias by a scale that did not come from this sensor, with the errors that all sessions share.

    Attributes:
        bike: whose.
        plug_type: the tuner's name of the type.
        nose_mm: length of the nose [mm].
        build: number of the engine build.
        scale: ``stated`` or ``guess``.
        pairs: how many.
        sessions: of how many sessions.
        bias: the difference with its verdict; the errors shared by all sessions are in its budget in full.
    """

    bike: str
    plug_type: str | None
    nose_mm: float
    build: int | None
    scale: str
    pairs: int
    sessions: int
    bias: Difference


def seen_only(pairs: Iterable[SeasonPair]) -> tuple[list[SeasonPair], list[LeftOut]]:
    """Part the pairs that have a difference from those that say only leaner or richer than something."""
    seen: list[SeasonPair] = []
    left: list[LeftOut] = []
    for pair in pairs:
        one = pair.kept.pair
        if one.one_sided is None:
            seen.append(pair)
        else:
            left.append(LeftOut(one.session, one.cylinder, pair.kept.plug, CENSORED[one.one_sided]))
    return seen, left


def points_of(pairs: Sequence[SeasonPair], gathered: Gathered) -> tuple[list[Point], list[LeftOut]]:
    """Judge each pair by a scale that has not seen its session.

    Args:
        pairs: those looked at, with a ring seen.
        gathered: all there are; a scale stands on those of its plug type, nose and build that were left out by a filter
            too, and on the one-sided ones.

    Returns:
        The points, and the pairs that too few others make a scale for. Where that is all of them, they are judged
        by the scale from elsewhere instead, the statement or the guess.
    """
    scales: dict[tuple[object, ...], FittedScale | None] = {}
    points, left = [], []
    for pair in pairs:
        kept = pair.kept
        key = (pair.about.bike, kept.plug_type, kept.nose_mm, kept.build, kept.pair.session)
        if key not in scales:
            scales[key] = _fitted(pair, gathered)
        scale = scales[key]
        if scale is None:
            left.append(LeftOut(kept.pair.session, kept.pair.cylinder, kept.plug, _FEW))
        else:
            points.append(_point(pair, scale))
    if not points:
        return [_point(pair, _elsewhere(pair, gathered)) for pair in pairs], []
    return points, left


_FEW = (
    f"the other sessions have under {ENOUGH_PAIRS} pairs of this plug type, nose length and engine build, too few to"
    " make a scale that has not seen this one"
)


def absolutes(pairs: Sequence[SeasonPair], gathered: Gathered, margin: float) -> tuple[Absolute, ...]:
    """Return the bias by the scale from elsewhere, for each bike, plug type, nose length and engine build."""
    alike: dict[tuple[object, ...], list[SeasonPair]] = {}
    for pair in pairs:
        kept = pair.kept
        alike.setdefault((pair.about.bike, kept.plug_type, kept.nose_mm, kept.build), []).append(pair)
    return tuple(_absolute(group, gathered, margin) for group in alike.values())


def _absolute(pairs: Sequence[SeasonPair], gathered: Gathered, margin: float) -> Absolute:
    first, scale = pairs[0], _elsewhere(pairs[0], gathered)
    judged = [scale.lambda_at(one.depth_mm, one.depth_sd_mm) for one in (pair.kept.pair for pair in pairs)]
    differences = np.array(
        [mean - pair.kept.pair.lambda_ for (mean, _), pair in zip(judged, pairs, strict=True)]
    )
    sessions = [pair.kept.pair.session for pair in pairs]
    spread = bland_altman(differences, sessions)
    if spread.bias_se is None or spread.df is None:
        alone = math.hypot(*(_own_sds(pair, SLOPE_MM, scale)[i] for pair in pairs[:1] for i in (0, 1)))
        sampling = Component("the reading, the scatter and the sampling", alone, "common practice")
    else:
        sampling = Component("how the sessions scatter", max(spread.bias_se, 1e-6), "measured", df=spread.df)
    # what the place and the slope of the scale get wrong is wrong in every session
    depth = float(np.mean([pair.kept.pair.depth_mm for pair in pairs]))
    shared = [
        part for part in scale.lambda_at(depth)[1].components if part.sd > 0.0 and part.name != SCATTERS
    ]
    sensor = Component(
        "the sensor's own accuracy and drift",
        float(np.mean([p.sensor_sd for p in pairs])),
        "as stated or assumed",
    )
    bias = judge_difference(float(differences.mean()), Budget((sampling, *shared, sensor)), margin)
    return Absolute(
        first.about.bike,
        first.kept.plug_type,
        first.kept.nose_mm,
        first.kept.build,
        scale.name,
        len(pairs),
        len(set(sessions)),
        bias,
    )


def _elsewhere(pair: SeasonPair, gathered: Gathered) -> LinearScale:
    kept = pair.kept
    statements = gathered.statements.get(pair.about.bike, ())
    return scale_for(statements, plug_type=kept.plug_type, nose_mm=kept.nose_mm, build=kept.build)


def _fitted(pair: SeasonPair, gathered: Gathered) -> FittedScale | None:
    """Return a scale of the pair's plug on all other sessions; None where these are too few."""
    found = _history_of(pair, gathered, without=pair.kept.pair.session)
    return found.scale if found is not None and found.enough else None


LIKELY_OFF = 0.5
"""From this probability on sessions are told apart as off by themselves [1]; assumed."""


def likely_off(pairs: Sequence[SeasonPair], gathered: Gathered) -> tuple[Stretch, ...]:
    """Return which sessions are likely off by themselves, for each bike, plug type, nose length and engine build.

    Args:
        pairs: those looked at.
        gathered: all there are.
    """
    found: dict[tuple[object, ...], Stretch | None] = {}
    for pair in pairs:
        kept = pair.kept
        key = (pair.about.bike, kept.plug_type, kept.nose_mm, kept.build)
        if key not in found:
            found[key] = _off_of(pair, gathered)
    return tuple(one for one in found.values() if one is not None)


def _off_of(pair: SeasonPair, gathered: Gathered) -> Stretch | None:
    """Return what is likely off of the pairs of one plug; None where nothing is."""
    found = _history_of(pair, gathered)
    if found is None or found.off < LIKELY_OFF:
        return None
    return next((one for one in found.stretches if one.sessions), None)


def _history_of(pair: SeasonPair, gathered: Gathered, without: int | None = None) -> History | None:
    kept, bike = pair.kept, pair.about.bike
    return bike_history(
        gathered.of_bike(bike),
        gathered.statements.get(bike, ()),
        plug_type=kept.plug_type,
        nose_mm=kept.nose_mm,
        build=kept.build,
        strokes=pair.about.strokes,
        without=without,
    )


def _point(pair: SeasonPair, scale: FittedScale | LinearScale) -> Point:
    kept, one = pair.kept, pair.kept.pair
    ring, budget = scale.lambda_at(one.depth_mm, one.depth_sd_mm, one.pull_share)
    fitted = isinstance(scale, FittedScale)
    slope = scale.slope_mm if isinstance(scale, FittedScale) else SLOPE_MM
    ring_sd, measured_sd = _own_sds(pair, slope, scale)
    # against the bike's own history the sensor's constant error cancels
    sensor_sd = measured_sd if fitted else math.hypot(one.lambda_sd, pair.sensor_sd)
    doubt = Budget((*budget.components, Component("the measured lambda", sensor_sd, "measured")))
    low, high = doubt.interval(0.95)
    return Point(
        session=one.session,
        started=pair.about.started,
        bike=pair.about.bike,
        cylinder=one.cylinder,
        plug=kept.plug,
        plug_type=kept.plug_type,
        measured=one.lambda_,
        ring=ring,
        low=ring - one.lambda_ + low,
        high=ring - one.lambda_ + high,
        scale=scale.name,
        scale_pairs=scale.fit.pairs if isinstance(scale, FittedScale) else 0,
        ring_sd=ring_sd,
        measured_sd=measured_sd,
        depth_mm=one.depth_mm,
        expected_mm=scale.depth_at(one.lambda_),
        pull_share=one.pull_share,
    )


def _own_sds(pair: SeasonPair, slope_mm: float, scale: FittedScale | LinearScale) -> tuple[float, float]:
    """Return what is unsure of a pair's ring and of its measured lambda that other sessions do not share [1]."""
    one: RingPair = pair.kept.pair
    scatter = scale.scatter_of(one.pull_share)
    return math.hypot(one.depth_sd_mm / slope_mm, scatter), math.hypot(one.lambda_sd, pair.changing_sd)
