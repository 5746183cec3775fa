"""An invented logbook for the dashboard's tests, made through the logbook itself."""

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import polars as pl
from numpy.typing import NDArray

from bridge.align import Found, geometry_delay
from bridge.logbook import Logbook
from bridge.model import Bike, Mark, PlugSpec, Setup, Weather
from bridge.model.plug import FittedState
from bridge.model.sealed import SealedFrame

Array = NDArray[np.float64]


def geometry_alone(  # noqa: PLR0917  # as session_delay has them
    t_s: Array,
    rpm: Array,
    throttle: Array | None,
    egt_c: Array | None,
    _lambdas: Mapping[str, Array],
    bike: Bike | None,
    weather: Weather,
) -> Found:
    """Stand in for the search of a ride's delay: it takes seconds, and no test of a page is about it."""
    delay, later_s = geometry_delay(t_s, rpm, throttle, egt_c, bike, weather)
    return Found(delay, later_s, None)


STARTED = datetime(2026, 5, 14, 9, 20, tzinfo=UTC)
UNITS = {"rpm": "/min", "throttle": "%", "lambda": "1", "egt": "Cel"}


def twin(name: str = "Hollow Lane 400") -> Bike:
    """Return an invented four-stroke twin."""
    return Bike(
        name=name,
        strokes=4,
        cylinders=2,
        displacement_cc=398,
        carburettors=2,
        sensor_distance_mm=900,
        pipe_bore_mm=38,
        plug=PlugSpec(type="short reach, 12 mm", nose_mm=14.0),
    )


def ride(seed: int = 1, lambdas: tuple[float, ...] = (0.874, 0.872), seconds: float = 240.0) -> pl.DataFrame:
    """Return a practice: throttle held at steps, then full throttle to the end.

    Args:
        seed: of the noise.
        lambdas: at full throttle, one for each cylinder [1].
        seconds: length [s].
    """
    rng = np.random.default_rng(seed)
    t_s = np.arange(0.0, seconds, 0.02)
    steps = np.array([6.0, 18.0, 38.0, 62.0, 100.0, 20.0, 55.0, 100.0, 40.0, 100.0])
    held = steps[np.minimum((t_s / seconds * len(steps)).astype(int), len(steps) - 1)]
    rpm = 3500.0 + 62.0 * held + 500.0 * np.sin(t_s / 31.0)
    columns = {
        "rpm": rpm + rng.normal(0, 8, len(t_s)),
        "throttle": np.clip(held + rng.normal(0, 0.2, len(t_s)), 0, 100),
    }
    for number, lambda_ in enumerate(lambdas, 1):
        columns[f"lambda_{number}"] = lambda_ + 0.0004 * (100.0 - held) * 0.5 + rng.normal(0, 0.006, len(t_s))
        columns[f"egt_{number}"] = 520.0 + 2.0 * held + rng.normal(0, 2, len(t_s))
    frame = pl.DataFrame({"t_s": t_s, **columns})
    return frame.with_columns(pl.exclude("t_s").cast(pl.Float32))


def add_session(
    logbook: Logbook,
    frame: pl.DataFrame,
    *,
    bike: str | None,
    place: str | None = "Hollow Lane",
    days: int = 0,
    notes: tuple[str, ...] = (),
) -> int:
    """Put a frame into a logbook as an imported session.

    Returns:
        Its number.
    """
    raw = logbook.folder / f"invented-{days}.csv"
    frame.head(5).write_csv(raw)
    units = {name: UNITS.get(name.rsplit("_", 1)[0], "") for name in frame.columns if name != "t_s"}
    end = float(frame["t_s"][-1])
    sealed = SealedFrame(frame, units, marks=(Mark(end - 0.5, "chop", "wire"),), notes=notes)
    return logbook.import_session(
        sealed,
        raw,
        sha256=f"{days:064d}",
        bike=bike,
        place=place,
        started=STARTED + timedelta(days=days),
        kind="practice",
    )


def fill(folder: Path) -> Path:
    """Make a logbook with a twin, one session that was read and one whose tray is empty.

    Returns:
        The folder.
    """
    with Logbook.open(folder, write=True) as logbook:
        logbook.add_bike(twin())
        logbook.state_scale("Hollow Lane 400", depth_mm=6.5, sd_mm=0.4, lambda_=0.87)
        first = add_session(logbook, ride(1), bike="Hollow Lane 400")
        logbook.set_setup(first, Setup.model_validate({"fuel": "e5", "weather": {"air_temp_c": 18.0}}))
        logbook.fit("B1", cylinder=1, session=first, state="new")
        logbook.fit("B2", cylinder=2, session=first, state="used")
        logbook.read("B1", session=first, ring_mm=6.8, view="cut")
        logbook.read("B2", session=first, ring_mm=8.9)
        logbook.pull_all(first)
        add_session(logbook, ride(2), bike="Hollow Lane 400", place="Long Straight", days=1)
    return folder


def fill_season(folder: Path, depths: tuple[float, ...] = (5.9, 7.1, 8.2, 6.4)) -> Path:
    """Make a logbook with a twin's sessions a week apart: other jets each, both plugs read, rings as the law has them.

    Args:
        folder: where it goes.
        depths: of the rings in each session [mm]; the last session's second plug is a used one.

    Returns:
        The folder.
    """
    with Logbook.open(folder, write=True) as logbook:
        logbook.add_bike(twin())
        for day, depth in enumerate(depths):
            level = 0.87 + (depth - 7.0) / 50.0
            number = add_session(
                logbook,
                ride(day, (level, level), seconds=100.0),
                bike="Hollow Lane 400",
                days=7 * day,
                place="Weir" if day < 2 else "Mole",
            )
            for cylinder in (1, 2):
                state: FittedState = "used" if (day, cylinder) == (len(depths) - 1, 2) else "new"
                logbook.fit(f"P{day}{cylinder}", cylinder=cylinder, session=number, state=state)
                logbook.read(f"P{day}{cylinder}", session=number, ring_mm=depth, view="cut", specks="none")
            logbook.pull_all(number)
    return folder


def add_departing(folder: Path) -> int:
    """Add a session whose sensor of cylinder 1 reads 0.08 too lean; both rings are as ever.

    Returns:
        Its number.
    """
    with Logbook.open(folder, write=True) as logbook:
        number = add_session(logbook, ride(9, (0.95, 0.87), seconds=100.0), bike="Hollow Lane 400", days=60)
        for cylinder in (1, 2):
            logbook.fit(f"P9{cylinder}", cylinder=cylinder, session=number, state="new")
            logbook.read(f"P9{cylinder}", session=number, ring_mm=7.0, view="cut", specks="none")
        logbook.pull_all(number)
    return number
