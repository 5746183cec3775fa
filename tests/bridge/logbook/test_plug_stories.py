"""The life of a plug from the box to the bin, and its story."""

import pytest

from bridge.errors import BadValue, UnknownThing
from bridge.model import Bike, PlugSpec

BIKE = "Chalk Pit 400"
SINGLE = Bike(
    name="Ash Lane 125",
    strokes=2,
    cylinders=1,
    displacement_cc=124,
    plug=PlugSpec(type="long reach", nose_mm=18.0),
)


def happened(story):
    """What happened to a plug, in order."""
    return [(event.what, event.session, event.cylinder) for event in story.events]


def test_a_whole_life_in_order(book):
    """New, fitted, read, pulled, cleaned, refitted, swapped, scrapped: each event stands in order of sessions."""
    one, two, three = (book.ride(day=day) for day in (1, 2, 3))
    log = book.logbook
    log.new_plugs(["A1", "A2"])
    assert log.plug_story("A1").state == "new"
    for cylinder in (1, 2):
        log.fit(f"A{cylinder}", cylinder=cylinder, session=one)
    log.read("A1", session=one, ring_mm=6.0)
    log.pull_all(one)
    log.clean("A1", "brass brush")
    log.fit("A1", cylinder=1, session=two)
    log.fit("A2", cylinder=2, session=two)
    assert log.plug_story("A1").state == "in cylinder 1"
    log.swap("A1", "A2", three)
    log.scrap("A1", session=three)

    story = log.plug_story("A1")

    assert happened(story) == [
        ("new", None, None),
        ("fitted", one, 1),
        ("read", one, 1),
        ("pulled", one, 1),
        ("cleaned", one, 1),
        ("fitted", two, 1),
        ("pulled", two, 1),
        ("fitted", three, 2),
        ("swapped", three, 2),
        ("pulled", three, 2),
        ("scrapped", three, 2),
    ]
    assert (story.state, story.readings, story.bike, story.sessions) == (
        "scrapped",
        1,
        BIKE,
        (one, two, three),
    )
    assert (story.type, story.nose_mm, story.hours_s) == ("short reach", 14.0, None)
    assert [event.words for event in story.events if event.what in {"cleaned", "read"}] == [
        "ring at 6 mm from the tip",
        "brass brush",
    ]


def test_what_goes_in_without_a_word_on_its_state(book):
    """The tray knows a boxed plug as new, a cleaned one as cleaned, another as used, and a strange one not."""
    days = [book.ride(day=day) for day in (1, 2, 3, 4)]
    log = book.logbook
    with pytest.raises(BadValue, match="say whether it is new, cleaned or used"):
        log.fit("A1", cylinder=1, session=days[0])
    log.new_plugs(["A1"])
    states = [log.fit("A1", cylinder=1, session=days[0]).state]
    for day, cleaned in zip(days[1:], (True, False, True), strict=True):
        if cleaned:
            log.clean("A1", session=day - 1)
        states.append(log.fit("A1", cylinder=1, session=day, pull_first=True).state)

    assert states == ["new", "cleaned", "used", "cleaned"]


def test_a_plug_in_the_engine_is_neither_cleaned_nor_scrapped(book):
    """A plug that is in has to come out first, or is said to have come out by the same word."""
    session = book.ride()
    book.logbook.fit("A1", cylinder=1, session=session, state="new")
    for word in (book.logbook.clean, book.logbook.scrap):
        with pytest.raises(BadValue, match=r"A1 is in cylinder 1.*pull it first"):
            word("A1")
    assert book.logbook.clean("A1", session=session).state == "in the box"
    assert book.logbook.tray()[0].pulled == session


