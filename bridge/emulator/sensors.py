"""The virtual sensors: what becomes of the truth on its way to the printed number.

The pipe is its own model here, on purpose: gas is followed parcel by parcel (what is in the pipe is pushed on
by what comes behind it), where the analysis uses volume over flow at each moment.
"""

from dataclasses import dataclass

import numpy as np

from bridge.emulator.engine import PETROL_AFR, EngineTruth, VirtualBike
from bridge.emulator.ride import Trace
from bridge.emulator.signals import Array, Sampling

LEAN_END = 2.0
"""The highest lambda that the virtual sensor prints. Assumed."""
RICH_END = 0.6
"""The lowest one. Assumed."""
_GAS_CONSTANT = 8.314462618
"""[J/(mol K)], published: CODATA 2018."""
_EXHAUST_KG_MOL = 0.0282
"""Molar mass of exhaust near lambda 0.88. Common practice (27.6 rich to 28.9 g/mol stoichiometric)."""
_EXHAUST_PA = 103_000.0
"""Mean pressure in the pipe. Assumed."""
_PIPE_LOSS_K = 60.0
"""The gas cools by this much between port and sensor, as a mean over the pipe. Assumed."""


@dataclass(frozen=True)
class Faults:
    """What is wrong with the bike or its sensors; tuples have one value a cylinder, absent ones are zero."""

    leak: tuple[float, ...] = ()
    """Air drawn in before the sensor, as a share of the cylinder's air at full throttle and top speed. A
    leak's flow hardly depends on the load (assumed), so that its share is larger at idle (at most 0.8). The
    charge itself is right."""
    short_circuit: float = 0.0
    """Share of the fresh charge that goes through unburned (a two-stroke's scavenging; a misfire)."""
    oxidised: float = 0.3
    """Share of that charge's fuel which burns at the sensor. Assumed."""
    sensor_offset: tuple[float, ...] = ()
    """Added to each oxygen sensor's reading: an aged or badly trimmed one."""


@dataclass(frozen=True)
class Sensor:
    """How a wideband oxygen sensor answers: dead time, then first order (from memory: 0.05 to 0.15 s)."""

    dead_s: float = 0.02
    lag_s: float = 0.10
    noise_sd: float = 0.002
    """White noise of the printed reading, in lambda. Assumed."""


def lambda_seen(
    bike: VirtualBike,
    truth: EngineTruth,
    sensor: Sensor,
    faults: Faults,
    sampling: Sampling,
) -> dict[str, Array]:
    """Return what each oxygen sensor sees, without the noise of its electronics.

    Args:
        bike: where the sensors sit.
        truth: of the engine.
        sensor: how one answers.
        faults: what is wrong.
        sampling: seed and rate.

    Returns:
        By channel name: ``lambda_1``, ``lambda_2``, ..., or ``lambda`` alone for a collector.
    """
    seen = {}
    for i, (name, stream) in enumerate(_streams(bike, truth, faults, sampling).items()):
        late = arriving(bike, truth.trace, stream, sensor.dead_s)
        answered = sampling.lag(late, sensor.lag_s) + _item(faults.sensor_offset, i)
        seen[name] = np.clip(answered, RICH_END, LEAN_END)
    return seen


@dataclass(frozen=True)
class Stream:
    """What goes into one pipe, sample by sample."""

    mixture: Array
    """The lambda that an ideal sensor would see, by the time at which the charge burned."""
    flow_kg_s: Array
    """Exhaust gas [kg/s]."""
    gas_c: Array
    """Its temperature at the port [Cel]."""


def _streams(bike: VirtualBike, truth: EngineTruth, faults: Faults, sampling: Sampling) -> dict[str, Stream]:
    """Return the streams by channel name: one a cylinder, or all of them as one for a collector."""
    at_valve = np.array([_at_valve(bike, truth, faults, i, sampling) for i in range(bike.cylinders)])
    flow = truth.air_kg_s * (1.0 + 1.0 / (0.88 * PETROL_AFR))
    if bike.sensor == "collector":
        # fuel for air adds up by mass, so 1/lambda is what averages (mass balance)
        air = np.maximum(truth.air_kg_s, 1e-9)
        mixed = air.sum(axis=0) / (air / at_valve).sum(axis=0)
        return {"lambda": Stream(mixed, flow.sum(axis=0), truth.gas_c.mean(axis=0))}
    return {f"lambda_{i + 1}": Stream(at_valve[i], flow[i], truth.gas_c[i]) for i in range(bike.cylinders)}


