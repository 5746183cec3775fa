"""Whatever happens to plugs, in whatever order: the tray stays one that can be, and loses no reading."""

import tempfile
from dataclasses import dataclass
from pathlib import Path

import hypothesis.strategies as st
from hypothesis import HealthCheck, settings
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule
from sqlalchemy import event

from bridge.errors import RequestError
from bridge.logbook import Logbook, tables
from bridge.model import Bike, PlugSpec
from tests.bridge.logbook.conftest import Book

TRIPLE = Bike(
    name="Gorse Hill 750",
    strokes=2,
    cylinders=3,
    displacement_cc=748,
    plug=PlugSpec(type="short reach", nose_mm=14.0),
)
TYPED = (tables.fittings, tables.pulls, tables.readings, tables.plug_notes, tables.fitting_corrections)
LABELS = st.sampled_from(["A1", "A2", "A3", "B1"])
PAIRS = st.sampled_from([("A1", "A2"), ("A2", "A3"), ("A3", "A1"), ("A1", "A3"), ("A1", "B1"), ("B1", "B1")])
CYLINDERS = st.integers(1, 3)
STATES = st.sampled_from(["new", "cleaned", "used", None])


@dataclass
class Sat:
    """Where a plug sat by the test's own reckoning: from one ride to another, counted from 1."""

    plug: str
    cylinder: int
    first: int
    last: int | None = None
    lost: bool = False

    def covers(self, ride):
        return self.first <= ride and (self.last is None or ride <= self.last)


