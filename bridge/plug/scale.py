"""The ring scale: what lambda a ring depth stands for.

Carbon settles on the nose where it is laid down faster than it burns off. The tip is hot and the seat is
cool, so a richer mixture, which lays down more, puts its ring nearer the tip, and a leaner one nearer the
seat: depth grows with lambda. Depth is therefore modelled on lambda, as a straight line, and then inverted::

    depth = place + slope * (lambda - lambda at the place)

A scale holds for one plug type and nose length in one engine build; no ratio carries it over from one nose
length to another. None of it has been validated on an engine: the model is a starting point that says how
little it knows.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal, Protocol

from bridge.budget import Budget, Component
from bridge.channels.sensor_state import SENSOR_SD
from bridge.errors import BadValue
from bridge.model import Reading, ScaleStatement
from bridge.model.plug import RING_SD_MM
from bridge.plug.ring_fit import PULL_SCATTER, OneSided, Prior

ScaleName = Literal["guess", "stated", "gas", "pairs"]

# Assumed, no source: where the ring of a right mixture sits on a nose nobody has told us about.
GUESS_SHARE = 0.5
"""Ring depth over nose length."""
GUESS_LAMBDA = 0.88
"""The lambda that this depth stands for [1]."""
GUESS_SD = 0.05
"""Standard uncertainty of that lambda [1]."""
# Assumed, no source: how far the ring moves. Engines are believed to lie between 12 and 60 mm.
SLOPE_MM = 50.0
"""Depth for each 1.00 of lambda [mm]."""
SLOPE_RELATIVE_SD = 0.4
"""Relative standard uncertainty of the slope [1]."""
# Common practice, no source: load, timing and heat move the ring as a jet does.
SCATTER = 0.01
"""Standard uncertainty of a ring's lambda from session to session, where no pairs tell it [1]."""
SCATTERS = "the ring's scatter from session to session"
"""What the doubt is called."""
FIT_SCATTER = 0.006
"""The same before a fit that will learn it: scale of a half-normal, a tenth of which lies over 0.01 [1]."""

# The slope is taken as lognormal about its median, for it cannot be zero or less: a ring deeper than a place is
# surely leaner, by an amount that nobody knows. The root mean square of (slope / median - 1) is then exact
# (moments of the lognormal).
_SLOPE_LOG_SD = math.sqrt(math.log1p(SLOPE_RELATIVE_SD**2))
_SLOPE_SPREAD = math.sqrt(
    (1.0 + SLOPE_RELATIVE_SD**2) ** 2 - 2.0 * math.sqrt(1.0 + SLOPE_RELATIVE_SD**2) + 1.0
)


class RingScale(Protocol):
    """What lambda a depth stands for, with its doubt."""

    @property
    def name(self) -> ScaleName:
        """Where the scale comes from."""

    @property
    def assumptions(self) -> tuple[str, ...]:
        """What it rests on, one sentence each, with its status."""

    def lambda_at(
        self, depth_mm: float, depth_sd_mm: float = 0.0, pull_share: float = 0.0
    ) -> tuple[float, Budget]:
        """Return the lambda of a ring at a depth, and the doubts about it [1]."""

    def scatter_of(self, pull_share: float) -> float:
        """Return how far the lambda of a reading scatters from session to session [1]."""

    def depth_at(self, lambda_: float) -> float:
        """Return where a ring of this lambda should sit, from the tip [mm]; it may lie off the nose."""


