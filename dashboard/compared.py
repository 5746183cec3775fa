"""Sessions compared, and held against their bike's history; a part of dashboard.data."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from bridge.agreement import Comparison
from bridge.agreement.against_history import with_history
from bridge.agreement.compare import compare_alone
from bridge.agreement.season import Gathered, kept_pairs
from bridge.logbook import Logbook
from bridge.model import PlugLife, Run, ScaleStatement
from dashboard.cache import Cache
from dashboard.opened import Opened


class Compared(Opened):
    """What takes seconds is worked out once: the run with its delay, a session's own comparison, a bike's pairs."""

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        self._runs: Cache[Run] = Cache(64)
        self._alone: Cache[Comparison] = Cache(256)
        self._histories: Cache[Gathered] = Cache(16)
        # the two that an answer was made from stay with it, so that no other object takes their identity
        self._whole: Cache[tuple[Comparison, Gathered, Comparison]] = Cache(256)

    def _run(self, logbook: Logbook, number: int) -> Run:
        return self._same(logbook, logbook.run(number))

    def _compare(self, logbook: Logbook, run: Run) -> tuple[Comparison, tuple[PlugLife, ...]]:
        """Return what a session's two methods say, by its bike's other sessions too."""
        lives = self._lives(logbook, run)
        statements = self._words(logbook, run)
        alone = self._compared(logbook, run, lives, statements)
        if run.bike is None:
            return alone, lives
        bike = run.bike.name
        gathered = self._gathered(logbook, bike)
        # both come from caches, so that the same two are the same answer
        found = self._whole.get(
            (id(alone), id(gathered)),
            lambda: (alone, gathered, with_history(alone, run, statements, gathered.of_bike(bike))),
        )
        return found[2], lives

    def _gathered(self, logbook: Logbook, bike: str) -> Gathered:
        """Return a bike's pairs; worked out anew when anything was written into the logbook."""
        return self._histories.get(
            (bike, self._written()),
            lambda: kept_pairs(
                logbook,
                bike,
                lambda run, lives: self._compared(logbook, run, lives, self._words(logbook, run)),
            ),
        )

    def _words(self, logbook: Logbook, run: Run) -> tuple[ScaleStatement, ...]:
        return tuple(logbook.statements(run.bike.name)) if run.bike else ()

    def _compared(
        self, logbook: Logbook, run: Run, lives: Sequence[PlugLife], statements: tuple[ScaleStatement, ...]
    ) -> Comparison:
        numbers = {run.session.id, *(one.session.id for life in lives for one in life.runs)}
        key = (
            tuple(self._stamp(logbook, number) for number in sorted(numbers)),
            repr(run.session),
            told_of(run),
            repr([(life.fitting, life.reading, life.heat_range) for life in lives]),
            repr([told_of(one) for life in lives for one in life.runs]),
            repr(statements),
        )
        return self._alone.get(key, lambda: compare_alone(run, lives, statements))

    def _lives(self, logbook: Logbook, run: Run) -> tuple[PlugLife, ...]:
        return tuple(
            replace(life, runs=tuple(self._same(logbook, one) for one in life.runs))
            for life in logbook.plug_lives(run.session.id)
        )

    def _same(self, logbook: Logbook, run: Run) -> Run:
        """Return the run that was had before where nothing of it has changed: its delay is known by itself."""
        told = repr((run.session, run.marks, run.states))
        return self._runs.get((self._stamp(logbook, run.session.id), told, told_of(run)), lambda: run)

    def _stamp(self, logbook: Logbook, number: int) -> tuple[int, int, int]:
        """Return what changes when a session's samples are made anew."""
        path = logbook.samples_path(number)
        if not path.exists():
            return number, 0, 0
        status = path.stat()
        return number, status.st_mtime_ns, status.st_size

    def _written(self) -> tuple[tuple[int, int], ...]:
        """Return what changes when anything is written into the logbook."""
        found = []
        for name in ("logbook.sqlite", "logbook.sqlite-wal"):
            path = self.folder / name
            status = path.stat() if path.exists() else None
            found.append((status.st_mtime_ns, status.st_size) if status else (0, 0))
        return tuple(found)


def told_of(run: Run) -> str:
    """Return all that was told of a session beside its samples and that its answers depend on."""
    return repr((run.bike, run.setup, run.sensor_events, run.gas, run.notes))
