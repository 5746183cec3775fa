"""A bike's history as a ring scale: fitted on its other sessions, those that are off themselves told apart.

A fault that stayed for some sessions is in their pairs too, and a scale fitted on all alike would lie half way between
sound and faulty ones. So every stretch of sessions is tried as one that is off, by a shift that nobody knows, in one
cylinder or in all, against none being off, and the likeliest together with a second one, for one outlier hides another.
Each comes out with a probability (Bayes; the shift, the place and the
curvature of the scale are integrated in closed form, its slope and its scatters summed over a grid), and the scale is
the mixture of those that are likely. What stays in doubt widens its interval.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import product

import numpy as np
from numpy.typing import NDArray

from bridge.agreement.kept import ENOUGH_PAIRS, ENOUGH_SESSIONS, Kept
from bridge.plug.fitted_scale import FittedScale, fitted_scale
from bridge.plug.ring_fit import (
    PULL_SCATTER,
    PULL_SCATTERS,
    PULL_WEIGHTS,
    Fit,
    Prior,
    RingPair,
    scatter_left,
)

Array = NDArray[np.float64]

# All assumed, no source.
ANY_OFF = 0.3
"""How likely it is, before any pair, that some of a bike's sessions are off [1] ..."""
SHIFT = 0.07
"""... and by how much, as a standard deviation [1]."""
STAYS, ONCE, MENDED, BEGINS = 0.48, 0.41, 0.10, 0.01
"""What an off stretch is: it stays to the end, is one session, is longer and ends, or is from the first session on; the
last is rare because a bike departs from what it was before, by the meaning of the word."""
SENSORS_APART = 0.01
"""How far one cylinder's sensor stands from the other's, all season alike, as a standard deviation [1]."""
WORTH = 0.02
"""A stretch less likely than this is left out of the mixture [1]."""
_MOST = 5
_FIRSTS = 8
"""So many of the likeliest stretches are tried with a second one."""
_AT_MOST = 1.0 / 3.0
"""Two stretches together hold no more of the pairs than this [1]: most of a history is taken to be sound."""
_SLOPES = (14.0, 20.0, 28.0, 40.0, 50.0, 62.0, 80.0)
_SCATTERS = (0.0, 0.004, 0.008, 0.014)
_CURVE = 1.5
_PLACE = 0.1


@dataclass(frozen=True)
class Stretch:
    """Sessions of a history taken to be off.

    Attributes:
        sessions: their numbers; none where the whole history is taken to be sound.
        cylinder: whose; None for all.
        weight: how likely [1].
        also: a second stretch that is off at the same time, by another shift; its own weight says nothing.
    """

    sessions: tuple[int, ...]
    cylinder: int | None
    weight: float
    also: "Stretch | None" = None

    def holds(self, session: int, cylinder: int) -> bool:
        """Return whether a pair is one of those that are off."""
        own = session in self.sessions and self.cylinder in {None, cylinder}
        return own or (self.also is not None and self.also.holds(session, cylinder))

    def in_words(self) -> str:
        """Return which sessions, and of which cylinder."""
        sessions = f"session{'' if len(self.sessions) == 1 else 's'} {', '.join(map(str, self.sessions))}"
        whose = "" if self.cylinder is None else f" in cylinder {self.cylinder}"
        return f"{sessions}{whose}" + (f" and {self.also.in_words()}" if self.also else "")


@dataclass(frozen=True)
class Past:
    """An earlier or later pair of the bike, held against the scale of its history.

    Attributes:
        kept: the pair.
        difference: ring less measured by that scale [1]; None for a one-sided reading.
        sd: of reading and scatter [1].
        off: how likely it is off itself [1].
    """

    kept: Kept
    difference: float | None
    sd: float
    off: float


