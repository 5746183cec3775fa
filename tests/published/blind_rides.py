"""Blind rides: invented, seeded, with their truth, made by an engine, a pipe and a sensor of their own.

Nothing here comes from the emulator or from what is tested: air is drawn by another law, gas goes through the
pipe parcel by parcel on a clock of 1 or 2 ms, fuel lies on the wall by its balance of mass, and what a ride is
made of is drawn at random: maps, pipes, sensors, noise, faults, and what the bike's file says of it all.
``blind_trial.py`` beside this file tries the delay and the bands on them.
"""

from dataclasses import dataclass, replace
from datetime import UTC, datetime

import numpy as np
import polars as pl
from scipy.signal import lfilter

from bridge.model import Bike, Run, Session, Setup

AIR_LAMBDA = 3.0
"""What an ideal sensor would say of gas that did not burn."""


@dataclass(frozen=True)
class Spec:
    """A blind ride before it is ridden: every draw."""

    seed: int
    kind: str = "track"  # track, road, dyno, few steps, constant
    seconds: float = 240.0
    rate_hz: float = 100.0
    strokes: int = 4
    cylinders: int = 2
    cc: float = 400.0
    collector: bool = False
    length_mm: float = 800.0
    bore_mm: float = 38.0
    told: str = "right"  # right, none, wrong, no pipe
    told_factor: float = 1.0
    has_egt: bool = True
    map_kind: str = "circuits"  # circuits, smooth, flat
    map_spread: float = 0.04
    film_share: float = 0.1
    film_s: float = 0.35
    dead_s: float = 0.02
    lag_s: float = 0.1
    lag_on_phi: bool = False
    cycle_part: float = 0.5
    noise: float = 0.003
    noise_s: float = 0.0
    cycle_sd: float = 0.01
    wander: float = 0.004
    wander_s: float = 8.0
    throttle_noise: float = 0.2
    nulls: float = 0.0
    gaps: int = 0
    cuts: int = 0
    overrun_air: bool = False
    clip: tuple[float, float] = (0.6, 2.0)
    slow_lambda_hz: float = 0.0
    chop: bool = True


@dataclass(frozen=True)
class Ridden:
    """A blind ride and its truth."""

    spec: Spec
    frame: pl.DataFrame
    """What the logger has: ``t_s``, ``rpm``, ``throttle``, lambda channels, perhaps ``egt``; nulls."""
    bike: Bike | None
    """As the tuner's file has it."""
    burned: dict[str, np.ndarray]
    """By lambda channel: what really burned at each row; nan where nothing did."""
    delay_s: float
    """Dead time and sensor lag at the median gas flow with the throttle over 10 % [s]."""

    @property
    def run(self) -> Run:
        """Return the ride as a run that the analysis takes."""
        data = self.frame.with_columns(pl.exclude("t_s").cast(pl.Float32))
        head = Session(
            id=1,
            started=datetime(2026, 5, 14, 11, 20, tzinfo=UTC),
            bike=self.bike.name if self.bike else None,
            build=1 if self.bike else None,
            place=None,
            kind=None,
            seconds=float(self.frame["t_s"].max()),
            samples=self.frame.height,
            state="sealed",
            source="blind",
        )
        return Run(head, self.bike, Setup(fuel="e5"), data.lazy())


