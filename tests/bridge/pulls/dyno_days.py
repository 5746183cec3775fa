"""Dynamometer days with a known truth. Invented."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import polars as pl

from bridge.model import Bike, Road, Roller, Setup, Weather
from tests.virtual_runs import run_of

STEP_S, INERTIA = 0.02, 12.0
WEATHER = Weather(air_temp_c=22.0, air_pressure_hpa=1005.0, humidity_percent=45.0)
BIKE = Bike(
    name="Hollow Lane 400",
    strokes=4,
    cylinders=2,
    displacement_cc=398.0,
    sensor_distance_mm=900.0,
    pipe_bore_mm=38.0,
    roller=Roller(inertia_kg_m2=INERTIA),
    road=Road(),
)


def power_w(rad_s, scale=1.0):
    """Power at the roller [W]: 35 kW at 140 rad/s."""
    return scale * 35e3 * (1.0 - ((rad_s - 140.0) / 100.0) ** 2)


def one_pull(scale=1.0, from_=80.0, to=200.0, inertia=INERTIA):
    """Roller speeds of a pull [rad/s]."""
    speeds, fine = [from_], 10
    while speeds[-1] < to:
        speed = speeds[-1]
        for _ in range(fine):
            speed += power_w(speed, scale) / (inertia * speed) * STEP_S / fine
        speeds.append(speed)
    return np.array(speeds)


def frame_of(
    scales, *, seed=1, mixture=(0.87, 0.89), noise=0.1, turns=5.0, rest_s=20.0, heads=None, coast_s=None
):
    """Return samples of a day: part throttle, a pull for each scale, the roller running out.

    Args:
        scales: of each pull's power.
        seed: of the noise.
        mixture: lambda of both cylinders at the end of a pull; it is 0.02 richer where the pull begins.
        noise: of the roller's speed [rad/s].
        turns: of the engine for each of the roller.
        rest_s: between pulls [s].
        heads: head temperature at each pull's start [Cel].
        coast_s: time in which the roller loses its speed by a factor of e [s]; None stops it at once by a brake.
    """
    rng = np.random.default_rng(seed)
    roller, throttle, rpm, share, head = [], [], [], [], []

    def add(speeds, opening, engine, part, warm):
        roller.append(speeds)
        throttle.append(np.full(len(speeds), opening))
        rpm.append(engine)
        share.append(part)
        head.append(np.full(len(speeds), warm))

    for i, scale in enumerate(scales):
        warm = 80.0 if heads is None else heads[i]
        slow = np.full(round(rest_s / 2.0 / STEP_S), 80.0)
        add(slow, 20.0, slow * turns, np.zeros(len(slow)), warm)
        pull = one_pull(scale)
        add(pull, 100.0, pull * turns, (pull - 80.0) / 120.0, warm)
        t = np.arange(round(rest_s / 2.0 / STEP_S)) * STEP_S
        falls = 200.0 * np.exp(-t / (1.5 if coast_s is None else coast_s))
        engine = np.maximum(200.0 * turns * np.exp(-t / 0.6), 150.0)
        add(np.maximum(falls, 1.0), 0.0, engine, np.zeros(len(t)), warm)
    roller, throttle, rpm, share, head = (np.concatenate(x) for x in (roller, throttle, rpm, share, head))
    n = len(roller)
    columns = {
        "t_s": np.arange(n) * STEP_S,
        "rpm": (rpm + rng.normal(0.0, 0.3, n)) * 60.0 / (2.0 * np.pi),
        "throttle": throttle,
        "roller_rpm": np.maximum(roller + rng.normal(0.0, noise, n), 0.0) * 60.0 / (2.0 * np.pi),
        "egt_1": 500.0 + 200.0 * share,
        "egt_2": 490.0 + 200.0 * share,
    }
    for cylinder, lean in enumerate(mixture, 1):
        columns[f"lambda_{cylinder}"] = lean - 0.02 * (1.0 - share) + rng.normal(0.0, 0.004, n)
    if heads is not None:
        columns["cht_1"] = head
    return pl.DataFrame(columns)


def day(scales, *, number=1, bike=BIKE, setup=None, marks=(), keep=None, **what):
    """Return a session of such a day."""
    frame = frame_of(scales, **({"seed": number} | what))
    run = run_of(
        frame if keep is None else frame.select(keep),
        number=number,
        bike=bike,
        setup=setup or Setup(kind="dyno", fuel="e5", weather=WEATHER),
        marks=marks,
    )
    return replace(run, session=replace(run.session, started=run.session.started + timedelta(hours=number)))