@dataclass(frozen=True)
class History:
    """What a session is held against.

    Attributes:
        scale: fitted on the other sessions.
        past: their pairs, in order of time, each with what it differs by.
        stretches: what may be off among them, the likeliest first.
        pairs: how many pairs.
        sessions: of how many sessions.
        apart_sd: how far one cylinder's sensor stands apart, as a standard deviation before any pair [1].
    """

    scale: FittedScale
    past: tuple[Past, ...]
    stretches: tuple[Stretch, ...]
    pairs: int
    sessions: int
    apart_sd: float

    @property
    def enough(self) -> bool:
        """Whether its pairs are enough to judge a reading by."""
        return self.pairs >= ENOUGH_PAIRS and self.sessions >= ENOUGH_SESSIONS

    @property
    def off(self) -> float:
        """How likely it is that some of them are off [1]."""
        return sum(one.weight for one in self.stretches if one.sessions)

    def apart(self, cylinder: int) -> tuple[float, float]:
        """Return what a cylinder's sensor stands apart from the scale, and how sure that is [1].

        Args:
            cylinder: whose.
        """
        numbers = {one.kept.pair.cylinder for one in self.past}
        if numbers <= {cylinder}:
            return 0.0, 0.0
        seen = [one for one in self.past if one.difference is not None]
        weights = np.array([(1.0 - one.off) / one.sd**2 for one in seen])
        own = np.array([one.kept.pair.cylinder == cylinder for one in seen])
        differences = np.array([one.difference for one in seen])
        whole, part = float(weights.sum()), float(weights[own].sum())
        prior = self.apart_sd**2 * (1.0 - part / whole) if whole > 0.0 else self.apart_sd**2
        if part <= 0.0 or prior <= 0.0:
            return 0.0, math.sqrt(2.0 * prior)
        mean = float((weights * differences)[own].sum() / part)
        sampling = max(1.0 / part - 1.0 / whole, 1e-9)
        after = 1.0 / (1.0 / prior + 1.0 / sampling)
        return mean * after / sampling, math.sqrt(after)


def history(kept: Sequence[Kept], prior: Prior, nose_mm: float, apart_sd: float = SENSORS_APART) -> History:
    """Make a bike's history.

    Args:
        kept: pairs of the other sessions, of one plug type, nose length and build; at least one.
        prior: what held of the scale before them.
        nose_mm: length of the nose [mm].
        apart_sd: how far one cylinder's sensor stands apart, as a standard deviation before any pair [1].
    """
    return _history(tuple(kept), prior, nose_mm, apart_sd)


@lru_cache(maxsize=512)
def _history(given: tuple[Kept, ...], prior: Prior, nose_mm: float, apart_sd: float) -> History:
    kept = sorted(given, key=_when)
    stretches = _stretches(kept, prior, apart_sd)
    likely = [one for one in stretches if one.weight >= WORTH][:_MOST]
    total = sum(one.weight for one in likely)
    parts = [(one.weight / total, _fitted(kept, one, prior, nose_mm, apart_sd)) for one in likely]
    lines = tuple(
        replace(line, weight=line.weight * weight) for weight, scale in parts for line in scale.fit.lines
    )
    first = max(parts, key=lambda part: part[0])[1]
    # every fit touches its bent axis where its own pairs lie; one axis for all
    scale = (
        first if len(parts) == 1 else replace(first, fit=Fit(lines, first.fit.about_mm, nose_mm, len(kept)))
    )
    past = tuple(_past(one, scale, stretches) for one in kept)
    sessions = len({one.pair.session for one in kept})
    return History(scale, past, tuple(likely), len(kept), sessions, apart_sd)


def _when(one: Kept) -> tuple[float, int, int]:
    at = one.started.timestamp() if one.started is not None else 0.0
    return at, one.pair.session, one.pair.cylinder


def _fitted(kept: Sequence[Kept], off: Stretch, prior: Prior, nose_mm: float, apart_sd: float) -> FittedScale:
    pairs = tuple(one.pair for one in kept if not off.holds(one.pair.session, one.pair.cylinder))
    apart = _apart([pair for pair in pairs if pair.one_sided is None], prior, apart_sd)
    # sensors that stand apart would look like a flatter scale that scatters more
    pairs = tuple(replace(pair, lambda_=pair.lambda_ - apart.get(pair.cylinder, 0.0)) for pair in pairs)
    about = [one.pair.depth_mm for one in kept if one.pair.one_sided is None]
    return _fit(pairs, prior, nose_mm, float(np.mean(about)) if about else None)


@lru_cache(maxsize=4096)
def _fit(pairs: tuple[RingPair, ...], prior: Prior, nose_mm: float, about_mm: float | None) -> FittedScale:
    return fitted_scale(pairs, prior, nose_mm, about_mm=about_mm)