@dataclass(frozen=True)
class LinearScale:
    """A straight line through one known place.

    Attributes:
        name: ``guess`` or ``stated``.
        place_mm: a depth from the tip [mm].
        lambda_: what it stands for [1].
        place_sd_mm: standard uncertainty of the depth [mm].
        lambda_sd: standard uncertainty of the lambda [1].
        assumptions: what it rests on.
    """

    name: ScaleName
    place_mm: float
    lambda_: float
    place_sd_mm: float
    lambda_sd: float
    assumptions: tuple[str, ...]

    def scatter_of(self, pull_share: float) -> float:
        """Return how far the lambda of a reading scatters from session to session [1].

        Args:
            pull_share: as in ``bridge.plug.ring_fit.RingPair`` [1].
        """
        return SCATTER * math.sqrt(1.0 - pull_share * (1.0 - PULL_SCATTER**2))

    def lambda_at(
        self, depth_mm: float, depth_sd_mm: float = 0.0, pull_share: float = 0.0
    ) -> tuple[float, Budget]:
        """Return the lambda of a ring at a depth, and the doubts about it.

        Args:
            depth_mm: from the tip [mm].
            depth_sd_mm: its standard uncertainty [mm].
            pull_share: as in ``scatter_of`` [1].

        Returns:
            lambda [1] by the slope's median, and its budget: how far such a figure lies from the true one,
            over slopes, places and readings as unsure as they are said to be. Away from the known place the
            doubt grows as the slope's own, which divides all depths.
        """
        away = (depth_mm - self.place_mm) / SLOPE_MM
        status = "stated" if self.name == "stated" else "assumed"
        place = "the place of the ring scale"
        return self.lambda_ + away, Budget(
            (
                Component(
                    "the reading of the ring's depth",
                    depth_sd_mm / SLOPE_MM,
                    "stated or common practice",
                    scaled=True,
                ),
                Component(place, self.place_sd_mm / SLOPE_MM, status, scaled=True),
                Component(f"the lambda at {place}", self.lambda_sd, status),
                Component(
                    "the slope of the ring scale",
                    abs(away) * _SLOPE_SPREAD,
                    "assumed",
                    log_sd=_SLOPE_LOG_SD,
                    lever=away,
                ),
                Component(
                    SCATTERS,
                    self.scatter_of(pull_share),
                    "assumed" if pull_share > 0.0 else "common practice",
                ),
            ),
        )

    def depth_at(self, lambda_: float) -> float:
        """Return where a ring of this lambda should sit, from the tip [mm]; it may lie off the nose."""
        return self.place_mm + SLOPE_MM * (lambda_ - self.lambda_)

    def to_json(self) -> dict[str, Any]:
        """Return the scale as the command line gives it."""
        return {
            "scale": self.name,
            "place_mm": self.place_mm,
            "place_sd_mm": self.place_sd_mm,
            "lambda": self.lambda_,
            "lambda_sd": self.lambda_sd,
            "slope_mm_per_lambda": SLOPE_MM,
            "slope_relative_sd": SLOPE_RELATIVE_SD,
            "scatter_lambda": SCATTER,
            "pull_scatter_lambda": self.scatter_of(1.0),
            "assumptions": list(self.assumptions),
        }

    def in_words(self) -> list[str]:
        """Return the scale for a person, a paragraph each."""
        words = {"guess": "the starting guess", "stated": "your own statement"}.get(self.name, self.name)
        mean, budget = self.lambda_at(self.place_mm, RING_SD_MM["cut"])
        low, high = budget.interval(0.95)
        place = (
            f"By {words}, a ring read at {self.place_mm:.1f} mm through a cut shell stands for lambda"
            f" {mean:.3f} ({mean + low:.3f} to {mean + high:.3f}, 95 % interval); nearer the tip is richer."
        )
        return [place, *self.assumptions]


_SLOPE_SENTENCE = (
    f"The slope of {SLOPE_MM:.0f} mm for each 1.00 lambda, with a standard uncertainty of"
    f" {SLOPE_RELATIVE_SD:.0%}, is assumed and not validated; that deeper is leaner is taken as sure."
)
_SCATTER_SENTENCE = (
    f"A scatter of {SCATTER:.2f} lambda from session to session is common practice, no source."
)


def guess(nose_mm: float) -> LinearScale:
    """Return the starting guess, wide on purpose.

    Args:
        nose_mm: length of the insulator nose, tip to seat [mm].
    """
    place = (
        f"That a ring at half of the nose stands for lambda {GUESS_LAMBDA}, within {GUESS_SD} as a standard"
        " uncertainty, is assumed: a starting guess."
    )
    return LinearScale(
        name="guess",
        place_mm=GUESS_SHARE * nose_mm,
        lambda_=GUESS_LAMBDA,
        place_sd_mm=0.0,
        lambda_sd=GUESS_SD,
        assumptions=(place, _SLOPE_SENTENCE, _SCATTER_SENTENCE),
    )


def stated(statement: ScaleStatement) -> LinearScale:
    """Return the scale of the tuner's own word; the slope is still the guess."""
    place = (
        f"That a ring at {statement.depth_mm:g} mm, within {statement.sd_mm:g} mm as a standard uncertainty,"
        f" stands for lambda {statement.lambda_:g} is the tuner's own statement."
    )
    return LinearScale(
        name="stated",
        place_mm=statement.depth_mm,
        lambda_=statement.lambda_,
        place_sd_mm=statement.sd_mm,
        lambda_sd=0.0,
        assumptions=(place, _SLOPE_SENTENCE, _SCATTER_SENTENCE),
    )


NOSE_MEND = "give nose_mm under [plug] in the bike's file, or the nose length with the plug when it is fitted"


