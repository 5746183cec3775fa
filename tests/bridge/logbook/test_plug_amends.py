"""What is told of the tray later: swaps, mix-ups, an order lost and found, and what was forgotten."""

import pytest

from bridge.errors import BadValue, UnknownThing
from bridge.logbook import tables

BIKE = "Chalk Pit 400"
TYPED = (tables.fittings, tables.pulls, tables.readings, tables.plug_notes, tables.fitting_corrections)


def rows(book):
    """Everything that was ever typed of plugs."""
    with book.logbook._reading() as connection:
        return {table.name: connection.execute(table.select()).all() for table in TYPED}


def fit(book, session, *labels, state="new"):
    """Fit plugs, the first one into cylinder 1."""
    for cylinder, label in enumerate(labels, start=1):
        book.logbook.fit(label, cylinder=cylinder, session=session, state=state)


def places(book, session):
    """Which plug was in which cylinder during a session."""
    return {row.cylinder: row.plug for row in book.logbook.tray(session)}


@pytest.fixture
def twin(book):
    """Three rides of a twin with A1 and A2 in since the first."""
    book.days = [book.ride(day=day) for day in (1, 2, 3)]
    fit(book, book.days[0], "A1", "A2")
    return book


@pytest.mark.parametrize("out", [False, True])
def test_a_swap_holds_from_its_session_on(twin, out):
    """Plugs that changed places are crosswise from then on, used, and as they were before; pulled since or not."""
    one, two, three = twin.days
    if out:
        twin.logbook.pull_all(three)

    done = twin.logbook.swap("A1", "A2", two)

    assert [(f.plug, f.cylinder, f.state, f.fitted) for f in done] == [
        ("A1", 2, "used", two),
        ("A2", 1, "used", two),
    ]
    assert [places(twin, day) for day in twin.days] == [{1: "A1", 2: "A2"}] + 2 * [{1: "A2", 2: "A1"}]
    assert {row.pulled for row in twin.logbook.tray(one)} == {one}
    assert {row.pulled for row in twin.logbook.tray(three)} == {three if out else None}


def test_a_swap_told_late_takes_the_readings_along(twin):
    """Readings stay with their plug: those of before for its old cylinder, those of after for its new one."""
    one, two, three = twin.days
    for day, depth in zip(twin.days, (5.0, 6.0, 7.0), strict=True):
        twin.logbook.read("A1", session=day, ring_mm=depth)

    twin.logbook.swap("A1", "A2", two)

    seen = {
        day: [
            (life.fitting.cylinder, life.reading.ring_mm)
            for life in twin.logbook.plug_lives(day)
            if life.reading
        ]
        for day in twin.days
    }
    assert seen == {one: [(1, 5.0)], two: [(2, 6.0)], three: [(2, 7.0)]}
    assert [(row.cylinder, row.readings) for row in twin.logbook.tray() if row.plug == "A1"] == [
        (2, 2),
        (1, 1),
    ]
    lives = twin.logbook.plug_lives(three)
    assert [[run.session.id for run in life.runs] for life in lives] == [[two, three], [two, three]]


def test_a_swap_of_plugs_that_are_out(twin):
    """Plugs pulled and put back crosswise are told as a swap too, and go in only after their pull."""
    one, _, three = twin.days
    twin.logbook.pull_all(one)
    twin.logbook.swap("A2", "A1", three, state="cleaned")

    assert [places(twin, day) for day in twin.days] == [{1: "A1", 2: "A2"}, {}, {1: "A2", 2: "A1"}]
    assert {row.state for row in twin.logbook.tray(three)} == {"cleaned"}


@pytest.mark.parametrize(
    ("a", "b", "day", "part"),
    [
        ("A1", "A1", 1, "itself"),
        ("A1", "A2", 0, "mixed up"),
        ("A1", "A9", 1, "in no cylinder before.*there is A1, A2"),
        ("A1", "B1", 1, "of two bikes"),
    ],
)
def test_a_swap_that_cannot_be(twin, a, b, day, part):
    """A swap with itself, from the very first session, or with a plug that was never in is refused and not written."""
    other = twin.ride(day=1, bike=None)
    twin.logbook.fit("B1", cylinder=1, session=other, state="new")
    before = rows(twin)

    with pytest.raises(BadValue, match=part):
        twin.logbook.swap(a, b, twin.days[day])
    assert rows(twin) == before


def test_a_swap_into_a_place_that_is_taken(twin):
    """A swap that would leave two plugs in one cylinder names both, and nothing is written."""
    _, two, three = twin.days
    twin.logbook.pull("A2", session=two)
    twin.logbook.fit("A3", cylinder=2, session=three, state="new")
    before = rows(twin)

    with pytest.raises(BadValue, match=f"A1 and plug A3 would both be in cylinder 2 in session {three}"):
        twin.logbook.swap("A1", "A2", two)
    assert rows(twin) == before


