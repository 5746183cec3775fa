"""The uncertainty budget of a band's mean and of the full-throttle value, component by component.

GUM, JCGM 100:2008: independent doubts add as squares. The sensor's own errors are the same for all bands of a
session; they are in each budget, since each stands for itself, and cancel where two bands are compared.
"""

from dataclasses import dataclass
from typing import Any

from bridge.budget import Budget, Component
from bridge.physics.fuel import Fuel

ACCURACY = "the sensor's own accuracy"
DRIFT = "the sensor's drift since it was last checked"
SAMPLING = "sampling"
DELAY = "the delay of the sensor"
FUEL = "the fuel's own stoichiometric AFR (in AFR only)"


def mean_budget(sampling_sd: float, delay_sd: float, accuracy_sd: float, drift_sd: float) -> Budget:
    """Return the budget of a mean of lambda.

    Args:
        sampling_sd: standard error of the mean by sampling alone, widened already for its degrees of freedom [1].
        delay_sd: what one standard uncertainty of the delay does to the mean [1].
        accuracy_sd: of the sensor on the day of its last check, a stated offset's own doubt in it [1].
        drift_sd: what the days since then add [1].
    """
    return Budget(
        (
            Component(SAMPLING, sampling_sd, "measured"),
            Component(DELAY, delay_sd, "measured"),
            Component(ACCURACY, accuracy_sd, "common practice"),
            Component(DRIFT, drift_sd, "common practice"),
        )
    )


def afr_sd(lambda_mean: float, lambda_sd: float, fuel: Fuel) -> float:
    """Return the standard uncertainty of an AFR: that of lambda, and of not knowing what is in the tank [1]."""
    return float(((lambda_sd * fuel.stoich_afr) ** 2 + (lambda_mean * fuel.afr_sd) ** 2) ** 0.5)


def spelled_out(budget: Budget) -> list[dict[str, Any]]:
    """Return a budget as plain values: ``what``, ``sd``, ``status``, the largest first."""
    parts = sorted(budget.components, key=lambda part: -part.sd)
    return [{"what": part.name, "sd": part.sd, "status": part.status} for part in parts]


@dataclass(frozen=True)
class FullThrottle:
    """The measured mixture of one lambda channel over a session's steady full throttle.

    Attributes:
        cylinder: None where one sensor stands for several.
        channel: the lambda column.
        seconds: steady full throttle that went into it [s].
        mean: of lambda, each second alike [1].
        sd: standard uncertainty by the whole budget [1].
        low: lower end of the 95 % interval by the whole budget [1].
        high: upper end of it [1].
        afr_mean: by the session's fuel [1]; None over sessions with several fuels.
        afr_sd: its standard uncertainty, the fuel's own counted [1].
        budget: what the uncertainty is made of.
    """

    cylinder: int | None
    channel: str
    seconds: float
    mean: float
    sd: float
    low: float
    high: float
    afr_mean: float | None
    afr_sd: float | None
    budget: Budget

    def to_json(self) -> dict[str, Any]:
        """Return it as plain values."""
        names = ("cylinder", "channel", "seconds", "mean", "sd", "low", "high", "afr_mean", "afr_sd")
        return {name: getattr(self, name) for name in names} | {"budget": spelled_out(self.budget)}
