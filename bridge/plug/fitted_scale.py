"""The ring scale as the bike's own pairs leave it."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from bridge.budget import Budget, Component
from bridge.plug.ring_fit import Fit, OneSided, Prior, RingPair, bent, fit_pairs
from bridge.plug.scale import SCATTERS

_WORTH = 0.02
"""A bend less likely than this claims nothing [1]."""
UNVALIDATED = (
    "The shape of the curve is that of a fin model that has not been validated on any engine; how much of its"
    " bending is believed is fitted along with the rest."
)


@dataclass(frozen=True)
class FittedScale:
    """A scale fitted on pairs, over the bends of the fin model.

    Attributes:
        fit: what ``fit_pairs`` gave.
        prior: what held before the pairs.
        name: ``pairs`` where the lambdas came from the oxygen sensor, ``gas`` where from gas analyses.
        assumptions: what it rests on, one sentence each.
    """

    fit: Fit
    prior: Prior
    name: Literal["gas", "pairs"]
    assumptions: tuple[str, ...]

    @property
    def slope_mm(self) -> float:
        """Depth for each 1.00 of lambda where the pairs lie [mm]."""
        return math.exp(sum(line.weight * math.log(line.slope_mm) for line in self.fit.lines))

    @property
    def slope_log_sd(self) -> float:
        """Standard deviation of the slope's logarithm [1]."""
        return math.sqrt(sum(line.weight * line.slope_log_sd**2 for line in self.fit.lines))

    @property
    def scatter(self) -> float:
        """How far a ring's lambda scatters from session to session, as far as the pairs tell [1]."""
        return math.sqrt(sum(line.weight * line.scatter**2 for line in self.fit.lines))

    @property
    def pull_scatter(self) -> float:
        """The same of a ring that pulls alone printed [1]."""
        return math.sqrt(sum(line.weight * line.pull_scatter**2 for line in self.fit.lines))

    def scatter_of(self, pull_share: float) -> float:
        """Return how far the lambda of a reading scatters from session to session [1].

        Args:
            pull_share: as in ``RingPair`` [1].
        """
        return math.sqrt((1.0 - pull_share) * self.scatter**2 + pull_share * self.pull_scatter**2)

    def lambda_at(
        self, depth_mm: float, depth_sd_mm: float = 0.0, pull_share: float = 0.0
    ) -> tuple[float, Budget]:
        """Return the lambda of a ring at a depth, and the doubts about it.

        Args:
            depth_mm: from the tip [mm].
            depth_sd_mm: its standard uncertainty [mm].
            pull_share: as in ``RingPair`` [1].

        Returns:
            lambda [1] on the sensor's own scale, whose constant error it shares, and its budget. The slope's
            doubt is that of a lognormal factor, as on every scale here.
        """
        weights, lambdas, levers, reading, place = self._by_bend(depth_mm, depth_sd_mm)
        mean = float(weights @ lambdas)
        lever, log_sd = float(weights @ levers), self.slope_log_sd
        bend_sd = math.sqrt(float(weights @ (lambdas - mean) ** 2))
        return mean, Budget(
            (
                Component(
                    "the reading of the ring's depth",
                    float(weights @ reading),
                    "stated or common practice",
                    scaled=True,
                ),
                Component(
                    "the lambda at the place of the ring scale",
                    math.sqrt(float(weights @ place**2)),
                    "fitted",
                ),
                Component(
                    "the slope of the ring scale", abs(lever) * log_sd, "fitted", log_sd=log_sd, lever=lever
                ),
                Component("the bend of the ring scale", bend_sd, "fitted"),
                Component(SCATTERS, self.scatter_of(pull_share), "fitted"),
            ),
        )

    def edge_at(self, depth_mm: float, side: OneSided, pull_share: float = 0.0) -> tuple[float, Budget]:
        """Return the lambda that a one-sided reading lies beyond, by the bend that claims least, and its doubts.

        Far from the pairs the bends part to one side only, and what they differ by is then no doubt to both.

        Args:
            depth_mm: the end of the nose that the ring lies beyond, from the tip [mm].
            side: ``leaner`` for no ring, ``richer`` for all dark.
            pull_share: as in ``RingPair`` [1].
        """
        weights, lambdas, levers, _, place = self._by_bend(depth_mm, 0.0)
        sign = 1.0 if side == "leaner" else -1.0
        claims = np.where(weights >= _WORTH, sign * lambdas, np.inf)
        least = int(np.argmin(claims))
        lever, log_sd = float(levers[least]), self.slope_log_sd
        slope = "the slope of the ring scale"
        return float(lambdas[least]), Budget(
            (
                Component("the lambda at the place of the ring scale", float(place[least]), "fitted"),
                Component(slope, abs(lever) * log_sd, "fitted", log_sd=log_sd, lever=lever),
                Component(SCATTERS, self.scatter_of(pull_share), "fitted"),
            ),
        )

    def _by_bend(
        self, depth_mm: float, depth_sd_mm: float
    ) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        """Return, one for each bend: weight, lambda, its distance from the place's, reading's and place's doubt [1]."""
        rows = []
        for line in self.fit.lines:
            there, stretch = bent(np.array([depth_mm]), self.fit.about_mm, self.fit.nose_mm, line.bend)
            away = (float(there[0]) - line.place_mm) / line.slope_mm
            reading = depth_sd_mm * float(stretch[0]) / line.slope_mm
            rows.append((line.weight, line.lambda_ + away, away, reading, line.lambda_sd))
        weight, lambda_, away_, reading_, place = np.array(rows).T
        return weight, lambda_, away_, reading_, place

    def depth_at(self, lambda_: float) -> float:
        """Return where a ring of this lambda should sit, from the tip [mm]; kept on the nose's length."""
        low, high = 0.0, self.fit.nose_mm
        for _ in range(40):
            middle = (low + high) / 2.0
            weights, lambdas, *_ = self._by_bend(middle, 0.0)
            low, high = (middle, high) if float(weights @ lambdas) < lambda_ else (low, middle)
        return (low + high) / 2.0

    def to_json(self) -> dict[str, Any]:
        """Return the scale as the command line gives it."""
        return {
            "scale": self.name,
            "pairs": self.fit.pairs,
            "slope_mm_per_lambda": self.slope_mm,
            "slope_relative_sd": self.slope_log_sd,
            "scatter_lambda": self.scatter,
            "pull_scatter_lambda": self.pull_scatter,
            "bends": [{"bend": line.bend, "weight": line.weight} for line in self.fit.lines],
            "assumptions": list(self.assumptions),
        }


def fitted_scale(
    pairs: Sequence[RingPair],
    prior: Prior,
    nose_mm: float,
    name: Literal["gas", "pairs"] = "pairs",
    about_mm: float | None = None,
) -> FittedScale:
    """Fit a scale on pairs.

    Args:
        pairs: valid ones only.
        prior: what held before them.
        nose_mm: length of the nose [mm].
        name: ``pairs`` or ``gas``.
        about_mm: as in ``fit_pairs``.
    """
    sessions = len({pair.session for pair in pairs})
    told = (
        f"It rests on {len(pairs)} valid pair{'' if len(pairs) == 1 else 's'} of {sessions}"
        f" session{'' if sessions == 1 else 's'} of this engine build, and on what was held before them."
    )
    return FittedScale(fit_pairs(pairs, prior, nose_mm, about_mm), prior, name, (told, UNVALIDATED))
