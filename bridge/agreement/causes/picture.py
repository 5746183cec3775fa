"""What a session shows of one cylinder, as far as any cause predicts something of it."""

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from bridge.agreement.causes.running import Running
from bridge.agreement.causes.usual import usual
from bridge.plug.validity import Validity

if TYPE_CHECKING:
    from bridge.agreement.history import Past
    from bridge.model import PlugLife

Array = NDArray[np.float64]

# Scatter of a mean from session to session that is tried, and what counts as a step: common practice, no source.
_LAMBDA_NOISES, _LAMBDA_STEP = (0.004, 0.008, 0.016, 0.03), 0.08
_UNTOLD_NOISES = (0.012, 0.02, 0.03)
_EGT_NOISES, _EGT_STEP = (3.0, 6.0, 12.0, 25.0), 40.0
_HEAD_NOISES, _HEAD_STEP = (2.0, 4.0, 8.0, 16.0), 20.0
_JET_EXPONENTS = (0.7, 1.0, 1.4, 2.0)
"""Lambda goes with the jet's number to minus this: 1 by flow, 2 by bore (orifice law), others for odd numbering."""
EGT_SLOPES = (0.0, 150.0, 300.0, 450.0, 600.0, 800.0)
"""Kelvin for each 1.00 of lambda on the rich side; common practice, no source."""
SOME_MISSED, MUCH_MISSED = 0.01, 0.05
"""Shares of full throttle that may be misfire from which on it is told [1]; common practice, no source."""
_FRESH_DAYS = 60.0
_FEW = 3


@dataclass(frozen=True)
class Value:
    """A figure with its standard uncertainty."""

    value: float
    sd: float


@dataclass(frozen=True)
class Exhaust:
    """Today's exhaust-gas temperature, and what history says it should be at a lambda, one row for each slope.

    Attributes:
        today_c: at full throttle [Cel].
        at: the lambda that ``means`` hold for [1].
        weights: how likely each slope of ``EGT_SLOPES`` is, adding up to 1.
        means: for each of them [Cel].
        sds: likewise [K].
    """

    today_c: float
    at: float
    weights: Array
    means: Array
    sds: Array

    def expected(self, lambda_: float) -> Value:
        """Return what it should be at a lambda, with its doubt [Cel]."""
        there = self.means + np.array(EGT_SLOPES) * (lambda_ - self.at)
        mean = float(self.weights @ there)
        return Value(mean, math.sqrt(float(self.weights @ (self.sds**2 + (there - mean) ** 2))))


@dataclass(frozen=True)
class Picture:
    """What is seen of one cylinder.

    Attributes:
        strokes: 2 or 4.
        cylinders: of the bike.
        averaged: one sensor stands for several of them.
        measured: lambda by the sensor [1]; None without.
        difference: ring less measured [1]; None without.
        own_sd: of reading, scatter and sampling, which no other cylinder shares [1].
        bound: ``leaner`` or ``richer`` where the difference is only a bound.
        others: the same of the other cylinders in this session.
        before, after: what this cylinder's rings differed by in earlier and later sessions, in order of time.
        idle, part, full: what the sensor reads there, less what is usual (full: less what the main jet makes) [1].
        beside: what this sensor reads leaner at full throttle than the other cylinders' do, less the usual [1].
        exhaust: its temperature, and what that should be.
        head: temperature of coolant or head less the usual [K].
        no_ride: a plug shows what stops, or the mixture at full throttle may be lean: nobody should ride to find out.
        facts: level of each of ``table.BASE`` that is known.
        told: figures and words behind a fact, for a sentence.
    """

    strokes: int
    cylinders: int
    averaged: bool
    measured: float | None = None
    difference: Value | None = None
    own_sd: float = 0.0
    bound: str | None = None
    others: tuple[Value, ...] = ()
    before: tuple[Value, ...] = ()
    after: tuple[Value, ...] = ()
    idle: Value | None = None
    part: Value | None = None
    full: Value | None = None
    beside: Value | None = None
    exhaust: Exhaust | None = None
    head: Value | None = None
    no_ride: bool = False
    facts: Mapping[str, str] = field(default_factory=dict)
    told: Mapping[str, str] = field(default_factory=dict)