def test_a_scrapped_plug_never_goes_in_again(book):
    """It is refused at fitting and in a swap of plugs that are out, unless the scrapping is taken back."""
    one, two = book.ride(day=1), book.ride(day=2)
    log = book.logbook
    for cylinder in (1, 2):
        log.fit(f"A{cylinder}", cylinder=cylinder, session=one, state="new")
    log.pull_all(one)
    log.scrap("A1", "nose cracked")
    for again in (
        lambda: log.fit("A1", cylinder=1, session=two, state="used"),
        lambda: log.swap("A1", "A2", two),
    ):
        with pytest.raises(BadValue, match="A1 was scrapped; give the plug in your hand its own label"):
            again()
    with pytest.raises(BadValue, match="scrapped already"):
        log.scrap("A1")
    assert log.read("A1", session=one, ring_mm=6.0).id == 1  # cut open to be read, as plugs often are

    assert log.scrap("A1", take_back=True).state == "in the box"
    assert log.fit("A1", cylinder=1, session=two, state="used").cylinder == 1
    with pytest.raises(BadValue, match="was not scrapped"):
        log.scrap("A2", take_back=True)


def test_a_plug_in_another_bike_stays_the_plug_that_it_is(book):
    """Type and nose go with the plug into another engine, the steps from what is usual do not."""
    book.logbook.add_bike(SINGLE)
    one, two = book.ride(day=1), book.ride(day=2, bike=SINGLE.name)
    log = book.logbook
    log.fit("A1", cylinder=1, session=one, state="new", heat_range=1)
    log.fit("B1", cylinder=2, session=one, state="new", nose_mm=12.0)
    log.pull_all(one)
    log.fit("A1", cylinder=1, session=two)

    life = log.plug_lives(two)[0]
    assert (life.type, life.nose_mm, life.heat_range) == ("short reach", 14.0, 0)
    assert [run.session.id for run in life.runs] == [two]
    story = log.plug_story("A1")
    assert (story.bike, story.sessions) == (SINGLE.name, (one, two))
    assert happened(log.plug_story("A1", BIKE)) == [("fitted", one, 1), ("pulled", one, 1)]
    assert {s.label for s in log.plugs(SINGLE.name)} == {"A1"}
    three = book.ride(day=3)
    assert log.fit("B1", cylinder=2, session=three).nose_mm == 12.0


def test_the_list_of_plugs(book):
    """Plugs that are in come first by their cylinder, then the box, then the scrapped ones."""
    one = book.ride()
    log = book.logbook
    log.new_plugs(["Z1"])
    for label, cylinder in (("C1", 2), ("B1", 1)):
        log.fit(label, cylinder=cylinder, session=one, state="new")
    log.fit("A2", cylinder=1, session=book.ride(day=0), state="used", until=2)
    log.scrap("A2")

    assert [(s.label, s.state) for s in log.plugs()] == [
        ("B1", "in cylinder 1"),
        ("C1", "in cylinder 2"),
        ("Z1", "new"),
        ("A2", "scrapped"),
    ]


def test_a_new_label_has_to_be_new(book):
    """A label that is taken, nearly taken, or given twice puts nothing into the box."""
    book.logbook.new_plugs(["A1"])
    for labels in (["B1", "A1"], ["B1", "a1"], ["B1", "B1"]):
        with pytest.raises(BadValue, match="there is a plug"):
            book.logbook.new_plugs(labels)
    assert [s.label for s in book.logbook.plugs()] == ["A1"]


def test_a_plug_that_nobody_told_of(book):
    """A strange label is refused with the nearest one."""
    book.logbook.new_plugs(["A1"])
    for word in (book.logbook.plug_story, book.logbook.clean, book.logbook.scrap):
        with pytest.raises(UnknownThing, match=r"no plug A11.*did you mean 'A1'"):
            word("A11")


def test_the_hours_of_a_tray_grow_with_the_sessions(book):
    """Each row of the tray says which sessions the plug had lived through by then, in any cylinder."""
    one, two, three = (book.ride(day=day) for day in (1, 2, 3))
    book.logbook.fit("A1", cylinder=1, session=one, state="new")
    book.logbook.fit("A1", cylinder=2, session=three, pull_first=True)

    assert [(row.cylinder, row.sessions) for row in book.logbook.tray()] == [
        (2, (one, two, three)),
        (1, (one, two)),
    ]
    assert book.logbook.tray(one)[0].sessions == (one,)


def test_plugs_stand_as_a_person_counts_them(book):
    """A2 comes before A10, and a label without a number keeps its place in the alphabet."""
    book.logbook.new_plugs(["A10", "A2", "B", "A1"])
    assert [story.label for story in book.logbook.plugs()] == ["A1", "A2", "A10", "B"]
