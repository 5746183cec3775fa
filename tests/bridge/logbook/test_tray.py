"""Plugs fitted, pulled and read, and what they lived through."""

import pytest

from bridge.errors import BadValue
from bridge.logbook import tables
from bridge.model import Setup

BIKE = "Chalk Pit 400"


def fit(book, session, *labels, state="new", **more):
    """Fit plugs, the first one into cylinder 1."""
    for cylinder, label in enumerate(labels, start=1):
        book.logbook.fit(label, cylinder=cylinder, session=session, state=state, **more)


def test_the_tray_is_in_cylinder_order(book):
    """The tray lists the plugs of a session by cylinder, whatever the order they were fitted in."""
    session = book.ride()
    for cylinder in (2, 1):
        book.logbook.fit(f"A{cylinder}", cylinder=cylinder, session=session, state="new")
    book.logbook.read("A2", session=session, ring_mm=6.0)

    tray = book.logbook.tray(session)

    assert [(row.plug, row.cylinder, row.readings) for row in tray] == [("A1", 1, 0), ("A2", 2, 1)]
    assert {(row.fitted, row.pulled, row.state, row.bike) for row in tray} == {(session, None, "new", BIKE)}


def test_the_tray_of_a_session_is_as_it_was(book):
    """A session shows the plugs that were in during it, pulled since or not; the whole tray shows all."""
    one, two, three = (book.ride(day=day) for day in (1, 2, 3))
    fit(book, one, "A1")
    book.logbook.pull("A1", session=two)
    fit(book, three, "B1")

    assert [[row.plug for row in book.logbook.tray(s)] for s in (one, two, three)] == [["A1"], ["A1"], ["B1"]]
    assert [(row.plug, row.pulled) for row in book.logbook.tray()] == [("B1", None), ("A1", two)]


@pytest.mark.parametrize(
    ("label", "cylinder", "state", "part"),
    [
        ("A1", 2, "new", "A1 is in cylinder 1"),
        ("B1", 1, "new", "A1 is in cylinder 1"),
        ("B1", 3, "new", "2 cylinders"),
        ("B1", 2, "fresh", "no state"),
    ],
)
def test_a_fitting_that_is_refused_changes_nothing(book, label, cylinder, state, part):
    """A plug in two places or two plugs in one are refused in a sentence, and the tray is as it was."""
    session = book.ride()
    fit(book, session, "A1")
    before = book.logbook.tray()
    with pytest.raises(BadValue, match=part):
        book.logbook.fit(label, cylinder=cylinder, session=session, state=state)
    assert book.logbook.tray() == before


def test_a_nose_that_cannot_be(book):
    """A plug with a nose longer than any is refused."""
    with pytest.raises(BadValue, match="nose_mm"):
        book.logbook.fit("A1", cylinder=1, session=book.ride(), state="new", nose_mm=55)


def test_plugs_without_a_bike(book):
    """A session without a bike can have plugs too; they are apart from those of a bike."""
    session, other = book.ride(day=1, bike=None), book.ride(day=2)
    fit(book, session, "A1")
    fit(book, other, "B1")
    book.logbook.read("A1", session=session, ring_mm=6.0)

    assert [life.fitting.plug for life in book.logbook.plug_lives(session)] == ["A1"]
    assert [life.fitting.plug for life in book.logbook.plug_lives(other)] == ["B1"]


def test_pulling_all_with_the_order_lost(book):
    """A tray dropped on the ground: every plug is out, its reading and life are kept, the order is lost."""
    session = book.ride()
    fit(book, session, "A1", "A2")
    book.logbook.read("A1", session=session, ring_mm=6.0)

    out = book.logbook.pull_all(session, order_lost=True)

    assert [(f.plug, f.cylinder, f.pulled, f.order_lost) for f in out] == [
        ("A1", 1, session, True),
        ("A2", 2, session, True),
    ]
    lives = book.logbook.plug_lives(session)
    assert [life.fitting.order_lost for life in lives] == [True, True]
    assert lives[0].reading.ring_mm == 6.0
    with pytest.raises(BadValue, match="no plug is in"):
        book.logbook.pull_all(session)


def test_pulling_all_leaves_the_plugs_of_later_sessions_in(book):
    """Plugs that go in only later are not among those that come out now."""
    one, two = book.ride(day=1), book.ride(day=2)
    book.logbook.fit("B2", cylinder=2, session=two, state="new")
    fit(book, one, "A1")

    assert [f.plug for f in book.logbook.pull_all(one)] == ["A1"]
    assert [row.plug for row in book.logbook.tray(two)] == ["B2"]


def test_a_plug_that_was_read_later_was_still_in(book):
    """A pull after a session before the last reading is refused."""
    one, two = book.ride(day=1), book.ride(day=2)
    fit(book, one, "A1")
    book.logbook.read("A1", session=two, ring_mm=6.0)
    with pytest.raises(BadValue, match=f"read for session {two}"):
        book.logbook.pull("A1", session=one)
    assert book.logbook.pull("A1", session=two).pulled == two


