"""Bikes, builds, sessions, set-ups and marks."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import polars as pl
import pytest

from bridge.errors import BadFile, BadValue, DiskTrouble, UnknownThing
from bridge.logbook import files, tables
from bridge.model import Bike, Mark, PartState, Setup
from bridge.model.sealed import SealedFrame

BIKE = "Chalk Pit 400"


def short(**more):
    """Two seconds of engine speed."""
    frame = pl.DataFrame({"t_s": [0.0, 1.0, 2.0], "rpm": pl.Series([5000, None, 5020], dtype=pl.Float32)})
    return SealedFrame(frame, {"rpm": "/min"}, **more)


def test_a_corrected_bike_file_counts_and_the_earlier_one_stays(book):
    """Adding a bike again takes its new file over; the old one is still on record."""
    book.logbook.add_bike(Bike(name=BIKE, strokes=4, cylinders=2, displacement_cc=405))

    assert [(bike.displacement_cc, build) for bike, build in book.logbook.bikes()] == [(405, 1)]
    with book.logbook._reading() as connection:
        kept = connection.execute(tables.bike_files.select()).all()
    assert [row.document["displacement_cc"] for row in kept] == [398, 405]


def test_an_unknown_bike_names_the_nearest(book):
    """A misspelt bike is refused with the nearest one there is."""
    for ask in (book.logbook.bike, book.logbook.sessions, book.logbook.statements):
        with pytest.raises(UnknownThing, match=f"did you mean '{BIKE}'"):
            ask("Chalk Pit 40")


def test_a_rebuild_begins_a_new_build(book):
    """Sessions after a rebuild belong to the new build, those before it to the old one."""
    first = book.ride(day=1)
    assert book.logbook.rebuilt(BIKE, "head") == 2
    second = book.ride(day=3)

    assert [book.logbook.session(n).build for n in (first, second)] == [1, 2]
    with pytest.raises(BadValue, match="rebuilt"):
        book.logbook.rebuilt(BIKE, "  ")


def test_an_old_log_that_is_imported_late_keeps_its_build(book):
    """A session that ran before one of the first build was the first build's too, whenever it is imported."""
    book.ride(day=2)
    book.logbook.rebuilt(BIKE, "head")

    assert book.logbook.session(book.ride(day=1)).build == 1
    assert book.logbook.session(book.ride(day=3)).build == 2


def test_sessions_are_listed_by_their_start(book):
    """The list goes by when a session began, not by when it was added."""
    late, early = book.ride(day=3), book.ride(day=1)

    assert [s.id for s in book.logbook.sessions()] == [early, late]


def test_sessions_of_one_bike(book):
    """The list can be asked for one bike, and a session need have none."""
    own, nobodys = book.ride(day=1), book.ride(day=2, bike=None)

    assert [s.id for s in book.logbook.sessions(bike=BIKE)] == [own]
    assert [(s.id, s.bike, s.build) for s in book.logbook.sessions()] == [
        (own, BIKE, 1),
        (nobodys, None, None),
    ]


def test_an_unknown_session_names_those_there_are(book):
    """A session that is not there is refused with the numbers there are, by every question about one."""
    for day in (1, 2, 3):
        book.ride(day=day)
    for ask in (
        book.logbook.session,
        book.logbook.run,
        book.logbook.setup,
        book.logbook.raw_path,
        book.logbook.plug_lives,
        book.logbook.tray,
        book.logbook.readings,
        lambda n: book.logbook.add_mark(n, 1.0, "lap"),
        lambda n: book.logbook.set_setup(n, Setup(fuel="e5")),
        lambda n: book.logbook.finish_session(n, short()),
    ):
        with pytest.raises(UnknownThing, match="no session 77 in the logbook; there are 1 to 3"):
            ask(77)


