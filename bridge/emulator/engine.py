"""The virtual engine: from throttle and speed to air, mixture and heat.

Only the shape of these equations is meant; each says its source and status. What the analysis computes
(delay, density, jets) is deliberately computed in another way here, so that it is not tested against its own
formula.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from bridge.emulator.ride import Trace
from bridge.emulator.signals import Array, Sampling

AIR_KG_M3 = 1.2
"""Air at the intake, a mild day near sea level. Common practice."""
PETROL_AFR = 14.6
"""Air for petrol by mass, for the exhaust's mass alone. Common practice."""


@dataclass(frozen=True)
class Circuits:
    """The lambda that each circuit of the carburettor gives where it governs alone."""

    pilot: float = 0.90
    cutaway: float = 0.89
    needle: float = 0.88
    main: float = 0.87

    def with_main_jet(self, flow_ratio: float) -> "Circuits":
        """Return the mixture with another main jet.

        Lambda falls as the fuel rises; the needle's annulus and the jet lie in series, so that the jet's
        share of a change is smaller at smaller openings: 86 %, 55 % and 26 % (elementary carburettor theory,
        computed by us for one needle; the pilot has its own jet).

        Args:
            flow_ratio: flow of the new jet over that of the old one; above 1 is richer.
        """
        return Circuits(
            pilot=self.pilot,
            cutaway=self.cutaway / flow_ratio**0.26,
            needle=self.needle / flow_ratio**0.55,
            main=self.main / flow_ratio**0.86,
        )

    def at(self, throttle: Array) -> Array:
        """Return lambda at slide openings [%].

        Common practice, no source: pilot to an eighth, cutaway to a quarter, needle to three quarters, main
        jet above, each fading into the next.
        """
        openings = (0.0, 9.0, 16.0, 22.0, 30.0, 68.0, 84.0, 100.0)
        p, c, n, m = self.pilot, self.cutaway, self.needle, self.main
        return np.interp(throttle, openings, (p, p, c, c, n, n, m, m))


@dataclass(frozen=True)
class VirtualBike:
    """An engine, its carburettors and its pipe."""

    strokes: Literal[2, 4] = 4
    cylinders: int = 2
    displacement_cc: float = 398.0
    """Of all cylinders together [cm3]."""
    idle_rpm: float = 1500.0
    top_rpm: float = 9800.0
    circuits: Circuits = Circuits()
    cylinder_offset: tuple[float, ...] = (0.0, 0.01)
    """Added to each cylinder's lambda; cylinders beyond its length have none."""
    wander_sd: float = 0.004
    """Slow wander of each cylinder's lambda (level, slosh, air), standard deviation. Assumed."""
    wander_s: float = 8.0
    """Its correlation time [s]. Assumed."""
    cycle_sd: float = 0.012
    """Scatter of lambda from one engine cycle to the next, seen by the sensor only. Assumed."""
    film_share: float = 0.10
    """Share of the fuel that goes by way of the manifold's wall."""
    film_s: float = 0.35
    """Time that it stays there [s]."""
    sensor: Literal["each", "collector"] = "each"
    """One oxygen sensor in each pipe, or one where the pipes have met."""
    sensor_distance_mm: float = 900.0
    pipe_bore_mm: float = 38.0

    @property
    def rpm_per_cycle_s(self) -> float:
        """Speed at which each cylinder fires once a second [/min]."""
        return 120.0 if self.strokes == 4 else 60.0

    def offset(self, cylinder: int) -> float:
        """Return what is added to one cylinder's lambda; cylinders count from 1."""
        return self.cylinder_offset[cylinder - 1] if cylinder <= len(self.cylinder_offset) else 0.0


@dataclass(frozen=True)
class EngineTruth:
    """What the engine really did, sample by sample; one row of the arrays a cylinder."""

    trace: Trace
    air_kg_s: Array
    """Air into each cylinder [kg/s]."""
    full_air_kg_s: float
    """Air into each cylinder at full throttle and top speed [kg/s]."""
    mixture: Array
    """Lambda of the charge that burns at each moment; where nothing burns, of the charge that does not."""
    gas_c: Array
    """Temperature of the gas at the port [Cel]."""
    head_c: Array
    """Temperature under the plug [Cel]."""


def run_engine(bike: VirtualBike, trace: Trace, sampling: Sampling) -> EngineTruth:
    """Run the engine along a trace.

    Args:
        bike: the engine.
        trace: throttle and speed.
        sampling: seed and rate.
    """
    air = air_flow(bike, trace.throttle, trace.rpm) / bike.cylinders
    full = air_flow(bike, np.array([100.0]), np.array([bike.top_rpm]))[0] / bike.cylinders
    numbers = range(1, bike.cylinders + 1)
    settled = bike.circuits.at(trace.throttle)
    mixture = np.array([_mixture(bike, settled, air, n, sampling) for n in numbers])
    load = np.clip(air / full, 0.0, 1.0)
    gas = np.array([_gas_c(bike, load, row, trace) for row in mixture])
    head = np.array([sampling.lag(115.0 + 95.0 * load**0.6 - 60.0 * ~trace.burning, 45.0) for _ in numbers])
    return EngineTruth(trace, np.tile(air, (bike.cylinders, 1)), float(full), mixture, gas, head)


def air_flow(bike: VirtualBike, throttle: Array, rpm: Array) -> Array:
    """Return the air into the whole engine [kg/s].

    Continuity (textbook): filling times swept volume times density times cycles a second. The filling at full
    throttle (0.72 low down to 0.95 at the top) and what a slide lets through at most are assumed; the smaller
    of the two governs, smoothly.

    Args:
        bike: the engine.
        throttle: opening [%].
        rpm: [/min].
    """
    cycles_s = rpm / bike.rpm_per_cycle_s
    swept = AIR_KG_M3 * bike.displacement_cc * 1e-6
    filling = np.clip(0.72 + 0.23 * rpm / bike.top_rpm, 0.72, 0.95)
    wanted = filling * swept * cycles_s
    top = 0.95 * swept * bike.top_rpm / bike.rpm_per_cycle_s
    passed = top * (0.045 + 1.9 * (throttle / 100.0) ** 1.2)
    return wanted / np.sqrt(1.0 + (wanted / passed) ** 2)


def _mixture(bike: VirtualBike, settled: Array, air: Array, number: int, sampling: Sampling) -> Array:
    """Return one cylinder's lambda.

    Wall film after Aquino (1981), from memory, with a share and a time of our own: a share of the fuel lands
    on the wall and leaves it with a first-order lag, so that opening the throttle is lean for a moment and
    closing it rich. Slow wander: assumed.
    """
    slow = sampling.wander(f"wander {number}", len(settled), bike.wander_sd, bike.wander_s)
    aimed = settled + bike.offset(number) + slow
    fuel = np.maximum(air, 1e-6) / (aimed * PETROL_AFR)
    burned = (1.0 - bike.film_share) * fuel + bike.film_share * sampling.lag(fuel, bike.film_s)
    return np.clip(aimed * fuel / burned, 0.55, 1.6)


def _gas_c(bike: VirtualBike, load: Array, mixture: Array, trace: Trace) -> Array:
    """Return the gas temperature at the port [Cel].

    Assumed, within ranges of common practice: rising with load, highest a little rich of lambda 1, a
    two-stroke 160 degrees cooler; where nothing burns, the charge only warms on the pipe.
    """
    hot = 330.0 + 470.0 * load**0.5 - 2500.0 * np.clip(mixture - 0.97, -0.25, 0.25) ** 2
    return np.where(trace.burning, hot - (160.0 if bike.strokes == 2 else 0.0), 120.0)