class TrayMachine(RuleBasedStateMachine):
    """Rides of a triple, and all that a tuner may tell of its plugs, right or wrong.

    What is refused must change nothing; what is taken must show as by the test's own short reckoning.
    """

    def __init__(self):
        super().__init__()
        self.folder = tempfile.TemporaryDirectory()
        self.logbook = Logbook.open(Path(self.folder.name) / "logbook", write=True)
        # a test need not outlive a power cut, and waiting for the disk would be most of its time
        event.listen(self.logbook._engine, "connect", lambda raw, _: raw.execute("PRAGMA synchronous=OFF"))
        self.logbook._engine.dispose()
        self.logbook.add_bike(TRIPLE)
        self.book = Book(self.logbook, Path(self.folder.name) / "logbook")
        self.sat: list[Sat] = []
        self.seen: list[tuple[str, int, float]] = []
        self.scrapped: set[str] = set()
        self.rides = 0
        self.kept = self.rows()

    def teardown(self):
        try:
            self.each_reading_counts_where_its_plug_was()
        finally:
            self.logbook.close()
            self.folder.cleanup()

    def rows(self):
        with self.logbook._reading() as connection:
            return {table.name: connection.execute(table.select()).all() for table in TYPED}

    def told(self, what):
        """Tell the logbook something; a refusal changes nothing. Returns whether it was taken."""
        before = self.rows()
        try:
            what()
        except RequestError:
            assert self.rows() == before
            return False
        return True

    def a_ride(self, data):
        """Any ride, and rather a late one, as people tell things."""
        return data.draw(st.sampled_from([*range(1, self.rides + 1), self.rides - 1, self.rides]))

    def stay(self, plug, ride):
        return next(sat for sat in self.sat if sat.plug == plug and sat.covers(ride))

    def last_stay(self, plug, ride):
        return max((s for s in self.sat if s.plug == plug and s.first <= ride), key=lambda s: s.first)

    @initialize(labels=st.permutations(["A1", "A2", "A3"]))
    def first_rides(self, labels):
        for _ in range(4):
            self.ride()
        for cylinder, label in enumerate(labels, start=1):
            self.logbook.fit(label, cylinder=cylinder, session=1, state="new")
            self.sat.append(Sat(label, cylinder, 1))

    @precondition(lambda self: self.rides < 7)
    @rule()
    def ride(self):
        self.rides += 1
        assert self.book.ride(day=self.rides, bike=TRIPLE.name, seconds=2) == self.rides

    @rule(plug=LABELS, cylinder=CYLINDERS, state=STATES, data=st.data(), pull_first=st.booleans())
    def fit(self, plug, cylinder, state, data, pull_first):
        ride = self.a_ride(data)
        until = data.draw(st.none() | st.integers(ride, self.rides))
        if self.told(
            lambda: self.logbook.fit(
                plug, cylinder=cylinder, session=ride, state=state, until=until, pull_first=pull_first
            )
        ):
            assert plug not in self.scrapped or until is not None
            for sat in self.sat:
                if sat.last is None and sat.first < ride and (plug == sat.plug or cylinder == sat.cylinder):
                    assert pull_first
                    sat.last = ride - 1
            self.sat.append(Sat(plug, cylinder, ride, until))

    @rule(plug=LABELS, data=st.data())
    def pull(self, plug, data):
        ride = self.a_ride(data)
        if self.told(lambda: self.logbook.pull(plug, session=ride)):
            sat = self.last_stay(plug, ride)
            assert sat.last is None
            sat.last = ride

    @rule(lost=st.booleans(), data=st.data())
    def pull_all(self, lost, data):
        ride = self.a_ride(data)
        if self.told(lambda: self.logbook.pull_all(ride, order_lost=lost)):
            for sat in self.sat:
                if sat.last is None and sat.first <= ride:
                    sat.last, sat.lost = ride, lost

    @rule(pair=PAIRS, data=st.data())
    def swap(self, pair, data):
        (a, b), ride = pair, self.a_ride(data)
        if self.told(lambda: self.logbook.swap(a, b, ride)):
            one, other = self.last_stay(a, ride), self.last_stay(b, ride)
            for plug, old, cylinder in ((a, one, other.cylinder), (b, other, one.cylinder)):
                following = [s.first for s in self.sat if s.plug == plug and s.first > ride]
                end = old.last if old.covers(ride) else min(following) - 1 if following else None
                self.sat.append(Sat(plug, cylinder, ride, end))
                old.last = ride - 1 if old.covers(ride) else old.last

    @rule(pair=PAIRS, data=st.data())
    def mixed_up(self, pair, data):
        (a, b), ride = pair, self.a_ride(data)
        if self.told(lambda: self.logbook.mixed_up(a, b, ride)):
            one, other = self.stay(a, ride), self.stay(b, ride)
            one.cylinder, other.cylinder = other.cylinder, one.cylinder

    @precondition(lambda self: any(sat.last for sat in self.sat))
    @rule(data=st.data())
    def order_lost(self, data):
        ride = data.draw(st.sampled_from([sat.last for sat in self.sat if sat.last]))
        if self.told(lambda: self.logbook.order_lost(ride)):
            for sat in (sat for sat in self.sat if sat.last == ride):
                sat.lost = True

    @precondition(lambda self: any(sat.lost for sat in self.sat))
    @rule(others=st.dictionaries(LABELS, CYLINDERS, max_size=2), data=st.data())
    def order_found(self, others, data):
        lost = data.draw(st.sampled_from([sat for sat in self.sat if sat.lost]))
        ride, told = lost.last, others | {lost.plug: data.draw(CYLINDERS)}
        if self.told(lambda: self.logbook.order_found(ride, told)):
            known = {f.plug: f.cylinder for f in self.logbook.order_found(ride, told)}
            assert told.items() <= known.items()
            shown = {row.plug: row.cylinder for row in self.logbook.tray(ride)}
            for sat in (sat for sat in self.sat if sat.last == ride):
                sat.lost = sat.lost and sat.plug not in known
                sat.cylinder = shown[sat.plug]

    @rule(plug=LABELS, what=st.sampled_from(["clean", "clean", "scrap", "take back"]))
    def clean_or_scrap(self, plug, what):
        if what == "clean":
            if self.told(lambda: self.logbook.clean(plug)):
                assert plug not in self.scrapped
        elif self.told(lambda: self.logbook.scrap(plug, take_back=what == "take back")):
            (self.scrapped.add if what == "scrap" else self.scrapped.discard)(plug)

    @rule(plug=LABELS, depth=st.sampled_from([4.0, 5.5, 7.0]), data=st.data())
    def read(self, plug, depth, data):
        ride = self.a_ride(data)
        if self.told(lambda: self.logbook.read(plug, session=ride, ring_mm=depth)):
            assert self.stay(plug, ride)
            self.seen.append((plug, ride, depth))

    @invariant()
    def nothing_typed_is_lost(self):
        """Rows are only ever added, and every reading is there for its plug and session."""
        now = self.rows()
        assert all(now[name][: len(kept)] == kept for name, kept in self.kept.items())
        self.kept = now
        found = [
            (reading.plug, reading.session, reading.ring_mm)
            for ride in range(1, self.rides + 1)
            for reading in self.logbook.readings(ride, all_of_them=True)
        ]
        assert sorted(found) == sorted(self.seen)

    @invariant()
    def the_tray_is_one_that_can_be(self):
        """In each session no cylinder has two plugs, no plug two places, and all sit as reckoned."""
        for ride in range(1, self.rides + 1):
            rows = self.logbook.tray(ride)
            assert len({row.cylinder for row in rows}) == len({row.plug for row in rows}) == len(rows)
            assert {(row.plug, row.cylinder, row.order_lost) for row in rows} == {
                (sat.plug, sat.cylinder, sat.lost) for sat in self.sat if sat.covers(ride)
            }

    def each_reading_counts_where_its_plug_was(self):
        """The newest reading of a plug for a session is that of the life in its cylinder, and of no other one."""
        newest = {(plug, ride): depth for plug, ride, depth in self.seen}
        lives = {
            (life.fitting.plug, ride): life
            for ride in range(1, self.rides + 1)
            for life in self.logbook.plug_lives(ride)
        }
        assert {at: life.reading.ring_mm for at, life in lives.items() if life.reading} == newest
        assert all(life.fitting.cylinder == self.stay(*at).cylinder for at, life in lives.items())
        assert sum(row.readings for row in self.logbook.tray()) == len(newest)


TestTraySequences = TrayMachine.TestCase
TestTraySequences.settings = settings(
    max_examples=12,
    stateful_step_count=30,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