def test_a_run_has_all_that_analysis_needs(book):
    """A run brings float32 samples with nulls, marks, states, bike and set-up."""
    number = book.ride()
    marks, states = (Mark(0.5, "lap", "wire"),), (PartState(0.0, "lambda_1", "ready"),)
    book.logbook.finish_session(number, short(marks=marks, states=states, notes=("2 lines lost",)))
    book.logbook.set_setup(number, Setup(kind="dyno", fuel="e5"))

    run = book.logbook.run(number)

    assert run.samples.collect_schema() == {"t_s": pl.Float64, "rpm": pl.Float32}
    assert run.samples.collect()["rpm"].to_list() == [5000, None, 5020]
    assert (run.marks, run.states) == (marks, states)
    assert (run.bike.name, run.setup.fuel, run.session.kind) == (BIKE, "e5", "dyno")
    assert (run.session.seconds, run.session.samples, run.session.notes) == (2.0, 3, ("2 lines lost",))
    assert book.logbook.units(number) == {"t_s": "s", "rpm": "/min"}


def test_sealing_again_replaces_what_came_off_the_wire_and_keeps_what_a_person_said(book):
    """Marks by hand outlive a second sealing, at the same moment though the start moved; nothing doubles."""
    number = book.ride()
    book.logbook.add_mark(number, 2.0, "chop")
    again = short(marks=(Mark(0.5, "lap", "wire"),), started_utc=datetime(2026, 5, 14, 9, 20, 1, tzinfo=UTC))

    for _ in range(2):
        book.logbook.finish_session(number, again)

    assert book.logbook.run(number).marks == (Mark(0.5, "lap", "wire"), Mark(1.0, "chop", "hand"))


@pytest.mark.parametrize(
    ("t_s", "what", "part"), [(-1.0, "lap", "not in"), (11.0, "lap", "0 to 10"), (1.0, "lop", "lap")]
)
def test_a_mark_that_cannot_be(book, t_s, what, part):
    """A mark outside its session, or of a word that is none, is refused."""
    number = book.ride()
    with pytest.raises(BadValue, match=part):
        book.logbook.add_mark(number, t_s, what)
    assert book.logbook.run(number).marks == ()


def test_samples_that_are_gone(book):
    """A session whose samples are gone says where they should be."""
    number = book.ride()
    book.logbook.samples_path(number).unlink()
    with pytest.raises(BadFile, match=r"0001\.parquet"):
        book.logbook.run(number)


def test_an_import_that_fails_leaves_nothing(book, listing, monkeypatch):
    """When the disk is full at the last moment, neither row nor file of the session is left."""
    book.ride(day=1)
    before = listing()

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(files, "_sync_folder", full)
    with pytest.raises(DiskTrouble, match="No space left"):
        book.ride(day=2)
    assert listing() == before
    assert [s.id for s in book.logbook.sessions()] == [1]


def test_an_error_inside_a_transaction_leaves_nothing(book):
    """Whatever is written before an error in the same transaction is gone after it."""

    def half():
        with book.logbook._writing() as connection:
            connection.execute(tables.bikes.insert().values(name="Half"))
            raise RuntimeError("the power went")

    with pytest.raises(RuntimeError):
        half()
    with book.logbook._reading() as connection:
        assert connection.execute(tables.bikes.select()).all() == [(1, BIKE)]


def test_the_imported_file_is_kept_untouched(book):
    """The logbook has a copy of the imported file, byte for byte, and knows it again."""
    number = book.ride(day=4)

    assert book.logbook.raw_path(number).read_text(encoding="utf-8") == "ride of day 4"
    with pytest.raises(BadValue, match=rf"ride.csv .* session {number}; .*--again"):
        book.logbook.refuse_again(Path("ride.csv"), f"{4:064x}")
    book.logbook.refuse_again(Path("ride.csv"), "0" * 64)


def test_a_setup_takes_over_from_the_last_session_before(book):
    """What a set-up leaves out comes from the bike's sessions before it, never from later ones."""
    late, early = book.ride(day=3), book.ride(day=1)
    middle = book.ride(day=2)
    book.logbook.set_setup(
        early, Setup.model_validate({"fuel": "e5", "kind": "road", "cylinder": {1: {"main_jet": 160}}})
    )
    book.logbook.set_setup(late, Setup.model_validate({"fuel": "e10"}))

    assert [book.logbook.setup(n).fuel for n in (early, middle, late)] == ["e5", "e5", "e10"]
    assert book.logbook.setup(late).cylinder[1].main_jet == 160
    assert (
        [s.kind for s in book.logbook.sessions()]
        == ["road"] * 3
        == [book.logbook.session(n).kind for n in (1, 2, 3)]
    )