def test_plugs_mixed_up_on_paper(twin):
    """A corrected cylinder holds for the whole stay; each reading stays with its plug, and the first word on record."""
    one, _, three = twin.days
    twin.logbook.read("A1", session=one, ring_mm=5.0)
    before = rows(twin)

    twin.logbook.mixed_up("A1", "A2", three, why="read the tray upside down")

    assert [places(twin, day) for day in twin.days] == 3 * [{1: "A2", 2: "A1"}]
    assert [
        (life.fitting.plug, life.reading and life.reading.ring_mm) for life in twin.logbook.plug_lives(one)
    ] == [
        ("A2", None),
        ("A1", 5.0),
    ]
    after = rows(twin)
    assert all(after[name][: len(kept)] == kept for name, kept in before.items())
    assert [row.cylinder for row in after["fittings"]] == [1, 2]
    words = [event.words for event in twin.logbook.plug_story("A1").events if event.what == "mixed up"]
    assert words == ["was in cylinder 2; first written down in 1: read the tray upside down"]


def test_mixed_up_twice_is_as_before(twin):
    """Saying it again takes it back, and both words stay on record."""
    for _ in range(2):
        twin.logbook.mixed_up("A1", "A2", twin.days[0])

    assert places(twin, twin.days[0]) == {1: "A1", 2: "A2"}
    assert len(rows(twin)["fitting_corrections"]) == 4


def test_a_wrong_cylinder_of_one_plug(book):
    """A plug alone written down in the wrong cylinder is put right; into a taken one it is refused by name."""
    session = book.ride()
    fit(book, session, "A1")
    book.logbook.correct(session, {"A1": 2})
    assert places(book, session) == {2: "A1"}

    book.logbook.fit("B1", cylinder=1, session=session, state="new")
    with pytest.raises(BadValue, match="plug A1 and plug B1 would both be in cylinder 1"):
        book.logbook.correct(session, {"A1": 1})
    with pytest.raises(BadValue, match="no cylinder 3"):
        book.logbook.correct(session, {"A1": 3})
    assert places(book, session) == {1: "B1", 2: "A1"}


def test_an_order_lost_after_the_pull_and_found_again(twin):
    """An upset tray: the readings are kept for no cylinder, and with one place known the twin's other follows."""
    three = twin.days[2]
    twin.logbook.pull_all(three)
    twin.logbook.read("A1", session=three, ring_mm=6.0)

    twin.logbook.order_lost(three)
    lost = twin.logbook.plug_lives(three)
    twin.logbook.read("A2", session=three, ring_mm=7.0)
    found = twin.logbook.order_found(three, {"A1": 2})

    assert [life.fitting.order_lost for life in lost] == [True, True]
    assert [(f.plug, f.cylinder, f.order_lost) for f in found] == [("A2", 1, False), ("A1", 2, False)]
    assert [(life.fitting.cylinder, life.reading.ring_mm) for life in twin.logbook.plug_lives(three)] == [
        (1, 7.0),
        (2, 6.0),
    ]
    assert {row.cylinder for row in rows(twin)["fittings"] if row.plug == "A1"} == {1}


def test_an_order_lost_at_the_pull_is_found(twin):
    """An order lost while pulling is told the same way; what is said again corrects it."""
    twin.logbook.pull_these(["A2", "A1"], twin.days[1], order_lost=True)
    twin.logbook.order_found(twin.days[1], {"A1": 2, "A2": 1})
    assert places(twin, twin.days[1]) == {1: "A2", 2: "A1"}

    twin.logbook.order_found(twin.days[1], {"A1": 1, "A2": 2})
    assert places(twin, twin.days[1]) == {1: "A1", 2: "A2"}
    assert not any(row.order_lost for row in twin.logbook.tray(twin.days[1]))


@pytest.mark.parametrize(
    ("told", "part"),
    [
        ({"A1": 1, "A2": 1}, "cannot both have been in cylinder 1"),
        ({"A1": 3}, "did not come out of cylinder 3"),
        ({"A9": 1}, "A9 was not lost.*there is A1, A2"),
    ],
)
def test_an_order_that_cannot_be(twin, told, part):
    """Two plugs in one place, a place that nobody came out of, or a plug that was not there: nothing is written."""
    twin.logbook.pull_all(twin.days[2], order_lost=True)
    before = rows(twin)

    with pytest.raises(BadValue, match=part):
        twin.logbook.order_found(twin.days[2], told)
    assert rows(twin) == before


def test_an_order_that_was_never_lost(twin):
    """What is in, or one plug alone, cannot have lost its order, and what lost none needs none found."""
    three = twin.days[2]
    with pytest.raises(BadValue, match="no plug came out"):
        twin.logbook.order_lost(three)
    twin.logbook.pull_all(three)
    with pytest.raises(BadValue, match="A1 alone cannot"):
        twin.logbook.order_lost(three, "A1")
    with pytest.raises(BadValue, match="the order of no plug was lost"):
        twin.logbook.order_found(three, {"A1": 1})