def against_usual(now: Running, past: Sequence[Running]) -> dict[str, object]:
    """Return what today's running shows against earlier ones, by the names of ``Picture``.

    Args:
        now: today's.
        past: the other sessions', in order of time.
    """
    return {
        "idle": _shift(now, past, "lambda_idle", _LAMBDA_NOISES, _LAMBDA_STEP),
        "part": _shift(now, past, "lambda_part", _LAMBDA_NOISES, _LAMBDA_STEP),
        "full": _by_jet(now, past),
        "exhaust": _exhaust(now, past),
        "head": _shift(now, past, "head_full_c", _HEAD_NOISES, _HEAD_STEP),
    }


def beside(
    now: Running, others: Sequence[Running], past: Sequence[tuple[Running, Sequence[Running]]]
) -> Value | None:
    """Return what a sensor reads leaner at full throttle than those of the other cylinders, less the usual [1].

    Args:
        now: today's of this cylinder.
        others: today's of the others.
        past: the same of the other sessions, in order of time.
    """
    today = _leaner(now, others)
    found = usual(
        [value for own, rest in past if (value := _leaner(own, rest)) is not None],
        _LAMBDA_NOISES,
        _LAMBDA_STEP,
    )
    return None if today is None or found is None else Value(today - found.mean, found.sd)


def _leaner(own: Running, others: Sequence[Running]) -> float | None:
    rest = [one.lambda_full for one in others if one.lambda_full is not None]
    # the middle one, so that another cylinder's own trouble does not count for all
    return None if own.lambda_full is None or not rest else own.lambda_full - float(np.median(rest))


def _shift(
    now: Running, past: Sequence[Running], name: str, noises: Sequence[float], step: float
) -> Value | None:
    today = getattr(now, name)
    found = usual([value for one in past if (value := getattr(one, name)) is not None], noises, step)
    return None if today is None or found is None else Value(today - found.mean, found.sd)


def _by_jet(now: Running, past: Sequence[Running]) -> Value | None:
    """Return lambda at full throttle less what its main jet made before, the air of the day taken out."""
    if now.main_jet is None:
        # nobody told the jet: against all that it was, which scatters as the tuner changed it
        return _shift(now, past, "lambda_full", _UNTOLD_NOISES, _LAMBDA_STEP)
    if now.lambda_full is None:
        return None
    rows = [(one.lambda_full, one.main_jet, one.air_factor) for one in past]
    known = [(lam, jet, air) for lam, jet, air in rows if lam is not None and jet is not None]
    with_air = now.air_factor is not None and all(air is not None for _, _, air in known)
    if len(known) < _FEW:
        return None
    found = []
    for exponent in _JET_EXPONENTS:
        lambdas = [
            lam
            * (jet / now.main_jet) ** exponent
            * (now.air_factor / air if with_air and now.air_factor and air else 1)
            for lam, jet, air in known
        ]
        one = usual(lambdas, _LAMBDA_NOISES, _LAMBDA_STEP)
        assert one is not None, "at least three"
        found.append(one)
    weights = _weights([one.log_evidence for one in found])
    means, sds = np.array([one.mean for one in found]), np.array([one.sd for one in found])
    mean = float(weights @ means)
    return Value(now.lambda_full - mean, math.sqrt(float(weights @ (sds**2 + (means - mean) ** 2))))


def _exhaust(now: Running, past: Sequence[Running]) -> Exhaust | None:
    if now.egt_full_c is None or now.lambda_full is None:
        return None
    known = [
        (one.egt_full_c, one.lambda_full)
        for one in past
        if one.egt_full_c is not None and one.lambda_full is not None
    ]
    if len(known) < 2:
        return None
    at = float(np.mean([lam for _, lam in known]))
    found = []
    for slope in EGT_SLOPES:
        one = usual([egt - slope * (lam - at) for egt, lam in known], _EGT_NOISES, _EGT_STEP)
        assert one is not None, "at least two"
        found.append(one)
    return Exhaust(
        now.egt_full_c,
        at,
        _weights([one.log_evidence for one in found]),
        np.array([one.mean for one in found]),
        np.array([one.sd for one in found]),
    )


