"""The one place where the dashboard loads from the bridge, and the cache in front of it.

Everything here may wait for the disk, so pages call it in a thread (``asyncio.to_thread``). The logbook is
opened anew for each request: reading for looking, writing only for what a person did on the tray.
"""

from collections import OrderedDict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from threading import Lock
from typing import Any, Generic, TypeVar

from bridge.agreement import Comparison, CylinderResult, compare
from bridge.bands import Bands, bands
from bridge.errors import RequestError
from bridge.logbook import Logbook
from bridge.model import Fitting, Mark, PlugLife, Reading, Run, Session
from dashboard.figures.reduce import Series, reduce_window

Value = TypeVar("Value")


class Cache(Generic[Value]):
    """Keeps what was worked out last; a key says everything that the value depends on."""

    def __init__(self, size: int) -> None:
        self._size, self._kept, self._lock = size, OrderedDict[Any, Value](), Lock()

    def get(self, key: object, make: Callable[[], Value]) -> Value:
        """Return the value of a key, made now where it is not kept."""
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key]
        value = make()
        with self._lock:
            self._kept[key] = value
            while len(self._kept) > self._size:
                self._kept.popitem(last=False)
        return value


@dataclass(frozen=True)
class Picture:
    """A session with everything its page shows."""

    run: Run
    lives: tuple[PlugLife, ...]
    comparison: Comparison
    bands: Bands | None
    bands_missing: str | None = None
    """Why there are no bands, in the bridge's own sentence."""


@dataclass(frozen=True)
class Tray:
    """The plugs of a session in cylinder order.

    Attributes:
        run: the session.
        comparison: what each cylinder says; its cylinders are the places of the tray.
    """

    run: Run
    comparison: Comparison

    def place(self, cylinder: int) -> CylinderResult | None:
        """Return one cylinder's place, None for a number that this bike has not."""
        return next((place for place in self.comparison.cylinders if place.cylinder == cylinder), None)


COLUMNS = 5
"""As many engine-speed columns as a phone can show."""
_STEPS = (500.0, 1000.0, 1500.0, 2000.0, 2500.0, 3000.0, 4000.0, 5000.0)


class Source:
    """One logbook, for the pages of one app."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._comparisons: Cache[Comparison] = Cache(256)
        self._bands: Cache[Bands] = Cache(32)
        self._series: Cache[tuple[Series, ...]] = Cache(64)

    @contextmanager
    def _reading(self) -> Iterator[Logbook]:
        with Logbook.open(self.folder, write=False) as logbook:
            yield logbook

    @contextmanager
    def _writing(self) -> Iterator[Logbook]:
        with Logbook.open(self.folder, write=True) as logbook:
            yield logbook

    def sessions(self) -> list[Session]:
        """Return all sessions, the newest first."""
        with self._reading() as logbook:
            return sorted(logbook.sessions(), key=lambda session: session.started, reverse=True)

    def session(self, number: int) -> Session:
        """Return one session as it stands in the list.

        Raises:
            UnknownThing: there is none of that number.
        """
        with self._reading() as logbook:
            return logbook.session(number)

    def comparison(self, number: int) -> Comparison:
        """Return what a session's two methods say.

        Raises:
            UnknownThing: there is no such session.
        """
        with self._reading() as logbook:
            return self._compare(logbook, logbook.run(number))[0]

    def picture(self, number: int) -> Picture:
        """Return everything of a session.

        Raises:
            UnknownThing: there is no such session.
        """
        with self._reading() as logbook:
            run = logbook.run(number)
            comparison, lives = self._compare(logbook, run)
            key = (self._stamp(logbook, number), repr(run.bike), repr(run.setup))
            try:
                found, missing = self._bands.get(key, lambda: _few_columns(run)), None
            except (
                RequestError
            ) as error:  # such as a log without engine speed: the rest of the page still stands
                found, missing = None, str(error)
        return Picture(run, lives, comparison, found, missing)

    def marks(self, number: int) -> tuple[Mark, ...]:
        """Return the marked moments of a session."""
        with self._reading() as logbook:
            return logbook.run(number).marks

    def tray(self, number: int) -> Tray:
        """Return the plugs of a session.

        Raises:
            UnknownThing: there is no such session.
        """
        with self._reading() as logbook:
            run = logbook.run(number)
            return Tray(run, self._compare(logbook, run)[0])

    def series(self, number: int, window: tuple[float, float] | None) -> tuple[Series, ...]:
        """Return the traces of a session, thinned so that no peak is lost.

        Args:
            number: the session.
            window: seconds from and to; None for all.
        """
        with self._reading() as logbook:
            run = logbook.run(number)
            key = (self._stamp(logbook, number), window)
            return self._series.get(key, lambda: reduce_window(run.samples, window))

    def _stamp(self, logbook: Logbook, number: int) -> tuple[int, int, int]:
        """Return what changes when a session's samples are made anew."""
        path = logbook.samples_path(number)
        if not path.exists():
            return number, 0, 0
        status = path.stat()
        return number, status.st_mtime_ns, status.st_size

    def _compare(self, logbook: Logbook, run: Run) -> tuple[Comparison, tuple[PlugLife, ...]]:
        lives = tuple(logbook.plug_lives(run.session.id))
        statements = tuple(logbook.statements(run.bike.name)) if run.bike else ()
        numbers = {run.session.id, *(one.session.id for life in lives for one in life.runs)}
        key = (
            tuple(self._stamp(logbook, number) for number in sorted(numbers)),
            repr((run.session, run.bike, run.setup)),
            repr([(life.fitting, life.reading, life.heat_range) for life in lives]),
            repr([one.setup for life in lives for one in life.runs]),
            repr(statements),
        )
        return self._comparisons.get(key, lambda: compare(run, lives, statements)), lives

    def fit(self, label: str, **told: Any) -> Fitting:  # noqa: ANN401  # handed on as the form has it
        """Put a plug into a cylinder; errors are the logbook's own sentences."""
        with self._writing() as logbook:
            return logbook.fit(label, **told)

    def pull(self, label: str, number: int) -> Fitting:
        """Take a plug out after a session."""
        with self._writing() as logbook:
            return logbook.pull(label, session=number)

    def pull_all(self, number: int, *, order_lost: bool) -> list[Fitting]:
        """Take all plugs out after a session."""
        with self._writing() as logbook:
            return list(logbook.pull_all(number, order_lost=order_lost))

    def read(self, label: str, **told: Any) -> Reading:  # noqa: ANN401  # handed on as the form has it
        """Write a reading down."""
        with self._writing() as logbook:
            return logbook.read(label, **told)


def _few_columns(run: Run) -> Bands:
    """Return the bands, with steps of engine speed so wide that a phone can show them side by side."""
    fine = bands(run)
    held = fine.cells.drop_nulls(["lambda_mean", "rpm_from", "rpm_to"])
    if held.is_empty():
        return fine
    lowest, highest = min(held["rpm_from"].to_list()), max(held["rpm_to"].to_list())
    step = next((s for s in _STEPS if -(-highest // s) - lowest // s <= COLUMNS), _STEPS[-1])
    return fine if step == _STEPS[0] else bands(run, rpm_step=step)
