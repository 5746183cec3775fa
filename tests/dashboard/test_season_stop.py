"""What a plug shows that stops all talk of leaner stands first in the season, in words and on its nose."""

import json
from types import SimpleNamespace

import pytest

from bridge.agreement.season import Filters, kept_pairs, season
from bridge.agreement.stops import stops_after
from bridge.agreement.words import LEAN, LEAN_STOPPED
from bridge.logbook import Logbook
from bridge.model import Reading
from dashboard.data import Source
from dashboard.pages import season as page
from tests.dashboard.invented import add_session, ride, twin

BIKE = "Hollow Lane 400"


@pytest.fixture
def melted(tmp_path):
    """Two sessions of a twin; after the first, cylinder 2 shows aluminium; after the second only cylinder 1 is read."""
    folder = tmp_path / "logbook"
    with Logbook.open(folder, write=True) as logbook:
        logbook.add_bike(twin())
        for day in (0, 1):
            number = add_session(
                logbook, ride(day, (0.88, 0.88), seconds=60.0), bike=BIKE, days=7 * day, place="Weir"
            )
            for cylinder in (1, 2):
                label = f"P{day}{cylinder}"
                logbook.fit(label, cylinder=cylinder, session=number, state="new")
                if day == 0 or cylinder == 1:
                    specks = "aluminium" if cylinder == 2 else "none"
                    logbook.read(label, session=number, ring_mm=7.0, view="cut", specks=specks)
            logbook.pull_all(number)
    return folder


def cautions(folder):
    """Return a season's cautions."""
    with Logbook.open(folder, write=True) as logbook:
        return season(kept_pairs(logbook, BIKE)).cautions


def test_the_first_caution_names_where_aluminium_was_seen(melted):
    """Session, cylinder and plug come first while no newer reading of that cylinder is there, kept pairs or not."""
    for _ in range(2):
        first, second, *_ = cautions(melted)
        assert first.startswith("Session 1, cylinder 2: aluminium on plug P02: stop")
        assert second == LEAN_STOPPED


def test_a_newer_clean_reading_of_that_cylinder_ends_it(melted):
    """Read again without it, the season has its usual caution only."""
    with Logbook.open(melted, write=True) as logbook:
        logbook.read("P12", session=2, ring_mm=7.0, view="cut", specks="none")
    assert cautions(melted)[0] == LEAN


def life(cylinder, specks, *, lost=False):
    """Return as much of a plug's life as is asked for."""
    reading = Reading(1, f"P{cylinder}", 1, None, "seen", 7.0, specks=specks, edge="sharp")
    fitting = SimpleNamespace(cylinder=cylinder, plug=f"P{cylinder}", order_lost=lost, state="new")
    return SimpleNamespace(reading=reading, fitting=fitting, ran_s=None)


def test_aluminium_of_nobody_knows_which_cylinder_stays_until_all_are_read():
    """With the order lost it may be of any cylinder: one that is read clean does not end it, all of them do."""
    unread = SimpleNamespace(reading=None, fitting=SimpleNamespace(cylinder=2, plug="Q", order_lost=False))
    lost = stops_after((), 1, [life(1, "none", lost=True), life(2, "aluminium", lost=True)])
    assert "it may be of any cylinder" in lost[0].sentence
    assert stops_after(lost, 2, [life(1, "none"), unread]) == lost
    assert stops_after(lost, 2, [life(1, "none"), life(2, "none")]) == ()


def test_the_page_marks_the_nose_in_words(melted):
    """The nose with aluminium says so, and no other nose does."""
    found = Source(melted).season(BIKE, Filters())
    body = json.dumps(page._body(found), default=lambda one: one.to_plotly_json())
    assert body.count("season-stop") == 1
    assert "Session 1, cylinder 2: aluminium on plug P02" in body
