"""A logbook of invented dynamometer days with a known truth, for the pages of pulls."""

from datetime import timedelta
from pathlib import Path

import numpy as np
import polars as pl

from bridge.logbook import Logbook
from bridge.model import Bike, Brake, Mark, Setup
from bridge.model.sealed import SealedFrame
from tests.bridge.pulls.dyno_days import BIKE, STEP_S, WEATHER, frame_of
from tests.dashboard.invented import STARTED

UNITS = {"rpm": "/min", "roller_rpm": "/min", "throttle": "%", "lambda": "1", "egt": "Cel", "cht": "Cel"}
UNITS |= {"torque": "N.m"}
NAME = BIKE.name


def add_day(
    logbook: Logbook,
    frame: pl.DataFrame,
    number: int,
    *,
    marks: tuple[Mark, ...] = (),
    bike: str = NAME,
    weather: bool = True,
) -> int:
    """Put a dynamometer day into a logbook.

    Returns:
        The session's number.
    """
    raw = logbook.folder / f"dyno-{number}.csv"
    frame.head(5).write_csv(raw)
    names = [name for name in frame.columns if name != "t_s"]
    units = {name: UNITS[name if name in UNITS else name.rsplit("_", 1)[0]] for name in names}
    session = logbook.import_session(
        SealedFrame(frame.with_columns(pl.exclude("t_s").cast(pl.Float32)), units, marks=marks),
        raw,
        sha256=f"{number:064d}",
        bike=bike,
        place="Tin shed",
        started=STARTED + timedelta(days=number),
        kind="dyno",
    )
    setup = {"fuel": "e5", **({"weather": WEATHER.model_dump()} if weather else {})}
    logbook.set_setup(session, Setup.model_validate(setup))
    return session


def chopped(frame: pl.DataFrame) -> tuple[Mark, ...]:
    """Return a chop a second after the last pull of a day."""
    end = frame.filter(pl.col("throttle") > 99.0)["t_s"].max()
    return (Mark(float(end) + 1.0, "chop", "hand"),)


def fill_days(folder: Path, bike: Bike = BIKE) -> Path:
    """Make a logbook of six days.

    Sessions 1 and 3 are before a change, 2 is after it and 6 % stronger; 4 is rich and 3 % weaker, 5 lean and 2 %
    weaker; of session 6 nothing but engine speed, throttle and one lambda was recorded.

    Returns:
        The folder.
    """
    with Logbook.open(folder, write=True) as logbook:
        logbook.add_bike(bike)
        scales = (1.0, 1.004, 0.997, 1.002)
        days = (
            (scales, (0.87, 0.89)),
            (tuple(1.06 * scale for scale in scales), (0.87, 0.89)),
            (scales[::-1], (0.87, 0.89)),
            (tuple(0.97 * scale for scale in scales), (0.80, 0.82)),
            (tuple(0.98 * scale for scale in scales), (0.95, 0.97)),
        )
        for number, (powers, mixture) in enumerate(days, 1):
            frame = frame_of(powers, seed=number, mixture=mixture)
            add_day(logbook, frame, number, marks=chopped(frame) if number == 1 else ())
        bare = frame_of(scales[:2], seed=9).select("t_s", "rpm", "throttle", "lambda_1")
        add_day(logbook, bare, 6)
    return folder


def held_frame(rad_s: float = 140.0, torque_nm: float = 200.0) -> pl.DataFrame:
    """Return a day with a pull, and after it a speed of the roller [rad/s] that a brake held for 8 s."""
    pull = frame_of((1.0,)).with_columns(torque=pl.lit(0.0))
    rng = np.random.default_rng(5)
    throttle = np.repeat([20.0, 100.0, 20.0], [250, 400, 150])
    n, turns_min = len(throttle), 60.0 / (2.0 * np.pi)
    held = pl.DataFrame(
        {
            "t_s": pull["t_s"][-1] + STEP_S * np.arange(1, n + 1),
            "rpm": (5.0 * rad_s + rng.normal(0.0, 0.3, n)) * turns_min,
            "throttle": throttle,
            "roller_rpm": (rad_s + rng.normal(0.0, 0.05, n)) * turns_min,
            "egt_1": np.full(n, 600.0),
            "egt_2": np.full(n, 590.0),
            "lambda_1": np.full(n, 0.88),
            "lambda_2": np.full(n, 0.91),
            "torque": np.where(throttle > 99.0, torque_nm, 10.0) + rng.normal(0.0, 1.0, n),
        }
    )
    return pl.concat([pull, held.select(pull.columns)])


def fill_held(folder: Path) -> Path:
    """Make a logbook of one day, on which a brake held a speed.

    Returns:
        The folder.
    """
    with Logbook.open(folder, write=True) as logbook:
        logbook.add_bike(BIKE.model_copy(update={"brake": Brake()}))
        add_day(logbook, held_frame(), 1)
    return folder