def blind_spec(seed: int, **fixed) -> Spec:
    """Draw a ride that has steps enough to tell its delay, of every kind that a tuner may bring."""
    rng = np.random.default_rng([77_031, seed])
    pick = lambda *values: values[rng.integers(len(values))]  # noqa: E731  # a short name for many draws
    strokes = pick(4, 4, 4, 2)
    cylinders = int(pick(1, 2, 2, 3))
    film = rng.integers(3) > 0
    spec = Spec(
        seed=seed,
        kind=pick("track", "track", "track", "road", "dyno"),
        seconds=float(rng.uniform(150, 420)),
        rate_hz=float(pick(10, 20, 25, 50, 50, 100, 100, 100, 200, 500)),
        strokes=strokes,
        cylinders=cylinders,
        cc=float(cylinders * rng.uniform(100, 350)),
        collector=bool(cylinders > 1 and rng.random() < 0.25),
        length_mm=float(rng.uniform(300, 1300)),
        bore_mm=float(rng.uniform(30, 44)),
        told=pick("right", "right", "right", "none", "wrong", "no pipe"),
        told_factor=float(2.0 ** rng.uniform(-1, 1)),
        has_egt=bool(rng.random() < 0.7),
        map_kind=pick("circuits", "circuits", "smooth"),
        map_spread=float(rng.uniform(0.025, 0.06)),
        film_share=float(rng.uniform(0.03, 0.3)) if film else 0.0,
        film_s=float(np.exp(rng.uniform(np.log(0.1), 0.0))),
        dead_s=float(rng.uniform(0, 0.1)),
        lag_s=float(np.exp(rng.uniform(np.log(0.03), np.log(0.3)))),
        lag_on_phi=bool(rng.random() < 0.2),
        cycle_part=float(pick(0.0, 0.5, 0.5, 1.0)),
        noise=float(np.exp(rng.uniform(np.log(0.001), np.log(0.01)))),
        noise_s=float(pick(0.0, 0.0, 0.05, 0.3)),
        cycle_sd=float(rng.uniform(0.0, 0.02)),
        wander=float(rng.uniform(0.0, 0.006)),
        wander_s=float(rng.uniform(3, 20)),
        throttle_noise=float(rng.uniform(0, 0.5)),
        nulls=float(pick(0, 0, 0.01, 0.05)),
        gaps=int(pick(0, 0, 2)),
        cuts=int(pick(0, 0, 3)),
        overrun_air=bool(rng.random() < 0.25),
        clip=pick((0.6, 2.0), (0.65, 1.3), (0.68, 1.36)),
        slow_lambda_hz=20.0 if rng.random() < 0.15 else 0.0,
        chop=bool(rng.random() < 0.5),
    )
    return replace(spec, **fixed)


def blind_ride(spec: Spec) -> Ridden:
    """Ride it."""
    rng = np.random.default_rng([91_507, spec.seed])
    dt = 0.001 if spec.rate_hz > 200 else 0.002
    n = round(spec.seconds / dt)
    t = np.arange(n) * dt
    throttle, rpm, burning = _script(spec, rng, t, dt)
    filling = _filling(rng, throttle, rpm)
    cycles = rpm / (120.0 if spec.strokes == 4 else 60.0)
    air = 1.19 * spec.cc / spec.cylinders * 1e-6 * filling * cycles  # kg/s, one cylinder
    tables = [_map(spec, rng) for _ in range(1)] * spec.cylinders
    offsets = rng.normal(0, 0.01, spec.cylinders)
    gas_k = 600 + 55e-3 * rpm * rng.uniform(0.7, 1.2) + 120 * np.sqrt(filling)
    burned, at_valve = [], []
    for i in range(spec.cylinders):
        aimed = tables[i](throttle, rpm) + offsets[i] + _wander(rng, n, dt, spec.wander, spec.wander_s)
        fuel = np.maximum(air, 1e-7) / aimed
        wall = _lag(fuel, spec.film_s, dt)  # mass on the wall over its time: what leaves it
        mixture = np.maximum(air, 1e-7) / ((1 - spec.film_share) * fuel + spec.film_share * wall)
        burned.append(np.where(burning, mixture, np.nan))
        per_step = spec.cycle_sd * np.sqrt(1.0 / np.maximum(cycles * dt, 1e-3))
        gas = mixture + np.minimum(per_step, 0.5) * rng.standard_normal(n)
        if spec.overrun_air:
            gas = np.where((throttle < 3) & (rpm > 2500), gas * 1.9, gas)
        at_valve.append(np.where(burning, gas, AIR_LAMBDA))
    channels = (
        {"lambda": at_valve} if spec.collector else {f"lambda_{i + 1}": [g] for i, g in enumerate(at_valve)}
    )
    volume = np.pi / 4 * (spec.bore_mm * 1e-3) ** 2 * spec.length_mm * 1e-3
    share = spec.cylinders if spec.collector else 1
    m3_s = share * air * 1.07 * 8.314 * gas_k / (102e3 * 0.0281)
    cycle = 1.0 / np.maximum(cycles, 4.0)
    out_t = _clock(spec, rng, t[-1])
    columns = {"t_s": out_t, "rpm": np.interp(out_t, t, rpm) + rng.normal(0, 8, len(out_t))}
    columns["throttle"] = np.clip(
        np.interp(out_t, t, throttle) + rng.normal(0, 1, len(out_t)) * spec.throttle_noise, -1, 101
    )
    if spec.has_egt:
        columns["egt"] = np.interp(out_t, t, _lag(gas_k - 273 - rng.uniform(0, 60), 2.0, dt))
    truths = {}
    for name, gases in channels.items():
        stream = 1.0 / np.mean([1.0 / g for g in gases], axis=0)
        read = _sensor(
            spec, rng, t, dt, _through(t, dt, m3_s, volume, spec.cycle_part * cycle, stream), out_t
        )
        columns[name] = read
        who = list(range(spec.cylinders)) if spec.collector else [int(name[-1]) - 1]
        true = 1.0 / np.mean([1.0 / burned[i] for i in who], axis=0)
        nearest = np.minimum(np.rint(out_t / dt).astype(int), n - 1)
        truths[name] = true[nearest]
    loaded = (throttle > 10) & (rpm > 500) & burning
    steady = (spec.cycle_part * cycle + volume / np.maximum(m3_s, 1e-6))[loaded]
    delay = float(np.median(steady)) + spec.dead_s + spec.lag_s
    frame = pl.DataFrame(columns, nan_to_null=True)
    return Ridden(spec, frame, _told(spec), truths, delay)


