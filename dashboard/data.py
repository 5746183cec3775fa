"""The one place where the dashboard loads from the bridge, and the cache in front of it.

Everything here may wait for the disk, so pages call it in a thread (``asyncio.to_thread``). The logbook is
opened anew for each request: reading for looking, writing only for what a person did.
"""

from pathlib import Path
from typing import Any

from bridge.agreement import Comparison, CylinderResult
from bridge.bands import Bands, running
from bridge.channels.sensor import SensorEvent
from bridge.errors import RequestError, UnknownThing
from bridge.model import GasAnalysis, Mark, Session
from bridge.model.sensor_known import state_of
from dashboard.cache import Cache
from dashboard.compared import told_of
from dashboard.figures.reduce import Series, reduce_window
from dashboard.figures.states import Stretch
from dashboard.photo_data import PhotoData
from dashboard.pictures import Picture, Tray, Witnesses, air_of, few_columns, geometry_of, stretches
from dashboard.plug_data import PlugData
from dashboard.pulls_data import PullsData
from dashboard.season_data import SeasonData


class Source(PlugData, PhotoData, SeasonData, PullsData):
    """One logbook, for the pages of one app."""

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        self._bands: Cache[Bands] = Cache(32)
        self._series: Cache[tuple[Series, ...]] = Cache(64)
        self._states: Cache[tuple[Stretch, ...]] = Cache(32)
        self._geometry: Cache[float | None] = Cache(64)

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
            return self._compare(logbook, self._run(logbook, number))[0]

    def judgement(self, label: str, number: int) -> CylinderResult | None:
        """Return what a plug's place in a session says; None where the plug has none there.

        Raises:
            UnknownThing: there is no such session.
        """
        places = self.comparison(number).cylinders
        return next((one for one in places if one.life and one.life.fitting.plug == label), None)

    def picture(self, number: int) -> Picture:
        """Return everything of a session.

        Raises:
            UnknownThing: there is no such session.
        """
        with self._reading() as logbook:
            run = self._run(logbook, number)
            comparison, lives = self._compare(logbook, run)
            key = (self._stamp(logbook, number), told_of(run))
            air = air_of(run.setup.weather)
            try:
                found = self._bands.get(key, lambda: few_columns(run))
                geometry_s = self._geometry.get(key, lambda: geometry_of(run, running(run)))
            except (
                RequestError
            ) as error:  # such as a log without engine speed: the rest of the page still stands
                return Picture(run, lives, comparison, None, str(error), air)
        return Picture(run, lives, comparison, found, None, air, geometry_s)

    def witnesses(self, number: int) -> Witnesses:
        """Return what is known of a session's sensors and exhaust gas.

        Raises:
            UnknownThing: there is no such session.
        """
        with self._reading() as logbook:
            run = self._run(logbook, number)
            bike = run.bike
            each = bike is not None and bike.sensor == "each"
            cylinders = range(1, bike.cylinders + 1) if bike and each else (None,)
            events = logbook.sensor_events(bike.name) if bike else ()
            states = tuple(state_of(run, cylinder) for cylinder in cylinders)
            return Witnesses(run, self._compare(logbook, run)[0], states, events)

    def states(self, number: int) -> tuple[Stretch, ...]:
        """Return what each moment of a session was; nothing where it cannot be told."""
        with self._reading() as logbook:
            run = self._run(logbook, number)
            key = (self._stamp(logbook, number), told_of(run))
            try:
                return self._states.get(key, lambda: stretches(running(run)))
            except RequestError:  # the session's page says why
                return ()

    def marks(self, number: int) -> tuple[Mark, ...]:
        """Return the marked moments of a session."""
        with self._reading() as logbook:
            return self._run(logbook, number).marks

    def tray(self, number: int) -> Tray:
        """Return the plugs of a session.

        Raises:
            UnknownThing: there is no such session.
        """
        with self._reading() as logbook:
            run = self._run(logbook, number)
            return Tray(run, self._compare(logbook, run)[0], tuple(logbook.photos(number)))

    def series(self, number: int, window: tuple[float, float] | None) -> tuple[Series, ...]:
        """Return the traces of a session, thinned so that no peak is lost.

        Args:
            number: the session.
            window: seconds from and to; None for all.
        """
        with self._reading() as logbook:
            run = self._run(logbook, number)
            key = (self._stamp(logbook, number), told_of(run), window)
            return self._series.get(key, lambda: reduce_window(run.samples, window))

    def add_gas(self, number: int, **told: Any) -> GasAnalysis:  # noqa: ANN401  # handed on as the form has it
        """Write an exhaust-gas analysis down."""
        with self._writing() as logbook:
            return logbook.add_gas(number, **told)

    def add_sensor_event(self, number: int, event: SensorEvent) -> SensorEvent:
        """Write down what was done to, or is known of, a sensor of a session's bike.

        Raises:
            UnknownThing: the session has no bike.
        """
        with self._writing() as logbook:
            bike = logbook.session(number).bike
            if bike is None:
                raise UnknownThing(f"session {number} has no bike yet, so nobody knows whose sensor that is")
            return logbook.add_sensor_event(bike, event)