def test_whose_weather_it_is_is_known(book):
    """A weather taken over says for which session it was written and how long before; its own one says nothing."""
    own, later = book.ride(day=1), book.ride(day=4)
    book.logbook.set_setup(own, Setup.model_validate({"weather": {"air_temp_c": 12.0}}))
    book.logbook.set_setup(later, Setup(timing_deg=34))

    assert book.logbook.run(own).weather_of is None
    assert book.logbook.run(later).weather_of == (own, 3 * 86_400.0)
    book.logbook.set_setup(later, Setup.model_validate({"weather": {"air_temp_c": 20.0}}))
    assert book.logbook.run(later).weather_of is None


def test_a_part_of_the_weather_may_be_older(book):
    """A temperature of the day beside a pressure of another one is still air of another day; a height keeps."""
    own, later = book.ride(day=1), book.ride(day=4)
    weather = {"air_temp_c": 12.0, "air_pressure_hpa": 1001.0, "altitude_m": 210.0}
    book.logbook.set_setup(own, Setup.model_validate({"weather": weather}))
    book.logbook.set_setup(later, Setup.model_validate({"weather": {"air_temp_c": 20.0}}))
    assert book.logbook.run(later).weather_of == (own, 3 * 86_400.0)
    whole = {"air_temp_c": 20.0, "air_pressure_hpa": 990.0}
    book.logbook.set_setup(later, Setup.model_validate({"weather": whole}))
    assert book.logbook.run(later).weather_of is None


def test_a_setup_of_another_bike_is_not_taken_over(book):
    """Set-ups are taken over within one bike, and without a bike not at all."""
    book.logbook.add_bike(Bike(name="Other", strokes=2, cylinders=1, displacement_cc=125))
    book.logbook.set_setup(book.ride(day=1), Setup(fuel="e5", kind="road"))
    for bike in ("Other", None, None):
        number = book.ride(day=2, bike=bike)
        assert book.logbook.setup(number).fuel is None
        assert book.logbook.session(number).kind is None
        book.logbook.set_setup(number, Setup(kind="dyno"))
    assert [s.kind for s in book.logbook.sessions()] == ["road", "dyno", "dyno", "dyno"]


def test_a_corrected_setup_holds_where_it_speaks(book):
    """A second set-up for a session holds where it speaks, and both are on record."""
    number = book.ride()
    book.logbook.set_setup(number, Setup(fuel="e5", timing_deg=34))
    book.logbook.set_setup(number, Setup(timing_deg=32))

    assert (book.logbook.setup(number).fuel, book.logbook.setup(number).timing_deg) == ("e5", 32)
    assert book.logbook.written_setup(number) == Setup(timing_deg=32)
    with book.logbook._reading() as connection:
        assert len(connection.execute(tables.setup_files.select()).all()) == 2


@pytest.mark.parametrize("cylinder", [0, 3])
def test_a_setup_of_a_cylinder_that_is_not_there(book, cylinder):
    """A set-up that speaks of cylinder three of a twin is refused, and nothing of it is kept."""
    number = book.ride()
    setup = Setup.model_validate({"fuel": "e5", "cylinder": {cylinder: {"main_jet": 160}}})
    with pytest.raises(BadValue, match=rf"cylinder\.{cylinder}.*2 cylinders"):
        book.logbook.set_setup(number, setup)
    assert book.logbook.setup(number).fuel is None


def test_an_empty_setup(book):
    """A set-up that says nothing is refused."""
    number = book.ride()
    with pytest.raises(BadValue, match="says nothing"):
        book.logbook.set_setup(number, Setup())


def test_what_the_tuner_states_of_the_ring(book):
    """A statement is kept with the plug, the nose and the build that it was made for."""
    book.logbook.rebuilt(BIKE, "head")
    book.logbook.state_scale(BIKE, depth_mm=6, sd_mm=1, lambda_=0.87)

    stated = book.logbook.statements(BIKE)[0]

    assert (stated.depth_mm, stated.sd_mm, stated.lambda_) == (6, 1, 0.87)
    assert (stated.plug_type, stated.nose_mm, stated.build) == ("short reach", 14.0, 2)
    assert datetime.now(UTC) - stated.written < timedelta(minutes=1)