def _told(spec: Spec) -> Bike | None:
    """Return the bike as its tuner wrote it down."""
    if spec.told == "none":
        return None
    length = spec.length_mm * (spec.told_factor if spec.told == "wrong" else 1.0)
    pipe = {} if spec.told == "no pipe" else {"sensor_distance_mm": length, "pipe_bore_mm": spec.bore_mm}
    return Bike(
        name="Blind",
        strokes=spec.strokes,
        cylinders=spec.cylinders,
        displacement_cc=spec.cc,
        sensor="collector" if spec.collector else "each",
        **pipe,
    )


def _script(spec: Spec, rng, t, dt):
    """Return throttle [%], speed [1/min] and whether the spark is on."""
    idle, top = rng.uniform(1100, 1700), rng.uniform(7500, 11_000)
    at, levels, takes, aims = 0.0, [], [], []
    begins = []
    last_full = False
    while at < t[-1]:
        begins.append(at)
        if spec.kind == "constant":
            level, aim, hold = 45.0, 0.6, 1e9
        elif spec.kind == "few steps":
            level, aim, hold = (
                (40.0, 0.6, spec.seconds / 2.5) if len(begins) % 2 else (70.0, 0.75, spec.seconds / 2.5)
            )
        elif spec.kind == "dyno":
            phase = (len(begins) - 1) % 4
            level = (rng.uniform(15, 40), 100.0, 0.0, 0.0)[phase]
            aim = (0.4, 1.0, 0.3, idle / top)[phase]
            hold = (4, 9, 2.5, 4)[phase] * rng.uniform(0.8, 1.2)
        else:
            full = not last_full and rng.random() < 0.3
            shut = not full and rng.random() < (0.15 if spec.kind == "track" else 0.25)
            level = 100.0 if full else 0.0 if shut else rng.uniform(6, 90)
            aim = (
                0.95
                if full
                else (0.35 if rng.random() < 0.7 else idle / top)
                if shut
                else rng.uniform(0.3, 0.9)
            )
            hold = rng.uniform(1.5, 8) if spec.kind == "track" else rng.uniform(1, 14)
            last_full = full
        levels.append(level)
        aims.append(aim * top)
        takes.append(rng.uniform(0.06, 0.4) if spec.kind != "road" else rng.uniform(0.08, 0.9))
        at += hold
    times, values = [0.0], [levels[0]]
    for begin, level, take in zip(begins[1:], levels[1:], takes[1:], strict=True):
        times += [begin, begin + take]
        values += [values[-1], level]
    throttle = np.interp(t, times, values)
    hand = _wander(rng, len(t), dt, 0.4, 1.2)
    throttle = np.clip(_lag(throttle + hand * ((throttle > 1) & (throttle < 99)), 0.03, dt), 0, 100)
    aim = np.array(aims)[np.clip(np.searchsorted(begins, t, side="right") - 1, 0, None)]
    rpm = _lag(_lag(aim, rng.uniform(0.3, 1.6), dt), 0.15, dt)
    rpm = rpm * (1 + _wander(rng, len(t), dt, 0.004, 0.8))
    burning = np.ones(len(t), bool)
    for _ in range(spec.cuts):
        start = rng.uniform(0.1, 0.9) * t[-1]
        burning[(t > start) & (t < start + rng.uniform(0.1, 0.8))] = False
    if spec.chop:
        begin = t[-1] - 6.0
        burning[t > begin] = False
        rpm = np.where(t > begin, rpm * np.exp(-np.maximum(t - begin, 0) / 0.5), rpm)
        rpm = np.where(rpm < 150, 0.0, rpm)
    return throttle, rpm, burning


