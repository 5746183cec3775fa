"""What a bike's sessions leave behind for its season: their pairs, each made once and kept until something changes."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, fields
from datetime import datetime
from functools import cache
from hashlib import sha256
from typing import Any, Protocol

from pydantic import TypeAdapter, ValidationError

from bridge.agreement.compare import MARGIN, compare_alone
from bridge.agreement.kept import Kept
from bridge.agreement.pairs import LeftOut, pairs_of
from bridge.agreement.result import Comparison, CylinderResult
from bridge.agreement.stops import Stop, stops_after
from bridge.bands import counts_version, session_fuel
from bridge.channels.sensor import SensorEvent
from bridge.errors import DiskTrouble, SootlineError
from bridge.model import Bike, PlugLife, Run, ScaleStatement, Session

VERSION = 2
"""Of what reckons the pairs: raise it where a change of code changes them, and all that is kept is made anew."""


Alone = Callable[[Run, Sequence[PlugLife]], Comparison]
"""How a session is compared without the others."""


class Logbook(Protocol):
    """What is asked of a logbook."""

    def bikes(self) -> list[tuple[Bike, int]]:
        """Return the bikes, each with its engine build."""

    def sessions(self, bike: str | None = None) -> list[Session]:
        """Return the sessions in order of their start."""

    def run(self, session: int) -> Run:
        """Return a session with everything that analysis needs."""

    def plug_lives(self, session: int) -> list[PlugLife]:
        """Return what the plugs in it lived through."""

    def statements(self, bike: str) -> list[ScaleStatement]:
        """Return what the tuner stated of the ring."""

    def samples_stamp(self, session: int) -> tuple[int, int]:
        """Return what another file of samples would not have the same of."""

    def kept_pairs(self, session: int, digest: str) -> str | None:
        """Return the pairs that are kept, where they were made from the same."""

    def keep_pairs(self, session: int, digest: str, document: str) -> None:
        """Keep the pairs of a session."""


@dataclass(frozen=True)
class About:
    """The session of a pair, as far as a season is sifted by it or a change in it can explain a drift.

    Attributes:
        session: its number.
        started: in UTC.
        bike: its name.
        strokes: 4 or 2.
        build: number of the engine build.
        place: where it was.
        fuel: name of the fuel that AFR is reckoned for.
        margin: what the bike counts as agreement [1].
        sensor_events: history of its sensors up to then.
    """

    session: int
    started: datetime
    bike: str
    strokes: int
    build: int | None
    place: str | None
    fuel: str
    margin: float
    sensor_events: tuple[SensorEvent, ...] = ()


@dataclass(frozen=True)
class SeasonPair:
    """A pair with what belongs to its session.

    Attributes:
        kept: the pair and its plug.
        about: its session.
        sensor_sd: the sensor's own accuracy and drift, as a standard uncertainty [1].
        changing_sd: of that, what does not stay the same from session to session [1].
        setup: what was set for its cylinder and its session, by the keys of ``setup.toml``.
    """

    kept: Kept
    about: About
    sensor_sd: float
    changing_sd: float
    setup: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Gathered:
    """All pairs of a bike, or of all bikes, in order of time.

    Attributes:
        pairs: those that count.
        left_out: the readings that make none, and the sessions without any, each with its reason.
        about: each session that was looked at, by its number.
        statements: what the tuner stated of the ring, by bike.
        stops: what the newest reading of a cylinder shows that stops all talk of leaner.
    """

    pairs: tuple[SeasonPair, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    about: dict[int, About] = field(default_factory=dict)
    statements: dict[str, tuple[ScaleStatement, ...]] = field(default_factory=dict)
    stops: tuple[Stop, ...] = ()

    def of_bike(self, bike: str) -> list[Kept]:
        """Return the pairs of one bike, as ``compare`` takes them."""
        return [pair.kept for pair in self.pairs if pair.about.bike == bike]


@dataclass(frozen=True)
class _Left:
    """What one session leaves behind."""

    pairs: tuple[SeasonPair, ...]
    left_out: tuple[LeftOut, ...]


def kept_pairs(logbook: Logbook, bike: str | None = None, alone: Alone = compare_alone) -> Gathered:
    """Gather the pairs of a bike.

    Comparing a session takes seconds, since its delay is found from the ride. So each leaves its pairs beside its
    samples, with a digest of all that they were made from; where that is another one now, they are made anew.

    Args:
        logbook: to look in; where it cannot be written nothing is kept.
        bike: its name; None for all bikes.
        alone: how a session is compared without the others; a cache may stand in.

    Raises:
        UnknownThing: there is no such bike.
    """
    names = [bike] if bike is not None else [known.name for known, _ in logbook.bikes()]
    pairs: list[SeasonPair] = []
    left_out: list[LeftOut] = []
    about: dict[int, About] = {}
    stops: list[Stop] = []
    for name in names:
        of_bike: tuple[Stop, ...] = ()
        for session in logbook.sessions(name):
            if session.state != "sealed":
                left_out.append(LeftOut(session.id, None, None, f"the session is {session.state}"))
                continue
            try:
                # what stops is seen on the plug, whatever became of the log
                lives = logbook.plug_lives(session.id)
                of_bike = stops_after(of_bike, session.id, lives)
                run = logbook.run(session.id)
                about[session.id] = _about(run)
                found = _found(logbook, run, lives, alone)
            except SootlineError as error:
                left_out.append(LeftOut(session.id, None, None, str(error)))
                continue
            pairs += found.pairs
            left_out += found.left_out
        stops += of_bike
    statements = {name: tuple(logbook.statements(name)) for name in names}
    pairs.sort(key=lambda pair: (pair.about.started, pair.about.session, pair.kept.pair.cylinder))
    return Gathered(tuple(pairs), tuple(left_out), about, statements, tuple(stops))


def _found(logbook: Logbook, run: Run, lives: Sequence[PlugLife], alone: Alone) -> _Left:
    number = run.session.id
    if not any(life.reading for life in lives):
        return _Left((), (LeftOut(number, None, None, "no plug was read after it"),))
    digest = _digest(logbook, run, lives)
    document = logbook.kept_pairs(number, digest)
    if document is not None:
        with suppress(ValidationError):
            return _adapter().validate_json(document)
    found = _made(run, lives, alone)
    with suppress(DiskTrouble):  # a logbook that cannot be written can still be looked at
        logbook.keep_pairs(number, digest, _adapter().dump_json(found).decode())
    return found


def _made(run: Run, lives: Sequence[PlugLife], alone: Alone) -> _Left:
    comparison = alone(run, lives)
    kept, left = pairs_of(comparison, run.session.build)
    by_cylinder = {result.cylinder: result for result in comparison.cylinders}
    about = _about(run)
    # a pair of all cylinders together has the sensor of any of them
    first = comparison.cylinders[0]
    results = [(one, by_cylinder.get(one.pair.cylinder, first)) for one in kept]
    return _Left(tuple(_pair(one, result, run, about) for one, result in results), tuple(left))


def _pair(kept: Kept, result: CylinderResult, run: Run, about: About) -> SeasonPair:
    sensor = result.measured.sensor
    whole = run.setup.model_dump(
        mode="json", exclude_none=True, exclude={"all", "cylinder", "weather", "note"}
    )
    own = run.setup.of_cylinder(result.cylinder).model_dump(mode="json", exclude_none=True)
    return SeasonPair(
        kept=kept,
        about=about,
        sensor_sd=sensor.sd,
        changing_sd=math.hypot(*(part.sd for part in sensor.changing)),
        setup=whole | own,
    )


def _about(run: Run) -> About:
    bike, session = run.bike, run.session
    return About(
        session=session.id,
        started=session.started,
        bike=bike.name if bike else "",
        strokes=bike.strokes if bike else 4,
        build=session.build,
        place=session.place,
        fuel=session_fuel(run.setup)[0].name,
        margin=bike.margin if bike else MARGIN,
        sensor_events=run.sensor_events,
    )


@cache
def _adapter() -> TypeAdapter[_Left]:
    return TypeAdapter(_Left)


@cache
def _reckoned_by() -> str:
    """Return what tells one way of reckoning from another: versions, and what is kept of a pair."""
    return f"{VERSION} {counts_version()} {_adapter().json_schema()}"


def _digest(logbook: Logbook, run: Run, lives: Sequence[PlugLife]) -> str:
    """Return what tells whether anything changed that a session's pairs are made from."""
    runs = {one.session.id: one for one in (run, *(ran for life in lives for ran in life.runs))}
    parts = [_reckoned_by()]
    for number, one in sorted(runs.items()):
        parts += [_said(one, "samples"), repr(logbook.samples_stamp(number))]
    parts += [_said(life, "runs") for life in lives]
    return sha256("\n".join(parts).encode()).hexdigest()[:32]


def _said(value: Run | PlugLife, but: str) -> str:
    return repr([(one.name, getattr(value, one.name)) for one in fields(value) if one.name != but])