@pytest.mark.parametrize(
    ("depth", "sd", "lambda_", "part"),
    [(15, 1, 0.87, "14 mm long"), (6, 0, 0.87, "uncertainty"), (6, 1, 12.9, "AFR")],
)
def test_a_statement_that_cannot_be(book, depth, sd, lambda_, part):
    """A depth off the nose, no uncertainty, or an AFR given as lambda is refused."""
    with pytest.raises(BadValue, match=part):
        book.logbook.state_scale(BIKE, depth_mm=depth, sd_mm=sd, lambda_=lambda_)
    assert book.logbook.statements(BIKE) == []


def test_a_session_without_a_bike_gets_one(book):
    """A session gets its bike, with the build that ran then and that bike's earlier set-up, and only once."""
    early = book.ride(day=1)
    book.logbook.set_setup(early, Setup(fuel="e10"))
    lost = book.ride(day=2, bike=None)
    book.ride(day=3)
    book.logbook.rebuilt(BIKE, "head")
    late = book.ride(day=4, bike=None)

    for session in (lost, late):
        book.logbook.rode(BIKE, session)

    assert [(s.bike, s.build) for s in map(book.logbook.session, (lost, late))] == [(BIKE, 1), (BIKE, 2)]
    assert book.logbook.run(lost).bike.name == BIKE
    assert book.logbook.setup(lost).fuel == "e10"
    with pytest.raises(BadValue, match=f"session {lost} has its bike, {BIKE}"):
        book.logbook.rode(BIKE, lost)


def test_a_bike_that_cannot_have_ridden(book):
    """No bike is given to a session that is not there, with a plug in it, or set up for more cylinders."""
    lost, busy, three = (book.ride(day=day, bike=None) for day in (1, 2, 3))
    book.logbook.fit("A1", cylinder=1, session=busy, state="new")
    book.logbook.pull("A1", session=busy)
    book.logbook.set_setup(three, Setup.model_validate({"cylinder": {3: {"main_jet": 150}}}))

    for bike, session, error, part in (
        ("Chalk Pit 40", lost, UnknownThing, "did you mean"),
        (BIKE, 99, UnknownThing, "no session 99"),
        (BIKE, busy, BadValue, "plug A1 stays in session"),
        (BIKE, three, BadValue, r"no \[cylinder.3\]"),
    ):
        with pytest.raises(error, match=part):
            book.logbook.rode(bike, session)
    assert [s.bike for s in book.logbook.sessions()] == [None, None, None]


@pytest.mark.parametrize("t_s", [-0.1, 10.1, 1e299, float("nan"), float("inf")])
def test_a_moment_that_no_session_has(book, t_s):
    """A mark before the start, after the end or at no number at all is refused, while recording too."""
    done = book.ride()
    growing = book.logbook.new_session(
        bike=None, place=None, source="p", started=datetime(2026, 5, 20, tzinfo=UTC)
    )

    with pytest.raises(BadValue, match="is not in session"):
        book.logbook.add_mark(done, t_s, "chop")
    if t_s != 10.1:
        with pytest.raises(BadValue, match="is not in session"):
            book.logbook.add_mark(growing, t_s, "chop")


@pytest.mark.parametrize("place", [" ", "x" * 121, "pit\nlane", "pit\u202elane"])
def test_a_place_that_cannot_stand(book, place):
    """A place of blanks, without end or with a character that a terminal obeys makes no session."""
    with pytest.raises(BadValue, match="place"):
        book.logbook.new_session(
            bike=None, place=place, source="p", started=datetime(2026, 5, 20, tzinfo=UTC)
        )
    assert book.logbook.sessions() == []


def test_a_rebuild_in_words_that_cannot_stand(book):
    """What was rebuilt is words to see."""
    with pytest.raises(BadValue, match="rebuild"):
        book.logbook.rebuilt(BIKE, "head\x1b[2J")


def test_a_bike_that_an_earlier_version_let_pass_is_named(book):
    """A kept file that this version would not take is said in a sentence that names the key."""
    with book.logbook._writing() as connection:
        connection.execute(
            tables.bike_files.update().values(
                document={"name": "a\x1b", "strokes": 4, "cylinders": 2, "displacement_cc": 398}
            )
        )
    with pytest.raises(BadFile, match=r"bike .*: name: .*U\+001B"):
        book.logbook.bikes()