def _weights(logs: Sequence[float]) -> Array:
    array = np.array(logs)
    weights = np.exp(array - array.max())
    found: Array = weights / weights.sum()
    return found


def past_running(past: Sequence["Past"]) -> list[Running]:
    """Return the running of the sessions that are not off themselves; of all where too few are left."""
    known = [(one.kept.running, one.off) for one in past if one.kept.running is not None]
    sound = [running for running, off in known if off < 0.5]
    return sound if len(sound) >= 2 else [running for running, _ in known]


def facts_of(
    life: "PlugLife | None",
    validity: Validity,
    now: Running,
    past: Sequence[Running],
    checked_days: float | None,
) -> tuple[dict[str, str], dict[str, str]]:
    """Return what is told and seen beside the figures, as levels of ``table.BASE``, and the words behind each.

    Args:
        life: the plug; None where none is known.
        validity: the judgement on its reading.
        now: today's running.
        past: the other sessions'.
        checked_days: days since the sensor was checked [d]; None where no check is on record.
    """
    facts: dict[str, str] = {}
    told: dict[str, str] = {}
    if life is not None:
        facts["plug when fitted"] = life.fitting.state
        facts["sessions on the plug"] = "one" if len(life.runs) == 1 else "several"
        if len(life.runs) > 1:
            told["sessions on the plug"] = f"{len(life.runs)} sessions"
        steps = life.heat_range
        facts["heat range"] = "usual" if steps == 0 else "colder" if steps > 0 else "hotter"
        if steps != 0:
            told["heat range"] = f"{abs(steps)} step{'' if abs(steps) == 1 else 's'} from the usual"
    # no ring at another heat range is no word on the seconds
    silent = {"no ring"} if life is not None and life.heat_range != 0 else set()
    for fact, rules in (
        ("gap before the cut", ("gap", "clean cut")),
        ("full throttle on the plug", ("full throttle", "last minute", "no ring")),
    ):
        grades = [
            (one.result, one.figure) for one in validity.rules if one.rule in rules and one.rule not in silent
        ]
        known = [(_ORDER.index(grade), figure) for grade, figure in grades if grade in _ORDER]
        if known:
            worst, figure = max(known)
            facts[fact], told[fact] = _ORDER[worst], figure
    if now.missed_share is not None:
        share = now.missed_share
        facts["misfire at full throttle"] = (
            "much" if share > MUCH_MISSED else "some" if share > SOME_MISSED else "none"
        )
        told["misfire at full throttle"] = f"{share:.0%} of full throttle"
    before = [one.fuel for one in past if one.fuel is not None]
    if now.fuel is not None and before:
        facts["fuel told"] = "as before" if now.fuel == before[-1] else "another"
        told["fuel told"] = f"{now.fuel}, before that {before[-1]}"
    if checked_days is not None:
        facts["sensor's check"] = "fresh" if checked_days <= _FRESH_DAYS else "old"
        told["sensor's check"] = f"{checked_days:.0f} days ago"
    facts |= _seen(life)
    return facts, told


_ORDER = ("pass", "doubtful", "fail")
_OIL = re.compile(r"\boil(y|ed)?\b")
_NO_OIL = re.compile(r"\b(no|not|without|free of)\s+(any\s+|a\s+)?(trace\s+of\s+)?oil(y|ed)?\b")


def _seen(life: "PlugLife | None") -> dict[str, str]:
    """Return what a person saw on the plug; what nobody looked at is left out."""
    reading = life.reading if life else None
    if reading is None:
        return {}
    found: dict[str, str] = {"view": reading.view}
    if reading.wet is not None:
        found["wet"] = "yes" if reading.wet else "no"
    if reading.specks != "not-looked":
        found["soot specks"] = "yes" if reading.specks == "soot" else "no"
    if reading.glaze is not None or reading.blisters is not None:
        found["glaze or blisters"] = "yes" if reading.glaze or reading.blisters else "no"
    words = " ".join(text for text in (reading.base_ring, reading.nose_colour, reading.note) if text).lower()
    if words:
        found["oil"] = "yes" if _OIL.search(_NO_OIL.sub(" ", words)) else "no"
    return found
