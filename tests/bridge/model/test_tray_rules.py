"""The rules of the tray, without a logbook."""

from datetime import UTC, datetime, timedelta

import pytest

from bridge.errors import BadValue
from bridge.model import Bike, Fitting, rules
from bridge.model.rules import Stay

TWIN = Bike(name="Chalk Pit 400", strokes=4, cylinders=2, displacement_cc=398)


def at(session):
    """Where a session stands in time, one a day."""
    return datetime(2026, 5, 1, tzinfo=UTC) + timedelta(days=session), session


def stay(plug, cylinder, fitted, pulled=None, bike="Chalk Pit 400"):
    """A stay of a plug."""
    fitting = Fitting(id=1, plug=plug, cylinder=cylinder, state="new", fitted=fitted, pulled=pulled)
    return Stay(fitting, bike, at(fitted), None if pulled is None else at(pulled))


@pytest.mark.parametrize(
    ("plug", "cylinder", "session", "parts"),
    [
        ("A1", 2, 3, ["A1", "cylinder 1", "session 2"]),
        ("B1", 1, 3, ["A1", "cylinder 1"]),
        ("B1", 1, 1, ["A1"]),
        ("B1", 3, 3, ["cylinder 3", "2 cylinders"]),
        ("B1", 0, 3, ["cylinder 0"]),
        (" ", 2, 3, ["label"]),
    ],
)
def test_a_fitting_that_cannot_be(plug, cylinder, session, parts):
    """Two places for a plug, two plugs in a place, or a place that is not there is refused."""
    with pytest.raises(BadValue) as caught:
        rules.can_fit(plug, cylinder, "new", at(session), TWIN, [stay("A1", 1, 2)])
    for part in parts:
        assert part in str(caught.value)


def test_a_cylinder_of_another_bike_is_free():
    """A plug in cylinder 1 of one bike does not stand in the way of cylinder 1 of another."""
    rules.can_fit("B1", 1, "new", at(3), TWIN, [stay("A1", 1, 2, bike="Other")])


def test_a_stay_that_is_over_is_in_nobodys_way():
    """From the session after its pull on, a plug can go in again and another into its place."""
    over = [stay("A1", 1, 1, 2)]

    for state in ("used", "cleaned"):
        rules.can_fit("A1", 1, state, at(3), TWIN, over)
    rules.can_fit("B1", 1, "new", at(3), TWIN, over)
    with pytest.raises(BadValue, match="after"):
        rules.can_fit("B1", 1, "new", at(2), TWIN, over)


def test_a_word_that_is_none():
    """A state that is none of the three names the nearest."""
    with pytest.raises(BadValue, match="'cleaned'"):
        rules.can_fit("B1", 1, "clean", at(1), TWIN, [])


@pytest.mark.parametrize(
    ("plug", "session", "bike", "part"),
    [
        ("A1", 1, "Chalk Pit 400", "earlier"),
        ("Z9", 3, "Chalk Pit 400", "never fitted"),
        ("B1", 5, "Chalk Pit 400", "not in"),
        ("A1", 3, "Other", "Chalk Pit 400"),
    ],
)
def test_a_pull_that_cannot_be(plug, session, bike, part):
    """What is not in cannot be pulled, nor after a session before it went in."""
    with pytest.raises(BadValue, match=part):
        rules.stay_to_pull(plug, at(session), bike, [stay("A1", 1, 2), stay("B1", 2, 1, 3)])


@pytest.mark.parametrize(("session", "found"), [(2, 1), (3, 1), (4, 1), (5, None), (1, None), (7, 2)])
def test_a_reading_belongs_to_the_stay_that_covers_its_session(session, found):
    """A reading is taken for sessions from the fitting to the pull, both counted, and for no other."""
    stays = [stay("A1", 1, 2, 4), stay("A1", 2, 7)]
    if found is None:
        with pytest.raises(BadValue, match="was not in during session"):
            rules.stay_to_read("A1", at(session), session, "Chalk Pit 400", stays)
    else:
        assert (
            rules.stay_to_read("A1", at(session), session, "Chalk Pit 400", stays).fitting.cylinder == found
        )


@pytest.mark.parametrize(
    ("ring", "mm", "sd", "nose", "part"),
    [
        ("seen", 14.1, None, 14.0, "deeper than the nose"),
        ("seen", -0.1, None, 14.0, "ring_mm"),
        ("seen", 41.0, None, None, "40"),
        ("seen", float("nan"), None, 14.0, "ring_mm"),
        ("seen", None, None, 14.0, "needs its depth"),
        ("none", 6.0, None, 14.0, "no depth"),
        ("all-dark", None, 0.4, 14.0, "no depth"),
        ("seen", 6.0, 0.0, 14.0, "an uncertainty of 0 mm .* give 0.05 to 40 mm"),
        ("seen", 6.0, 0.049, 14.0, "give 0.05 to 40 mm"),
        ("seen", 6.0, 41.0, 14.0, "give 0.05 to 40 mm"),
        ("visible", 6.0, None, 14.0, "no ring"),
    ],
)
def test_a_ring_that_cannot_be(ring, mm, sd, nose, part):
    """A ring off the nose, a depth without a ring, or a ring without a depth is refused with its reason."""
    with pytest.raises(BadValue, match=part):
        rules.ring_is_possible(ring, mm, sd, nose)


@pytest.mark.parametrize(
    ("ring", "mm"), [("seen", 0.0), ("seen", 14.0), ("none", None), ("all-dark", None), ("not-seen", None)]
)
def test_a_ring_that_can_be(ring, mm):
    """Tip and seat are both on the nose."""
    rules.ring_is_possible(ring, mm, None, 14.0)
    if ring == "seen":
        rules.ring_is_possible(ring, mm, 0.05, 14.0)


@pytest.mark.parametrize(
    "keys",
    [
        {"view": "glass"},
        {"specks": "some"},
        {"strap_mark": 1.1},
        {"edge": "worn"},
        {"gap_mm": 0.0},
        {"gap_mm": 7.0},
    ],
)
def test_what_cannot_be_seen(keys):
    """A word that is none of those known, or a value out of its range, is refused."""
    seen = {"view": "cut", "specks": "none", "strap_mark": 0.5, "edge": "sharp", "gap_mm": 0.7}
    rules.seen_is_possible(**seen)
    with pytest.raises(BadValue):
        rules.seen_is_possible(**(seen | keys))


@pytest.mark.parametrize("bike", ["Chalk Pit 400", "Other", None])
def test_a_plug_that_was_in_before_is_not_new(bike):
    """A label that the tray knows from any engine cannot go in as new, whatever was said, since it has run."""
    over = [stay("A1", 1, 1, 1, bike=bike), stay("A1", 2, 2, 2, bike=bike)]

    with pytest.raises(
        BadValue, match=r"A1 is not new: it was in cylinder 2.*say cleaned or used, or give the new plug"
    ):
        rules.can_fit("A1", 1, "new", at(3), TWIN, over)


@pytest.mark.parametrize("steps", [-11, 11, 99999999999999999999, 10**400])
def test_a_heat_range_that_nobody_makes(steps):
    """A heat range of more than ten steps either way is refused in words, however long the number is."""
    with pytest.raises(BadValue, match=r"heat_range = .* must be from -10 to 10"):
        rules.fitting_is_possible(None, steps)


def test_a_heat_range_and_a_nose_that_can_be():
    """Ten steps either way and any nose of up to 40 mm are taken, and so is what nobody told."""
    for nose, steps in ((None, None), (40.0, 10), (2.1, -10), (14.0, 0)):
        rules.fitting_is_possible(nose, steps)
