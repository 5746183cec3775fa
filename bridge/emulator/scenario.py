"""Whole virtual rides: a scenario and a seed give bytes, with the truth beside them."""

from dataclasses import dataclass, field

import numpy as np
import polars as pl

from bridge.emulator.engine import EngineTruth, VirtualBike, run_engine
from bridge.emulator.logger import LoggerChannel, LoggerSettings, VirtualLogger, channel, printed
from bridge.emulator.ride import Phase, Script, practice, trace
from bridge.emulator.sensors import Faults, Sensor, heat_seen, lambda_seen, road_and_roller
from bridge.emulator.signals import Array, Sampling
from bridge.errors import BadValue


@dataclass(frozen=True)
class Air:
    """The air of the day, as the logger's own sensors tell it; the mixture is what it is on that day."""

    temp_c: float = 18.0
    pressure_hpa: float = 1002.0
    humidity_percent: float = 64.0


@dataclass(frozen=True)
class Scenario:
    """Everything about a virtual ride but its seed."""

    bike: VirtualBike = field(default_factory=VirtualBike)
    script: Script = field(default_factory=practice)
    rate_hz: float = 100.0
    """Data lines a second."""
    channels: tuple[LoggerChannel, ...] = ()
    """What the logger prints; empty for lambda, egt, rpm and throttle."""
    sensor: Sensor = field(default_factory=Sensor)
    faults: Faults = field(default_factory=Faults)
    air: Air = field(default_factory=Air)
    roller_ratio: float = 5.0
    """Engine turns for each turn of a dynamometer's roller."""
    logger: LoggerSettings = field(default_factory=LoggerSettings)
    note: str = ""
    """What the ride is meant to show, in a sentence."""


@dataclass(frozen=True)
class Ride:
    """A virtual ride."""

    wire: bytes
    """What the logger printed."""
    truth: pl.DataFrame
    """One row a sample: ``t_s`` [s since the logger's start], ``throttle`` [%], ``rpm`` [/min], ``burning``;
    ``lambda_true_1``, ... of the charge that burned then (null where none did), without a sensor's effects;
    ``seen_lambda_1``, ... (``seen_lambda`` for a collector): the oxygen sensor's reading with its delay, lag
    and faults, without the noise of its electronics; ``egt_1``, ..., ``cht_1``, ... [Cel] as probes follow.
    """
    note: str
    """The scenario, the seed and the true mixture at full throttle, in words."""


def default_channels(bike: VirtualBike) -> tuple[LoggerChannel, ...]:
    """Return what the virtual logger prints unless told otherwise."""
    numbers = range(1, bike.cylinders + 1)
    lambdas = ["lambda"] if bike.sensor == "collector" else [f"lambda_{n}" for n in numbers]
    return tuple(channel(name) for name in (*lambdas, *(f"egt_{n}" for n in numbers), "rpm", "throttle"))


def make_ride(scenario: Scenario, seed: int) -> Ride:
    """Ride a scenario.

    Args:
        scenario: what happens.
        seed: of every random number in it; the same seed gives the same bytes.

    Raises:
        BadValue: a channel that this bike does not have, or a rate that no logger prints at.
    """
    sampled = sample(scenario, seed)
    logger = VirtualLogger(sampled.channels, scenario.logger)
    wire = b"".join(data for _, data in logger.lines(sampled.t_s, sampled.values, sampled.marks))
    return Ride(wire, sampled.truth, _note(scenario, seed, sampled.truth))


@dataclass(frozen=True)
class Sampled:
    """A ride as the logger is about to print it; ``values`` are one list a channel."""

    channels: tuple[LoggerChannel, ...]
    t_s: list[float]
    values: list[list[float | None]]
    marks: tuple[tuple[float, str], ...]
    truth: pl.DataFrame


def sample(scenario: Scenario, seed: int, begin_s: float = 0.0) -> Sampled:
    """Ride a scenario up to what the logger samples.

    Args:
        scenario: what happens.
        seed: of the ride.
        begin_s: added to every time [s].

    Raises:
        BadValue: as ``make_ride``.
    """
    if not 1.0 <= scenario.rate_hz <= 1000.0:
        raise BadValue(f"a rate of {scenario.rate_hz:g} lines a second is not one of 1 to 1000")
    bike, sampling = scenario.bike, Sampling(seed, scenario.rate_hz)
    truth = run_engine(bike, trace(scenario.script, sampling), sampling)
    seen = lambda_seen(bike, truth, scenario.sensor, scenario.faults, sampling)
    count = len(truth.trace.t_s)
    measured = {
        **{
            name: values + scenario.sensor.noise_sd * sampling.noise(f"read {name}").standard_normal(count)
            for name, values in seen.items()
        },
        **heat_seen(truth, sampling),
        **road_and_roller(bike, truth, scenario.roller_ratio),
        "rpm": truth.trace.rpm,
        "throttle": truth.trace.throttle,
        "air_temp": np.full(count, scenario.air.temp_c),
        "air_pressure": np.full(count, scenario.air.pressure_hpa),
        "humidity": np.full(count, scenario.air.humidity_percent),
        "battery": np.where(truth.trace.burning, 13.6, 12.4),
    }
    channels = scenario.channels or default_channels(bike)
    absent = [c.name for c in channels if c.name not in measured]
    if absent:
        raise BadValue(f"this virtual bike has no {', '.join(absent)}; it has {', '.join(measured)}")
    return Sampled(
        channels=channels,
        t_s=(truth.trace.t_s + begin_s).tolist(),
        values=[printed(c, measured[c.name], sampling) for c in channels],
        marks=tuple((at + begin_s, what) for at, what in truth.trace.marks),
        truth=_truth_frame(truth, seen, measured, begin_s),
    )


def _truth_frame(
    truth: EngineTruth,
    seen: dict[str, Array],
    measured: dict[str, Array],
    begin_s: float,
) -> pl.DataFrame:
    burned = np.where(truth.trace.burning, truth.mixture, np.nan)
    return pl.DataFrame(
        {
            "t_s": truth.trace.t_s + begin_s,
            "throttle": truth.trace.throttle,
            "rpm": truth.trace.rpm,
            "burning": truth.trace.burning,
            **{f"lambda_true_{i + 1}": row for i, row in enumerate(burned)},
            **{f"seen_{name}": values for name, values in seen.items()},
            **{name: values for name, values in measured.items() if name.startswith(("egt_", "cht_"))},
        },
        nan_to_null=True,
    )


def _note(scenario: Scenario, seed: int, truth: pl.DataFrame) -> str:
    full = truth.filter(pl.col("throttle") >= 95.0, pl.col("burning"))
    means = [
        f"{full[name].to_numpy().mean():.4f} in cylinder {name.rsplit('_', 1)[1]}"
        for name in truth.columns
        if name.startswith("lambda_true_") and full.height
    ]
    bike = scenario.bike
    engine = f"{bike.strokes}-stroke, {bike.cylinders} cylinder(s), {bike.displacement_cc:g} cm3"
    ride = f"seed {seed}, {_seconds(scenario.script):.0f} s at {scenario.rate_hz:g} lines a second"
    words = [scenario.note, f"An invented ride of a virtual bike ({engine}), {ride}."]
    if means:
        words.append(f"True lambda at full throttle, mean: {', '.join(means)}.")
    return " ".join(word for word in words if word)


def _seconds(script: tuple[Phase, ...]) -> float:
    return sum(phase.seconds for phase in script)
