"""The third witness: an exhaust-gas analysis beside ring and sensor.

It has its own doubts (what the analyser is good for, fuel that it does not see, the reaction that freezes on the
way) and shares neither the ring scale nor the sensor. It is still no referee: nothing shows that the gas was taken
in the running that the plug lived through.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from bridge.budget import Budget, Component
from bridge.errors import BadValue
from bridge.model import GasAnalysis, Weather
from bridge.physics.air import humidity_ratio
from bridge.physics.fuel import Fuel
from bridge.physics.gas import GasLambda, gas_lambda
from bridge.plug.exposure import Measured
from bridge.plug.scale import RingLambda

Sides = Literal["sensor", "ring", "neither", "cannot say"]
Departs = Literal["leaner", "richer", "no"]

SAME_RUNNING = (
    "an exhaust-gas analysis is of the running that it was taken in: hold it against ring and sensor only where"
    " that was the same full throttle, with the probe deep in the pipe and free of air"
)


@dataclass(frozen=True)
class GasFound:
    """An analysis and what it comes to.

    Attributes:
        analysis: what the analyser showed.
        value: lambda twice, with its doubts; None where it has none.
        notes: what has to be known beside it; why there is no lambda.
    """

    analysis: GasAnalysis
    value: GasLambda | None
    notes: tuple[str, ...]


@dataclass(frozen=True)
class GasWitness:
    """What an exhaust-gas analysis says of one cylinder, and whom it stands with.

    Attributes:
        of: the analysis that it rests on.
        lambda_: by Brettschneider's formula with the session fuel's own composition, the damp of the day's air
            taken into account [1].
        dry_air: by the formula as published, as if that air were dry [1].
        spindt: by Spindt's [1]; None where that does not hold.
        budget: the doubts about ``lambda_`` as that of this cylinder.
        sides: which of ring and sensor it sides with; None where it has not both to choose from.
        statement: that in words which claim no more than the intervals.
        notes: what has to be known beside it.
    """

    of: GasAnalysis
    lambda_: float
    dry_air: float
    spindt: float | None
    budget: Budget
    sides: Sides | None
    statement: str
    notes: tuple[str, ...]

    @property
    def low(self) -> float:
        """Lower end of the 95 % interval [1]."""
        return self.lambda_ + self.budget.interval(0.95)[0]

    @property
    def high(self) -> float:
        """Upper end of it [1]."""
        return self.lambda_ + self.budget.interval(0.95)[1]


def lambda_of(analysis: GasAnalysis, fuel: Fuel, weather: Weather) -> GasLambda:
    """Return what one analysis says of the mixture.

    Args:
        analysis: of dry exhaust gas.
        fuel: of the session.
        weather: its air; without temperature, pressure and humidity the formula for dry air stands in.

    Raises:
        BadValue: it is no exhaust, see ``gas_lambda``.
    """
    temp_c, humidity = weather.air_temp_c, weather.humidity_percent
    water = None
    if temp_c is not None and humidity is not None and weather.air_pressure_hpa is not None:
        water = float(humidity_ratio(temp_c, weather.air_pressure_hpa, humidity))
    return gas_lambda(
        analysis.co2_percent,
        analysis.co_percent,
        analysis.o2_percent,
        analysis.hc_ppm,
        analysis.no_ppm,
        fuel,
        humidity_ratio=water,
    )


def gas_found(analyses: Sequence[GasAnalysis], fuel: Fuel, weather: Weather) -> tuple[GasFound, ...]:
    """Return the newest analysis of each cylinder and of all together, and what they come to.

    Args:
        analyses: those of a session.
        fuel: of the session.
        weather: its air.
    """
    newest: dict[int | None, GasAnalysis] = {}
    for analysis in sorted(analyses, key=lambda one: one.written):
        newest[analysis.cylinder] = analysis
    found = []
    for cylinder in sorted(newest, key=lambda number: number or 0):
        analysis = newest[cylinder]
        try:
            value = lambda_of(analysis, fuel, weather)
        except BadValue as error:
            found.append(GasFound(analysis, None, (f"the exhaust-gas analysis has no lambda: {error}",)))
        else:
            found.append(GasFound(analysis, value, value.notes))
    return tuple(found)


def gas_witness(
    gas: Sequence[GasFound],
    cylinder: int,
    ring: RingLambda | None,
    over: Measured,
    average: Component | None,
) -> GasWitness | None:
    """Return what the exhaust gas says of a cylinder.

    Args:
        gas: what ``gas_found`` gave; a cylinder's own goes before that of all together.
        cylinder: whose.
        ring: the ring's lambda where its reading is valid.
        over: the measured lambda.
        average: the doubt of one cylinder by the average of all; None on a single.

    Returns:
        The witness; None where no gas of it was analysed, or that has no lambda.
    """
    known = {one.analysis.cylinder: one for one in gas}
    own = known.get(cylinder) or known.get(None)
    if own is None or own.value is None:
        return None
    value, notes = own.value, [*own.notes, SAME_RUNNING]
    budget = value.budget
    if own.analysis.cylinder is None and average is not None:
        budget = Budget((*budget.components, average))
        notes.append(
            "the gas was taken from all cylinders together: it is their average, and cylinders that differ read"
            " leaner together than they are"
        )
    seen = [*over.sensor.components]
    if over.engine_wide and own.analysis.cylinder is not None and average is not None:
        seen.append(average)
    sides, statement = _beside(value.brettschneider, budget, ring, over, seen)
    return GasWitness(
        own.analysis,
        value.brettschneider,
        value.dry_air,
        value.spindt,
        budget,
        sides,
        statement,
        tuple(notes),
    )


def _beside(
    gas: float, budget: Budget, ring: RingLambda | None, over: Measured, seen: Sequence[Component]
) -> tuple[Sides | None, str]:
    """Return whom the gas sides with, and the words that say so; ``seen`` is what the sensor itself leaves open."""
    off: dict[str, Departs] = {}
    if over.mean is not None and over.budget is not None:
        parts = (*budget.components, *over.budget.components, *seen)
        off["sensor"] = _departs(gas - over.mean, Budget(parts), leaner="leaner", richer="richer")
    if ring is not None and ring.mean is not None:
        # the ring's own doubts are those of ring less gas, and not the same to both sides
        parts = (*ring.budget.components, *budget.components)
        off["ring"] = _departs(ring.mean - gas, Budget(parts), leaner="richer", richer="leaner")
    said = " and ".join(_SAID[side].format(of=of) for of, side in off.items())
    if list(off.values()) == ["no", "no"]:
        said = _SAID["no"].format(of="sensor or from the ring")
    if len(off) < len(("sensor", "ring")):
        return None, f"it {said}" if said else "there is no sensor and no ring to hold it against"
    sides, verdict = _TOGETHER[off["sensor"] != "no", off["ring"] != "no"]
    return sides, f"it {said}: {verdict}"


_SAID: dict[Departs, str] = {
    "leaner": "reads leaner than the {of}",
    "richer": "reads richer than the {of}",
    "no": "does not surely differ from the {of}",
}
_TOGETHER: dict[tuple[bool, bool], tuple[Sides, str]] = {
    (False, True): ("sensor", "it sides with the sensor"),
    (True, False): ("ring", "it sides with the ring"),
    (True, True): ("neither", "it sides with neither, so look at the analyser and its probe first"),
    (False, False): ("cannot say", "it does not decide between them"),
}


def _departs(difference: float, budget: Budget, *, leaner: Departs, richer: Departs) -> Departs:
    """Return what to call a difference that a 95 % interval shows above or below zero; ``no`` for neither."""
    low, high = (difference + end for end in budget.interval(0.95))
    if low > 0.0:
        return leaner
    return richer if high < 0.0 else "no"