def _past(one: Kept, scale: FittedScale, stretches: Sequence[Stretch]) -> Past:
    pair = one.pair
    off = sum(part.weight for part in stretches if part.holds(pair.session, pair.cylinder))
    sd = math.hypot(pair.depth_sd_mm / scale.slope_mm, scale.scatter_of(pair.pull_share), pair.lambda_sd)
    if pair.one_sided is not None:
        return Past(one, None, sd, off)
    return Past(one, scale.lambda_at(pair.depth_mm)[0] - pair.lambda_, sd, off)


def _stretches(kept: Sequence[Kept], prior: Prior, apart_sd: float) -> list[Stretch]:
    """Return every stretch that may be off with its probability, the likeliest first; the sound one among them."""
    found = [Stretch(*row) for row in _tried(kept)]
    seen = [one.pair for one in kept if one.pair.one_sided is None]
    logs = np.log([one.weight for one in found])
    if len(seen) > 1:
        inside = np.array(
            [[one.holds(pair.session, pair.cylinder) for pair in seen] for one in found], dtype=np.float64
        )
        nodes = _grid(seen, prior, apart_sd)
        before, logs = logs, logs + _explains(nodes, inside)
        pairs, more = _second(found, before, logs, inside, nodes)
        found, logs = [*found, *pairs], np.concatenate([logs, more])
    weights = np.exp(logs - logs.max())
    weights /= weights.sum()
    known = [replace(one, weight=float(weight)) for one, weight in zip(found, weights, strict=True)]
    return sorted(known, key=lambda one: -one.weight)


def _second(
    found: Sequence[Stretch], before: Array, after: Array, inside: Array, nodes: Sequence["_Node"]
) -> tuple[list[Stretch], Array]:
    """Return the likeliest stretches each with a second one beside it, and how likely both are together.

    Args:
        found: the stretches (k,).
        before: logarithm of how likely each is before any pair (k,).
        after: and after them (k,).
        inside: 1 where a stretch holds a pair (k, n).
        nodes: of the grid.
    """
    off = np.array([bool(one.sessions) for one in found])
    firsts = [int(i) for i in np.argsort(-after) if off[i]][:_FIRSTS]
    most = _AT_MOST * inside.shape[1]
    both, logs = [], []
    for place, first in enumerate(firsts):
        fits = off & (inside @ inside[first] == 0.0) & (inside.sum(axis=1) + inside[first].sum() <= most)
        fits[firsts[: place + 1]] = False  # each two once
        if not fits.any():
            continue
        likely = _explains(nodes, inside[fits], inside[first])
        both += [replace(found[first], also=found[int(i)]) for i in np.flatnonzero(fits)]
        logs.append(before[first] + before[fits] + likely)
    return both, np.concatenate(logs) if logs else np.zeros(0)


def _tried(kept: Sequence[Kept]) -> list[tuple[tuple[int, ...], int | None, float]]:
    """Return the stretches to try, with how likely each is before any pair."""
    sessions = list(dict.fromkeys(one.pair.session for one in kept))
    cylinders = sorted({one.pair.cylinder for one in kept})
    whose: list[tuple[int | None, float]] = [(None, 1.0)]
    if len(cylinders) > 1:
        whose = [(None, 0.5), *((cylinder, 0.5 / len(cylinders)) for cylinder in cylinders)]
    count = len(sessions)
    found: list[tuple[tuple[int, ...], int | None, float]] = [((), None, 1.0 - ANY_OFF)]
    stretches: list[tuple[tuple[int, ...], float]] = []
    for first in range(count):
        for last in range(first, count):
            if first == 0 and last == count - 1:
                continue
            part = tuple(sessions[first : last + 1])
            weight = ONCE / count if first == last else 0.0
            if last == count - 1:
                weight += STAYS / max(count - 1, 1)
            elif first == 0 and last > first:
                weight += BEGINS / max(count - 2, 1)
            elif last > first:
                weight += MENDED / max((count - 2) * (count - 3) / 2.0, 1.0)
            stretches.append((part, weight))
    for part, weight in stretches:
        found += [(part, cylinder, ANY_OFF * weight * share) for cylinder, share in whose]
    return found