def test_a_plug_whose_order_is_lost_is_not_moved(twin):
    """Nobody can swap or correct a plug out of a cylinder that nobody knows."""
    twin.logbook.pull_all(twin.days[1], order_lost=True)
    with pytest.raises(BadValue, match="nobody knows which cylinder"):
        twin.logbook.swap("A1", "A2", twin.days[2])
    with pytest.raises(BadValue, match="say in which order"):
        twin.logbook.mixed_up("A1", "A2", twin.days[1])


def test_a_pull_that_was_forgotten(twin):
    """A new plug in a taken cylinder can take the old one out, after the last session before."""
    _, two, three = twin.days
    twin.logbook.fit("B1", cylinder=1, session=three, state="new", pull_first=True)

    assert [places(twin, day)[1] for day in twin.days] == ["A1", "A1", "B1"]
    assert {row.plug: row.pulled for row in twin.logbook.tray(two)} == {"A1": two, "A2": None}


def test_a_forgotten_pull_of_a_plug_that_was_read_since(twin):
    """A plug that was read for the session itself was still in, so it cannot have come out before."""
    twin.logbook.read("A1", session=twin.days[2], ring_mm=6.0)
    before = rows(twin)

    with pytest.raises(BadValue, match="was read for session"):
        twin.logbook.fit("B1", cylinder=1, session=twin.days[2], state="new", pull_first=True)
    assert rows(twin) == before


def test_a_plug_cleaned_and_put_back_in_one_word(twin):
    """A plug that was out for cleaning and went back where it was begins a new stay there."""
    one, _, three = twin.days
    twin.logbook.fit("A1", cylinder=1, session=three, state="cleaned", pull_first=True)

    assert [(row.state, row.fitted) for row in twin.logbook.tray(three)] == [("cleaned", three), ("new", one)]
    assert [[run.session.id for run in life.runs] for life in twin.logbook.plug_lives(three)] == [
        [three],
        twin.days,
    ]


def test_a_stay_that_is_told_when_it_is_over(twin):
    """What was in before the plugs of now is told with its end, and is refused without or with a wrong one."""
    _, two, three = twin.days
    book = twin
    late = book.ride(day=4)
    book.logbook.pull_all(two)
    book.logbook.fit("B1", cylinder=1, session=late, state="new")

    with pytest.raises(BadValue, match="say until which session before that C1 was in"):
        book.logbook.fit("C1", cylinder=1, session=three, state="new")
    with pytest.raises(BadValue, match="choose sessions before that"):
        book.logbook.fit("C1", cylinder=1, session=three, state="new", until=late)
    with pytest.raises(BadValue, match="cannot come out after a session before"):
        book.logbook.fit("C1", cylinder=1, session=three, state="new", until=two)
    assert book.logbook.fit("C1", cylinder=1, session=three, state="new", until=three).pulled == three
    assert places(book, three) == {1: "C1"}
    with pytest.raises(BadValue, match="B1 went in new for session 4, so it was in no engine before"):
        book.logbook.fit("B1", cylinder=2, session=three, state="used", until=three)


@pytest.mark.parametrize("label", ["a1", "A 1", " A1"])
def test_a_label_that_would_be_taken_for_another(twin, label):
    """A label that differs by capitals or blanks alone is refused with the one that it would be taken for."""
    with pytest.raises(BadValue, match="there is a plug A1 already; write A1"):
        twin.logbook.fit(label, cylinder=1, session=twin.days[2], state="new", pull_first=True)


def test_a_label_written_twice(twin):
    """A plug that is in already need not be said again, and another one needs its own label."""
    with pytest.raises(
        BadValue, match="need not be said again; if this is another plug, give it a label of its own"
    ):
        twin.logbook.fit("A1", cylinder=1, session=twin.days[1], state="new")


def test_a_reading_before_its_plug_was_fitted(book):
    """A reading for a session before its plug went in is refused in a sentence with the mend, and nothing changes."""
    zero, one = book.ride(day=1), book.ride(day=2)
    fit(book, one, "A1")
    before = rows(book)

    with pytest.raises(
        BadValue, match=f"was not in during session {zero}: it went in later.*from session {one} on"
    ):
        book.logbook.read("A1", session=zero, ring_mm=6.0)
    with pytest.raises(BadValue, match="never fitted"):
        book.logbook.read("Z9", session=zero, ring_mm=6.0)
    assert rows(book) == before


def test_no_sentence_of_the_tray_names_a_command(twin):
    """What the store refuses is shown in the browser too, so it names no command line."""
    tries = [
        lambda: twin.logbook.read("Z9", session=twin.days[0], ring_mm=6.0),
        lambda: twin.logbook.pull_all(twin.ride(day=9, bike=None)),
        lambda: twin.logbook.fit("B1", cylinder=1, session=twin.days[1], state="new"),
        lambda: twin.logbook.fit("B1", cylinder=1, session=twin.days[1]),
        lambda: twin.logbook.swap("A1", "A2", twin.days[0]),
        lambda: twin.logbook.plug_story("Z9"),
        lambda: twin.logbook.clean("A1"),
    ]
    for attempt in tries:
        with pytest.raises((BadValue, UnknownThing)) as caught:
            attempt()
        assert "sootline" not in str(caught.value)
        assert "--" not in str(caught.value)