def test_a_reading_is_kept_whole(book):
    """Every field of a reading comes back as it was written down."""
    session = book.ride()
    fit(book, session, "A1")
    seen = {
        "ring_mm": 6.2, "ring_sd_mm": 0.5, "view": "cut", "nose_colour": "light tan", "base_ring": "full",
        "strap_mark": 0.5, "specks": "none", "edge": "sharp", "glaze": False, "blisters": True, "wet": False,
        "gap_mm": 0.7, "piston_wash": "20 %", "note": "clean chop",
    }  # fmt: skip  # a list of words reads best in lines

    written = book.logbook.read("A1", session=session, **seen)

    assert {key: getattr(written, key) for key in seen} == seen
    assert (written.plug, written.session, written.ring, written.corrects) == ("A1", session, "seen", None)
    assert (
        book.logbook.readings(session)
        == [written]
        == [life.reading for life in book.logbook.plug_lives(session)]
    )


def test_what_nobody_looked_at_is_not_none(book):
    """A reading of the ring alone says of all else that nobody looked."""
    session = book.ride()
    fit(book, session, "A1")
    written = book.logbook.read("A1", session=session, ring="none")

    assert (written.specks, written.edge, written.glaze, written.wet) == ("not-looked", None, None, None)
    assert (written.ring_mm, written.ring_sd_mm) == (None, None)


@pytest.mark.parametrize(("view", "sd"), [("cut", 0.4), ("magnifier", 1.0)])
def test_a_depth_without_an_uncertainty(book, view, sd):
    """A depth gets the standard uncertainty of its view where none is given (common practice)."""
    session = book.ride()
    fit(book, session, "A1")

    assert book.logbook.read("A1", session=session, ring_mm=6.0, view=view).ring_sd_mm == sd


def test_a_corrected_reading_names_the_old_one(book):
    """A second reading for the same session corrects the first, which stays on record and counts no more."""
    session = book.ride()
    fit(book, session, "A1")
    first = book.logbook.read("A1", session=session, ring_mm=6.0)
    second = book.logbook.read("A1", session=session, ring_mm=7.0)
    third = book.logbook.read("A1", session=session, ring="none")

    assert (second.corrects, third.corrects) == (first.id, second.id)
    assert book.logbook.readings(session) == [third]
    assert book.logbook.readings(session, all_of_them=True) == [first, second, third]
    assert book.logbook.tray()[0].readings == 1
    assert book.logbook.plug_lives(session)[0].reading == third


@pytest.mark.parametrize(
    ("keys", "part"),
    [
        ({"ring_mm": 15.0}, "14 mm"),
        ({"ring_mm": 6.0, "ring": "none"}, "no depth"),
        ({}, "needs its depth"),
        ({"ring_mm": 6.0, "strap_mark": 2.0}, "strap_mark"),
        ({"ring_mm": 6.0, "specks": "aluminum"}, "aluminium"),
    ],
)
def test_a_reading_that_is_refused_changes_nothing(book, keys, part):
    """A ring deeper than the nose, or a word that is none, is refused and no reading is written."""
    session = book.ride()
    fit(book, session, "A1")
    with pytest.raises(BadValue, match=part):
        book.logbook.read("A1", session=session, **keys)
    assert book.logbook.readings(session, all_of_them=True) == []


def test_a_plugs_own_nose_goes_before_the_bikes(book):
    """A ring is held against the nose of the plug itself where it was told."""
    session = book.ride()
    book.logbook.fit("A1", cylinder=1, session=session, state="new", nose_mm=18.0, type="long", heat_range=1)
    book.logbook.read("A1", session=session, ring_mm=15.0)

    life = book.logbook.plug_lives(session)[0]

    assert (life.nose_mm, life.type, life.heat_range) == (18.0, "long", 1)


def test_a_plug_can_be_read_after_it_was_pulled(book):
    """It is read for a session that it was in for, pulled since or not; for no other one."""
    zero, one, two = (book.ride(day=day) for day in (1, 2, 3))
    fit(book, one, "A1")
    book.logbook.pull("A1", session=one)

    assert book.logbook.read("A1", session=one, ring_mm=6.0).session == one
    for session in (zero, two):
        with pytest.raises(BadValue, match="was not in"):
            book.logbook.read("A1", session=session, ring_mm=6.0)


def test_a_life_goes_from_the_fitting_to_the_session_looked_at(book):
    """A plug lived through its bike's sessions since it went in, in order of their start."""
    late, first, middle = book.ride(day=5), book.ride(day=1), book.ride(day=3)
    book.ride(day=2, bike=None)
    book.logbook.set_setup(first, Setup.model_validate({"cylinder": {1: {"plug_heat_range": -1}}}))
    fit(book, first, "A1")
    book.logbook.fit("A2", cylinder=2, session=middle, state="used")

    lives = book.logbook.plug_lives(late)

    assert [[run.session.id for run in life.runs] for life in lives] == [
        [first, middle, late],
        [middle, late],
    ]
    assert [(life.heat_range, life.nose_mm, life.type) for life in lives] == [
        (-1, 14.0, "short reach"),
        (0, 14.0, "short reach"),
    ]
    assert [[run.session.id for run in life.runs] for life in book.logbook.plug_lives(first)] == [[first]]


