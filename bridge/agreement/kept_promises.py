"""Which later run answers each promise, looked up in a logbook."""

from collections.abc import Callable, Sequence
from typing import Protocol

from bridge.agreement.promises import Came, came, next_of
from bridge.bands import Bands, bands
from bridge.errors import RequestError
from bridge.model import Run, Session, Setup, Task


class Logbook(Protocol):
    """What is asked of a logbook."""

    def sessions(self, bike: str | None = None) -> list[Session]:
        """Return the sessions in order of their start."""

    def session(self, session: int) -> Session:
        """Return one session."""

    def run(self, session: int) -> Run:
        """Return a session with everything that analysis needs."""


def kept_promises(
    logbook: Logbook, tasks: Sequence[Task], bands_of: Callable[[Run], Bands] = bands
) -> list[Came]:
    """Hold each promise against the next session that can tell what came of it.

    Args:
        logbook: to look in.
        tasks: those without a promise are passed over.
        bands_of: how a run's bands are had; a cache may stand in.
    """
    found: dict[int, tuple[Run, Bands] | None] = {}

    def at(number: int) -> tuple[Run, Bands] | None:
        if number not in found:
            try:
                run = logbook.run(number)
                found[number] = run, bands_of(run)
            except RequestError:  # without samples or engine speed it answers no promise
                found[number] = None
        return found[number]

    return [_answered(logbook, task, at) for task in tasks if task.promise is not None]


def _answered(logbook: Logbook, task: Task, at: Callable[[int], tuple[Run, Bands] | None]) -> Came:
    bike = logbook.session(task.session).bike
    before = at(task.session)
    last = None
    for number in next_of(task, logbook.sessions(bike)) if bike else []:
        after = at(number)
        if after is None:
            continue
        last = came(
            task,
            before[1] if before else None,
            after[1],
            (before[0].setup.weather if before else None, after[0].setup.weather),
            changed=task.done is not None or before is None or _changed(before[0].setup, after[0].setup),
        )
        if last.change is not None:
            return last
    return last or came(task, before[1] if before else None, None)


def _changed(before: Setup, after: Setup) -> bool:
    """Return whether anything of a set-up changed that a person sets: not the day's weather, nor a note."""
    aside = {"weather", "note", "kind"}
    return before.model_dump(exclude=aside) != after.model_dump(exclude=aside)
