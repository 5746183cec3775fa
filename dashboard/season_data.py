"""What the pages load of a bike's season and its to-do; a part of dashboard.data."""

from dataclasses import dataclass
from pathlib import Path

from bridge.agreement.kept_promises import kept_promises
from bridge.agreement.leaner import cautions_of_promise
from bridge.agreement.promises import Came
from bridge.agreement.season import Filters, Gathered, Season, cut_after, season
from bridge.bands import Bands, bands
from bridge.errors import SootlineError, UnknownThing
from bridge.logbook import Logbook
from bridge.model import PlugLife, Run, Session, Task
from bridge.plug.hours import with_ran
from dashboard.cache import Cache
from dashboard.compared import Compared, told_of


@dataclass(frozen=True)
class Seen:
    """A plug as it was read after a session.

    Attributes:
        session: the session.
        life: the plug with its reading.
        why_not: why it makes no pair; None where it makes one.
    """

    session: Session
    life: PlugLife
    why_not: str | None


@dataclass(frozen=True)
class SeasonPicture:
    """A bike's season for its page.

    Attributes:
        bike: its name.
        gathered: all its pairs.
        season: those looked at, held against each other.
        seen: every plug that was read, in order of time.
        choices: what can be asked for, by filter.
        setups: likewise, by key of the set-up.
    """

    bike: str
    gathered: Gathered
    season: Season
    seen: tuple[Seen, ...]
    choices: dict[str, list[str]]
    setups: dict[str, list[str]]


class SeasonData(Compared):
    """Seasons, and what is to be done."""

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        self._promised: Cache[Bands] = Cache(64)

    def season(self, bike: str, filters: Filters) -> SeasonPicture:
        """Return a bike's season.

        Raises:
            UnknownThing: there is no such bike.
            BadValue: a filter's word is none that any pair has.
        """
        with self._reading() as logbook:
            known = [one.name for one, _ in logbook.bikes()]
            if bike not in known:
                there = f"there is {', '.join(known)}" if known else "there is none yet"
                raise UnknownThing(f"there is no bike '{bike}' in this logbook; {there}")
            gathered = self._gathered(logbook, bike)
            return SeasonPicture(
                bike,
                gathered,
                season(gathered, filters),
                tuple(_seen(logbook, bike, gathered)),
                _choices(gathered),
                _setups(gathered),
            )

    def promised(self, bike: str) -> tuple[list[Task], list[Came]]:
        """Return the to-do of a bike, and what came of what was promised."""
        with self._reading() as logbook:
            tasks = logbook.tasks(bike=bike)
            return tasks, kept_promises(logbook, tasks, lambda run: self._bands_of(logbook, run))

    def _bands_of(self, logbook: Logbook, run: Run) -> Bands:
        key = (self._stamp(logbook, run.session.id), told_of(run))
        return self._promised.get(key, lambda: bands(run))

    def tasks(self, number: int) -> list[Task]:
        """Return the to-do of one session."""
        with self._reading() as logbook:
            return logbook.tasks(session=number)

    def add_task(
        self, number: int, what: str, *, cylinder: int | None, because: str | None, promise: float | None
    ) -> tuple[Task, str]:
        """Write down what is to be done; return it with the caution that stands beside a plan to go leaner."""
        with self._writing() as logbook:
            caution = cautions_of_promise(logbook, number, cylinder, promise)
            task = logbook.add_task(number, what, cylinder=cylinder, because=because, promise=promise)
            return task, caution

    def finish_task(self, task: int, note: str | None) -> Task:
        """Tick something off."""
        with self._writing() as logbook:
            return logbook.finish_task(task, note)


def _seen(logbook: Logbook, bike: str, gathered: Gathered) -> list[Seen]:
    why = {(one.session, one.plug): one.why for one in gathered.left_out}
    found: list[Seen] = []
    for session in logbook.sessions(bike):
        if session.state != "sealed":
            continue
        try:
            lives = logbook.plug_lives(session.id)
        except SootlineError:  # the season says of it why it is left out
            continue
        found += [
            Seen(session, with_ran(life), why.get((session.id, life.fitting.plug)))
            for life in lives
            if life.reading
        ]
    return found


def _choices(gathered: Gathered) -> dict[str, list[str]]:
    """Return what can be asked for, where there is more than one thing to choose from."""
    held: dict[str, set[object]] = {
        "plug_type": {pair.kept.plug_type for pair in gathered.pairs},
        "fuel": {pair.about.fuel for pair in gathered.pairs},
        "place": {pair.about.place for pair in gathered.pairs},
        "build": {pair.about.build for pair in gathered.pairs},
        "cut_after": {cut_after(pair) for pair in gathered.pairs},
    }
    return _where_there_is_a_choice(held)


def _setups(gathered: Gathered) -> dict[str, list[str]]:
    """Return the keys of the set-up that the tuner changed, each with its values; a needle's are told apart by none."""
    keys = {
        key for pair in gathered.pairs for key, value in pair.setup.items() if isinstance(value, (int, float))
    }
    return _where_there_is_a_choice(
        {key: {pair.setup.get(key) for pair in gathered.pairs} for key in sorted(keys)}
    )


def _where_there_is_a_choice(held: dict[str, set[object]]) -> dict[str, list[str]]:
    found = {name: {value for value in values if value is not None} for name, values in held.items()}
    return {name: sorted(map(_plain, values)) for name, values in found.items() if len(values) > 1}


def _plain(value: object) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)