def _at_valve(bike: VirtualBike, truth: EngineTruth, faults: Faults, i: int, sampling: Sampling) -> Array:
    """Return the lambda that an ideal sensor would see in the gas of one cylinder.

    Air leak: lambda * (1 + a); short circuit: lambda / (1 - s (1 - eta)). Oxygen balance, computed by us.
    Charge that does not burn keeps its oxygen: the lean end.
    """
    # one sample holds cycles_s / rate_hz cycles, whose scatter averages out
    cycles_s = np.maximum(truth.trace.rpm, 300.0) / bike.rpm_per_cycle_s
    scatter = bike.cycle_sd * np.sqrt(sampling.rate_hz / cycles_s)
    gas = truth.mixture[i] + scatter * sampling.noise(f"cycles {i + 1}").standard_normal(len(scatter))
    gas = gas / (1.0 - faults.short_circuit * (1.0 - faults.oxidised))
    share = _item(faults.leak, i) * truth.full_air_kg_s / np.maximum(truth.air_kg_s[i], 1e-9)
    gas = gas * (1.0 + np.minimum(share, 0.8))
    return np.where(truth.trace.burning, gas, LEAN_END)


def arriving(bike: VirtualBike, trace: Trace, stream: Stream, dead_s: float) -> Array:
    """Return the lambda of the gas that is at the sensor at each moment.

    Plug flow (continuity; no mixing, no pulsation): the parcel at the sensor left the valve when the volume
    that has come since then filled the pipe. It burned half an engine cycle before it left (assumed). Where
    the pipes meet, all of the pipe is taken to carry all of the gas.

    Args:
        bike: the pipe.
        trace: speed, by time.
        stream: what goes in.
        dead_s: the sensor's dead time [s].
    """
    t_s = trace.t_s
    volume = np.pi / 4.0 * (bike.pipe_bore_mm * 1e-3) ** 2 * bike.sensor_distance_mm * 1e-3
    kelvin = np.maximum(stream.gas_c - _PIPE_LOSS_K, 40.0) + 273.15
    m3_s = stream.flow_kg_s * _GAS_CONSTANT * kelvin / (_EXHAUST_PA * _EXHAUST_KG_MOL)
    # a slow creep keeps the sum rising where the engine stands
    passed = np.cumsum(np.maximum(m3_s, volume / 1000.0) * np.gradient(t_s))
    left = np.maximum.accumulate(t_s + 0.5 * bike.rpm_per_cycle_s / np.maximum(trace.rpm, 300.0))
    burned = np.interp(np.interp(passed - volume, passed, t_s), left, t_s)
    return np.interp(np.interp(t_s - dead_s, t_s, burned), t_s, stream.mixture)


def heat_seen(truth: EngineTruth, sampling: Sampling, probe_s: float = 1.5) -> dict[str, Array]:
    """Return what the thermocouples say: ``egt_1``, ``cht_1``, ...

    A bead follows the gas with a first-order lag of 1.3 to 4 s by its size (computed by us, 0.5 to 1.5 mm).
    """
    out = {}
    for i in range(len(truth.gas_c)):
        out[f"egt_{i + 1}"] = sampling.lag(truth.gas_c[i], probe_s)
        out[f"cht_{i + 1}"] = truth.head_c[i]
    return out


def road_and_roller(bike: VirtualBike, truth: EngineTruth, ratio: float) -> dict[str, Array]:
    """Return ``speed`` [km/h] and ``roller_rpm`` [/min].

    In gear both follow the engine by one ratio; with the clutch in, or the engine at idle, they run out with
    a time of 12 s (assumed).

    Args:
        bike: the bike.
        truth: of the engine.
        ratio: engine turns for each turn of the roller; the road gear is 6 m/s for 1000 rpm.
    """
    t_s, rpm = truth.trace.t_s, truth.trace.rpm
    driven = truth.trace.burning & (rpm > 1.3 * bike.idle_rpm)
    last = np.maximum.accumulate(np.where(driven, np.arange(len(t_s)), -1))
    rolling = np.where(last >= 0, rpm[last] * np.exp(-(t_s - t_s[last]) / 12.0), 0.0)
    return {"speed": rolling * 6.0 * 3.6 / 1000.0, "roller_rpm": rolling / ratio}


def _item(values: tuple[float, ...], i: int) -> float:
    return values[i] if i < len(values) else 0.0