def _explains(nodes: Sequence["_Node"], inside: Array, already: Array | None = None) -> Array:
    """Return the logarithm of how likely the pairs are where each stretch is off.

    Args:
        nodes: of the grid.
        inside: 1 where a stretch holds a pair (k, n).
        already: 1 where a pair is off by another shift (n,).
    """
    logs = []
    for one in nodes:
        shift = one.slope * SHIFT
        cover = one.cover if already is None else one.cover + shift**2 * np.outer(already, already)
        logs.append(one.log_prior + _with_shift(cover, one.rest, inside, shift))
    stacked = np.array(logs)
    top = stacked.max()
    total: Array = top + np.log(np.exp(stacked - top).sum(axis=0))
    return total


def _apart(pairs: Sequence[RingPair], prior: Prior, apart_sd: float) -> dict[int, float]:
    """Return how much leaner each cylinder's sensor reads than the usual one, as the pairs tell it [1]."""
    cylinders = np.array([pair.cylinder for pair in pairs])
    numbers = sorted(set(cylinders.tolist()))
    if len(numbers) < 2:
        return {}
    whose = np.array([cylinders == number for number in numbers], dtype=np.float64)
    none = np.zeros((1, len(pairs)))
    logs, means = [], []
    for one in _grid(pairs, prior, apart_sd):
        logs.append(one.log_prior + float(_with_shift(one.cover, one.rest, none, 0.0)[0]))
        # a sensor that reads lean has its ring nearer the tip than its lambda says
        means.append(-one.slope * apart_sd**2 * (whose @ np.linalg.solve(one.cover, one.rest)))
    weights = np.exp(np.array(logs) - max(logs))
    found = weights @ np.array(means) / weights.sum()
    return dict(zip(numbers, (found - found.mean()).tolist(), strict=True))


@dataclass(frozen=True)
class _Node:
    """One slope and its scatters: how far each depth lies from where it should, and how these hang together [mm]."""

    slope: float
    log_prior: float
    cover: Array
    rest: Array


def _grid(pairs: Sequence[RingPair], prior: Prior, apart_sd: float) -> list[_Node]:
    lambdas = np.array([pair.lambda_ for pair in pairs])
    away = lambdas - lambdas.mean()
    depths = np.array([pair.depth_mm for pair in pairs])
    read = np.array([pair.depth_sd_mm for pair in pairs])
    own = np.array([pair.lambda_sd for pair in pairs])
    cylinders = np.array([pair.cylinder for pair in pairs])
    alike = (cylinders[:, None] == cylinders[None, :]).astype(np.float64)
    several = len(set(cylinders.tolist())) > 1
    common = _PLACE**2 + _CURVE**2 * np.outer(away**2, away**2) + (apart_sd**2 * alike if several else 0.0)
    in_pulls = np.array([pair.pull_share for pair in pairs])
    shares = [(PULL_SCATTER, 1.0)]
    if in_pulls.any():
        shares = list(zip(PULL_SCATTERS.tolist(), PULL_WEIGHTS.tolist(), strict=True))
    nodes = []
    for slope in _SLOPES:
        for scatter, (pull_scatter, weight) in product(_SCATTERS, shares):
            log_prior = math.log(weight) - 0.5 * (
                (math.log(slope / prior.slope_mm) / prior.slope_log_sd) ** 2 + (scatter / prior.scatter) ** 2
            )
            own_scatter = scatter**2 * scatter_left(in_pulls, pull_scatter)
            cover = np.diag(read**2 + slope**2 * (own_scatter + own**2)) + slope**2 * common
            place = prior.place_mm + slope * (lambdas.mean() - prior.lambda_)
            nodes.append(_Node(slope, log_prior, cover, depths - place - slope * away))
    return nodes


def _with_shift(cover: Array, rest: Array, inside: Array, shift: float) -> Array:
    """Return the logarithm of the normal density of ``rest``, with a common shift of what each stretch holds."""
    inverse = np.linalg.inv(cover)
    _, log_det = np.linalg.slogdet(cover)
    weighed = inside @ inverse
    grown = 1.0 + shift**2 * np.einsum("kn,kn->k", weighed, inside)
    moved = (weighed @ rest) ** 2 * shift**2 / grown
    logs: Array = -0.5 * (log_det + np.log(grown) + rest @ inverse @ rest - moved)
    return logs