def scale_for(
    statements: Sequence[ScaleStatement],
    *,
    plug_type: str | None,
    nose_mm: float | None,
    build: int | None,
) -> LinearScale:
    """Choose the scale for one plug in one engine build.

    Args:
        statements: what the tuner stated for this bike; only those for the same type, nose length and
            build count, and of these the newest.
        plug_type: the tuner's name of the plug type.
        nose_mm: its nose length [mm].
        build: number of the engine build.

    Returns:
        The stated scale, else the guess.

    Raises:
        BadValue: nothing was stated, and without a nose length there is no guess either.
    """
    found = newest_statement(statements, plug_type=plug_type, nose_mm=nose_mm, build=build)
    if found is not None:
        return stated(found)
    if nose_mm is None:
        raise BadValue(f"a ring depth stands for nothing without the length of the nose; {NOSE_MEND}")
    return guess(nose_mm)


def fit_prior(nose_mm: float, statement: ScaleStatement | None = None) -> Prior:
    """Return what is held of a scale before the bike's own pairs: the guess, or the tuner's statement.

    The scale that pairs make stands on the sensor's own lambda, so the sensor's accuracy is in the doubt of the
    place.

    Args:
        nose_mm: length of the insulator nose [mm].
        statement: the tuner's own word, if there is one for this plug and build.
    """
    if statement is None:
        place_mm, place_sd_mm, lambda_, lambda_sd = GUESS_SHARE * nose_mm, 0.0, GUESS_LAMBDA, GUESS_SD
    else:
        place_mm, place_sd_mm, lambda_, lambda_sd = (
            statement.depth_mm,
            statement.sd_mm,
            statement.lambda_,
            0.0,
        )
    return Prior(
        place_mm,
        place_sd_mm,
        lambda_,
        math.hypot(lambda_sd, SENSOR_SD),
        SLOPE_MM,
        _SLOPE_LOG_SD,
        FIT_SCATTER,
    )


def newest_statement(
    statements: Sequence[ScaleStatement], *, plug_type: str | None, nose_mm: float | None, build: int | None
) -> ScaleStatement | None:
    """Return the newest statement for one plug type and nose length in one engine build, if there is one."""
    fitting = [
        statement
        for statement in statements
        if statement.plug_type == plug_type
        and statement.build == build
        and same_length(statement.nose_mm, nose_mm)
    ]
    return max(fitting, key=lambda statement: statement.written, default=None)


def same_length(one: float | None, other: float | None) -> bool:
    """Return whether two nose lengths [mm] are the same, as far as anybody measures them."""
    if one is None or other is None:
        return one is other
    return math.isclose(one, other, abs_tol=0.05)


@dataclass(frozen=True)
class RingLambda:
    """What a reading stands for.

    Attributes:
        mean: lambda of the ring [1]; None where the reading says only "leaner than" or "richer than".
        low: lower end of the 95 % interval [1]; None where it has none.
        high: upper end of it [1]; None where it has none.
        one_sided: ``leaner`` (no ring: leaner than ``bound``) or ``richer`` (all dark); None for a ring seen.
        bound: the lambda that a one-sided reading is leaner or richer than [1].
        budget: the doubts about ``mean`` or ``bound``.
    """

    mean: float | None
    low: float | None
    high: float | None
    one_sided: OneSided | None
    bound: float | None
    budget: Budget

    @property
    def sd(self) -> float:
        """Combined standard uncertainty of ``mean`` or ``bound`` [1]."""
        return self.budget.sd


def ring_lambda(
    reading: Reading, scale: RingScale, nose_mm: float | None, pull_share: float = 0.0
) -> RingLambda | None:
    """Turn a reading into lambda.

    Args:
        reading: what was seen.
        scale: what depths stand for on this plug in this engine.
        nose_mm: length of the nose [mm]; only "no ring" needs it, since it means deeper than the seat.
        pull_share: of a reading cut at a pull's end the share of its exposure that was pulls [1].

    Returns:
        lambda with its interval. No ring is a fact (leaner than a ring at the seat), all dark another (richer
        than a ring at the tip); their bounds hold with 95 %. None where the ring was not seen, or the nose
        length is missing.
    """
    if reading.ring == "seen" and reading.ring_mm is not None:
        mean, budget = scale.lambda_at(reading.ring_mm, reading.depth_sd_mm, pull_share)
        low, high = budget.interval(0.95)
        return RingLambda(mean, mean + low, mean + high, None, None, budget)
    if reading.ring == "none" and nose_mm is not None:
        bound, budget = scale.lambda_at(nose_mm, 0.0, pull_share)
        return RingLambda(None, bound + budget.quantile(0.05), None, "leaner", bound, budget)
    if reading.ring == "all-dark":
        bound, budget = scale.lambda_at(0.0, 0.0, pull_share)
        return RingLambda(None, None, bound + budget.quantile(0.95), "richer", bound, budget)
    return None