def test_a_reading_counts_for_its_own_session_only(book):
    """A plug that was read after another session has no reading for this one."""
    one, two = book.ride(day=1), book.ride(day=2)
    fit(book, one, "A1")
    book.logbook.read("A1", session=one, ring_mm=6.0)

    assert book.logbook.plug_lives(two)[0].reading is None
    assert book.logbook.plug_lives(one)[0].reading is not None


def test_nothing_typed_is_ever_overwritten(book):
    """Through fitting, reading, correcting and pulling, no row that a person wrote changes or goes."""
    session = book.ride()
    typed = (
        tables.fittings,
        tables.pulls,
        tables.readings,
        tables.setup_files,
        tables.bike_files,
        tables.builds,
    )

    def rows():
        with book.logbook._reading() as connection:
            return {table.name: connection.execute(table.select()).all() for table in typed}

    steps = [
        lambda: fit(book, session, "A1"),
        lambda: book.logbook.read("A1", session=session, ring_mm=6.0),
        lambda: book.logbook.read("A1", session=session, ring_mm=6.5),
        lambda: book.logbook.set_setup(session, Setup(fuel="e5")),
        lambda: book.logbook.set_setup(session, Setup(fuel="e10")),
        lambda: book.logbook.rebuilt(BIKE, "head"),
        lambda: book.logbook.pull("A1", session=session),
    ]
    before = rows()
    for step in steps:
        step()
        after = rows()
        assert sum(map(len, after.values())) == sum(map(len, before.values())) + 1
        assert all(after[name][: len(kept)] == kept for name, kept in before.items())
        before = after


def test_a_plug_that_ran_before_goes_in_as_what_it_is(book):
    """A plug that comes back is refused as new, and taken as cleaned; the tray is as it was in between."""
    one, two = book.ride(day=1), book.ride(day=2)
    fit(book, one, "A1")
    book.logbook.pull("A1", session=one)
    before = book.logbook.tray()

    with pytest.raises(BadValue, match="A1 is not new"):
        book.logbook.fit("A1", cylinder=1, session=two, state="new")
    assert book.logbook.tray() == before
    assert book.logbook.fit("A1", cylinder=1, session=two, state="cleaned").state == "cleaned"


@pytest.mark.parametrize(
    ("keys", "part"),
    [
        ({"heat_range": 99999999999999999999}, "heat_range"),
        ({"type": " "}, "plug type is empty"),
        ({"label": "B" * 41}, "40 at most"),
        ({"label": "B\x1b[31m"}, "U\\+001B"),
        ({"cylinder": 10**20}, "no cylinder"),
    ],
)
def test_a_fitting_that_no_tray_can_hold(book, keys, part):
    """A number that no database takes, or words that no screen shows, are refused in words."""
    session = book.ride()
    told = {"label": "B1", "cylinder": 1, "state": "new", **keys}

    with pytest.raises(BadValue, match=part):
        book.logbook.fit(told.pop("label"), session=session, **told)
    assert book.logbook.tray() == []


@pytest.mark.parametrize("field", ["nose_colour", "base_ring", "piston_wash", "note"])
def test_words_of_a_reading_that_cannot_stand(book, field):
    """Whatever field of a reading holds a character that a terminal obeys, nothing is written."""
    session = book.ride()
    fit(book, session, "A1")

    with pytest.raises(BadValue, match=f"{field.replace('_', ' ')}.*U\\+001B"):
        book.logbook.read("A1", session=session, ring_mm=6.0, **{field: "tan\x1b[0m"})
    assert book.logbook.readings(session) == []


@pytest.mark.parametrize("label", ["B=2", " B2", "B2 "])
def test_a_new_label_that_reads_as_something_else_is_refused(book, label):
    """A '=' would be a cylinder elsewhere, and blanks around a label cannot be seen."""
    session = book.ride()
    with pytest.raises(BadValue, match="write it without"):
        book.logbook.fit(label, cylinder=1, session=session, state="new")


@pytest.mark.parametrize("sd_mm", [0.0, 1e-9, 41.0, float("nan")])
def test_a_scale_stated_finer_than_an_eye_can_tell_is_refused(book, sd_mm):
    """Nobody knows where a ring should sit to a thousandth of a millimetre."""
    with pytest.raises(BadValue, match="than an eye can tell"):
        book.logbook.state_scale("Chalk Pit 400", depth_mm=6.0, sd_mm=sd_mm, lambda_=0.87)