def _filling(rng, throttle, rpm):
    """Return the volumetric efficiency: what the engine wants against what the throttle passes."""
    peak, tall, breadth = rng.uniform(5500, 9000), rng.uniform(0.8, 1.0), rng.uniform(4000, 9000)
    wanted = tall * np.exp(-(((rpm - peak) / breadth) ** 2) * 0.5)
    area = rng.uniform(0.02, 0.05) + (throttle / 100.0) ** rng.uniform(1.0, 1.5)
    passed = rng.uniform(1.6, 2.6) * area * 9000.0 / np.maximum(rpm, 300)
    return wanted * passed / (wanted**3 + passed**3) ** (1 / 3)


def _map(spec: Spec, rng):
    """Return lambda by throttle and speed, at random."""
    base, spread = rng.uniform(0.85, 0.93), spec.map_spread
    slope, bump = rng.normal(0, 0.015), rng.normal(0, 0.015)
    at, wide = rng.uniform(4000, 8000), rng.uniform(800, 2000)
    edges = np.array([0, 8, 15, 22, 30, 65, 80, 100]) + rng.uniform(-2, 2, 8)
    values = base + spread * np.repeat(rng.permutation([-1.2, -0.4, 0.4, 1.2]) + rng.normal(0, 0.2, 4), 2)
    phase, k = rng.uniform(0, 2 * np.pi), rng.uniform(0.6, 1.6)

    def of_throttle(throttle):
        if spec.map_kind == "circuits":
            return np.interp(throttle, edges, values)
        return base + spread * (np.cos(phase + k * np.pi * throttle / 100) - 0.5 * np.exp(-throttle / 12))

    if spec.map_kind == "flat":
        return lambda throttle, rpm: np.full(len(throttle + rpm), base)
    return lambda throttle, rpm: (
        of_throttle(throttle)
        + slope * (rpm - 6000) / 3000
        + bump * np.exp(-(((rpm - at) / wide) ** 2)) * throttle / 100
    )


def _through(t, dt, m3_s, volume, wait_s, stream):  # noqa: PLR0917  # a parcel's whole way
    """Return the gas at the sensor: each parcel arrives when as much as fills the pipe has followed it."""
    left = np.maximum.accumulate(t + wait_s)  # when what burned at t goes through the valve
    passed = np.concatenate(([0.0], np.cumsum(np.maximum(m3_s, volume / 400) * dt)[:-1]))
    at_exit = np.interp(left, t, passed)
    arrives = np.interp(at_exit + volume, passed, t, right=t[-1] + 1.0)
    return np.interp(t, arrives + np.arange(len(t)) * 1e-12, stream)


def _sensor(spec, rng, t, dt, gas, out_t):  # noqa: PLR0917  # clock, gas and what hurts it
    """Return readings at the logger's times: dead time, first-order answer, noise, faults."""
    late = np.interp(t - spec.dead_s, t, gas)
    seen = 1 / _lag(1 / late, spec.lag_s, dt) if spec.lag_on_phi else _lag(late, spec.lag_s, dt)
    read = np.interp(out_t, t, seen)
    step = float(np.median(np.diff(out_t)))
    if spec.noise_s > 0:
        read += 0.7 * _wander(rng, len(out_t), step, spec.noise, spec.noise_s)
        read += 0.7 * rng.normal(0, spec.noise, len(out_t))
    else:
        read += rng.normal(0, spec.noise, len(out_t))
    read = np.round(np.clip(read, *spec.clip), 3)
    read[rng.random(len(out_t)) < spec.nulls] = np.nan
    for _ in range(spec.gaps):
        start = rng.uniform(0, out_t[-1])
        read[(out_t > start) & (out_t < start + rng.uniform(0.3, 5))] = np.nan
    if spec.slow_lambda_hz and spec.rate_hz > spec.slow_lambda_hz:
        every = round(spec.rate_hz / spec.slow_lambda_hz)
        read[np.arange(len(out_t)) % every != 0] = np.nan
    return read


def _clock(spec, rng, end):
    """Return the times of the rows, a little uneven."""
    count = int(end * spec.rate_hz)
    return np.sort(np.arange(count) / spec.rate_hz + rng.uniform(0, 0.1 / spec.rate_hz, count))


def _lag(x, tau, dt):
    """Return the exact answer of a first-order lag to an input held over each short step."""
    if tau <= 0:
        return x.copy()
    a = np.exp(-dt / tau)
    return lfilter([1 - a], [1, -a], x, zi=[a * x[0]])[0]


def _wander(rng, n, dt, sd, tau):
    """Return a stationary first-order wander."""
    if sd == 0:
        return np.zeros(n)
    a = np.exp(-dt / tau)
    start = rng.normal(0, sd)
    return lfilter([1.0], [1, -a], rng.normal(0, sd * np.sqrt(1 - a * a), n), zi=[a * start])[0]
