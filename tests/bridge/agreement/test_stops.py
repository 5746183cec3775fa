"""What stops all talk of leaner, from session to session: only a look at the same mark takes it back."""

import pytest

from bridge.agreement.stops import stops_after
from tests.virtual_runs import life, reading, virtual_run

RUN, _ = virtual_run(1)


def after(first, *later):
    """Return the marks that stop cylinder 1 after readings of it in turn."""
    stops = ()
    for number, seen in enumerate((first, *later), 1):
        stops = stops_after(stops, number, [life(RUN, seen=None if seen is None else reading(**seen))])
    return [(stop.session, stop.mark) for stop in stops]


@pytest.mark.parametrize(
    ("first", "unlooked", "looked"),
    [
        ({"specks": "aluminium"}, {"specks": "not-looked"}, {"specks": "none"}),
        ({"specks": "aluminium"}, {"blisters": False}, {"specks": "soot"}),
        ({"blisters": True}, {"specks": "none"}, {"blisters": False}),
        ({"edge": "rounded"}, {"specks": "none"}, {"edge": "sharp"}),
        ({"glaze": True}, {"edge": "sharp"}, {"glaze": False}),
    ],
)
def test_only_a_look_takes_it_back(first, unlooked, looked):
    """A later reading that did not look leaves it, none at all leaves it, one that looked ends it."""
    (mark,) = after(first)
    assert after(first, None) == [mark]
    assert after(first, unlooked) == [mark]
    assert after(first, unlooked, looked) == []


def test_each_mark_is_taken_back_by_itself():
    """Aluminium and blisters on one plug: a look at the specks alone leaves the blisters standing."""
    both = {"specks": "aluminium", "blisters": True}

    assert after(both) == [(1, "aluminium"), (1, "blisters")]
    assert after(both, {"specks": "none"}) == [(1, "blisters")]
    assert after(both, {"specks": "none", "blisters": False}) == []


def test_seen_again_the_newest_stands_alone():
    """Seen in two sessions, the later one is named."""
    assert after({"specks": "aluminium"}, {"specks": "aluminium"}) == [(2, "aluminium")]


def test_another_cylinder_takes_nothing_back():
    """What cylinder 2 shows says nothing of cylinder 1."""
    stops = stops_after((), 1, [life(RUN, seen=reading(specks="aluminium"))])
    assert stops_after(stops, 2, [life(RUN, 2, seen=reading("A2", specks="none"))]) == stops
