"""The rules of what is told later, without a logbook."""

from datetime import UTC, datetime, timedelta

import hypothesis.strategies as st
import pytest
from hypothesis import given

from bridge.errors import BadValue
from bridge.model import Fitting, amends
from bridge.model.stay import Stay, Told


def at(session):
    """Where a session stands in time, one a day."""
    return datetime(2026, 5, 1, tzinfo=UTC) + timedelta(days=session), session


def stay(plug, cylinder, fitted=1, pulled=3, *, number=1, lost=False, bike="Gorse Hill 750"):
    """A stay of a plug."""
    fitting = Fitting(
        id=number, plug=plug, cylinder=cylinder, state="new", fitted=fitted, pulled=pulled, order_lost=lost
    )
    return Stay(fitting, bike, at(fitted), None if pulled is None else at(pulled), cylinder, was_lost=lost)


def lost(*plugs):
    """Plugs whose order was lost, the first one written down in cylinder 1."""
    return [stay(plug, n, number=n, lost=True) for n, plug in enumerate(plugs, start=1)]


@given(st.data())
def test_places_found_are_a_permutation(data):
    """Whatever is told of a lost order, each cylinder ends with one plug, and what was told is among it."""
    count = data.draw(st.integers(2, 6))
    group = lost(*(f"P{n}" for n in range(count)))
    true = data.draw(st.permutations(range(1, count + 1)))
    told = {f"P{n}": true[n] for n in data.draw(st.sets(st.integers(0, count - 1), min_size=1))}

    places, known = amends.places_found(3, group, told)

    assert sorted(places.values()) == list(range(1, count + 1))
    assert told.items() <= places.items()
    assert known == set(places) if len(told) >= count - 1 else known == set(told)


def test_those_still_unknown_stay_where_they_were_written():
    """A plug whose place nobody knows is shown where it was written down, unless that is taken now."""
    places, known = amends.places_found(3, lost("A", "B", "C", "D"), {"A": 2})

    assert places == {"A": 2, "B": 1, "C": 3, "D": 4}
    assert known == {"A"}


def test_two_plugs_meet_only_where_their_stays_do():
    """Two stays in one cylinder clash where one is not over before the other begins."""
    one, two = stay("A1", 1, 1, 2, number=1), stay("B1", 1, 3, None, number=2)
    amends.no_clash([1, 2], [one, two])

    for pulled in (3, None):
        clash = [stay("A1", 1, 1, pulled, number=1), two]
        with pytest.raises(BadValue, match="would both be in cylinder 1 in session 3"):
            amends.no_clash([1], clash)
        with pytest.raises(BadValue, match="A1 would be in two places from session 3 on"):
            amends.no_clash([1], [clash[0], stay("A1", 2, 3, None, number=2)])
        amends.no_clash([1], [clash[0], stay("B1", 1, 3, None, number=2, bike="Other")])


def test_the_tray_knows_better_only_where_nobody_says():
    """What is said of a plug's state goes before what the tray would take it for."""
    over = [stay("A1", 1, 1, 3)]
    for told, state in (
        (Told(), "used"),
        (Told(cleaned=frozenset({3})), "cleaned"),
        (Told(cleaned=frozenset({2})), "used"),
    ):
        assert amends.state_of("A1", None, at(5), over, told) == state
        assert amends.state_of("A1", "used", at(5), over, told) == "used"
    assert amends.state_of("B1", None, at(5), over, Told(new=True)) == "new"
