"""The pages without a browser: what they say, and what stands in for what is not there."""

import asyncio
import importlib
import json
import re
from pathlib import Path

import httpx
import pytest
from dash import Dash

import dashboard
from bridge.errors import BadValue, UnknownThing
from bridge.logbook import Logbook
from bridge.model import Bike
from dashboard.app import create_app
from dashboard.data import Source
from dashboard.pages import plugs, sensor, session, sessions
from tests.dashboard.invented import add_session, ride, twin

ASSETS = Path(dashboard.__file__).parent / "assets"


def text_of(route, path, query=None):
    """Return all of a page's layout as text; tags, words and attributes alike."""
    app_layout = asyncio.run(route.layout(route.pattern.fullmatch(path), query or {}))
    return json.dumps(app_layout.to_plotly_json(), default=lambda part: part.to_plotly_json())


@pytest.fixture
def routes(logbook_folder):
    """Return the four pages on the invented logbook, registered in an app of their own."""
    app, source = Dash("test"), Source(logbook_folder)
    return {
        page.__name__.rsplit(".", 1)[1]: page.register(app, source)
        for page in (sessions, session, plugs, sensor)
    }


async def _get(app, path, **headers):
    async with httpx.AsyncClient(transport=httpx.ASGITransport(app), base_url="http://127.0.0.1") as client:
        return await client.get(path, headers=headers)


@pytest.mark.parametrize("page", ["sessions", "session", "plugs", "sensor"])
def test_a_page_can_be_imported_without_an_app(page):
    """Importing a page does nothing but define it."""
    assert importlib.reload(importlib.import_module(f"dashboard.pages.{page}")).register


@pytest.mark.parametrize("path", ["/session/1", "/", "/session/1/plugs", "/no/such/page"])
def test_any_address_may_be_the_first_one(logbook_folder, path):
    """The first request of all gets the whole document with its styles, whichever page it asks for."""
    answer = asyncio.run(_get(create_app(logbook_folder), path))

    assert answer.status_code == 200
    assert "/assets/page.css" in answer.text
    assert "/assets/inline_svg.js" in answer.text


def test_the_document_names_nothing_on_the_web(logbook_folder):
    """Neither the document nor our own styles and scripts name an address outside."""
    app = create_app(logbook_folder)
    document = asyncio.run(_get(app, "/")).text
    own = [
        asyncio.run(_get(app, f"/assets/{name}")).text
        for name in sorted(path.name for path in ASSETS.glob("*.*s"))
    ]
    assert len(own) > 10
    # the name of a kind of markup, which is never fetched
    words = "".join(own).replace("http://www.w3.org/2000/svg", "")

    assert not re.search(r"(?:src|href)=\"(?:https?:)?//", document)
    assert not re.search(r"https?://|@import|url\(\"?//", words)


def test_documentation_pages_are_off(logbook_folder):
    """The framework's own pages, which would load from the web, are not there."""
    app = create_app(logbook_folder)

    for path in ("/docs", "/redoc", "/openapi.json"):
        text = asyncio.run(_get(app, path)).text
        assert "swagger" not in text.lower()
        assert '"openapi"' not in text


def test_a_foreign_host_gets_nothing(logbook_folder):
    """The whole app stands behind the gate."""
    assert asyncio.run(_get(create_app(logbook_folder), "/", host="evil.example")).status_code == 400


def test_the_ledger_has_a_line_for_each_session(routes):
    """The list names place, bike and length, the newest first."""
    text = text_of(routes["sessions"], "/")

    assert text.index("Long Straight") < text.index('"Hollow Lane"')
    assert "4 min 00 s" in text


def test_an_empty_logbook_says_how_to_begin(tmp_path):
    """A logbook without sessions shows the ways to get one."""
    with Logbook.open(tmp_path, write=True):
        pass
    text = text_of(sessions.register(Dash("test"), Source(tmp_path)), "/")

    assert "sootline record" in text


def test_the_sheet_says_it_in_words(routes):
    """The session page has the facts, each cylinder's sentence, the cautions and the drawings."""
    text = text_of(routes["session"], "/session/1")

    assert "Practice, Hollow Lane" in text
    assert "Plug B2 was used when it was fitted" in text
    assert "The reading does not count." in text
    assert "A lean engine can seize" in text
    assert "Cylinder 1, plug B1: ring 6.8 mm from the tip" in text
    assert "bands with enough steady running" in text


def test_what_was_lost_is_said(logbook_folder):
    """The notes of the log, of the bands and of the ring scale stand on the sheet."""
    with Logbook.open(logbook_folder, write=True) as logbook:
        add_session(logbook, ride(3), bike="Hollow Lane 400", days=2, notes=("12 lines were damaged",))
    text = text_of(session.register(Dash("test"), Source(logbook_folder)), "/session/3")

    assert "12 lines were damaged." in text
    assert "are steady running" in text


def test_a_log_without_engine_speed_still_has_its_sheet(logbook_folder):
    """Where the bands cannot be made the page says why in one sentence and shows the rest."""
    with Logbook.open(logbook_folder, write=True) as logbook:
        add_session(logbook, ride(3).drop("rpm"), bike="Hollow Lane 400", days=2)
    text = text_of(session.register(Dash("test"), Source(logbook_folder)), "/session/3")

    assert "engine speed" in text
    assert "Practice, Hollow Lane" in text


def test_a_session_without_a_bike_has_its_sheet(logbook_folder):
    """A log that nobody gave a bike is shown with what it has."""
    with Logbook.open(logbook_folder, write=True) as logbook:
        add_session(logbook, ride(3), bike=None, place=None, days=2)
    source = Source(logbook_folder)

    assert "no bike named" in text_of(session.register(Dash("test"), source), "/session/3")
    assert "nothing fitted" in text_of(plugs.register(Dash("test2"), source), "/session/3/plugs")
    assert "which bike this was" in text_of(sensor.register(Dash("test3"), source), "/session/3/sensor")


def test_an_unknown_session_is_unknown(routes):
    """A session that is not there is the bridge's own UnknownThing, for the session page and for its tray."""
    for name, path in (
        ("session", "/session/99"),
        ("plugs", "/session/99/plugs"),
        ("sensor", "/session/99/sensor"),
    ):
        with pytest.raises(UnknownThing, match="99"):
            text_of(routes[name], path)


@pytest.mark.parametrize(
    "query", [{}, {"cylinder": "9"}, {"cylinder": "x"}, {"cylinder": "²"}, {"other": "1"}]
)
def test_unknown_query_values_are_ignored(routes, query):
    """Whatever else stands in the address, the tray opens at cylinder one."""
    assert '"id": "chosen-cylinder", "data": 1' in text_of(routes["plugs"], "/session/1/plugs", query)


def test_a_known_query_value_is_taken(routes):
    """The address may ask for a cylinder."""
    assert '"id": "chosen-cylinder", "data": 2' in text_of(
        routes["plugs"], "/session/1/plugs", {"cylinder": "2"}
    )


def test_a_script_in_a_label_stays_words(logbook_folder):
    """A plug whose label is a script is shown with its label, and the drawing's markup has no script in it."""
    label = "<script>alert(1)</script>"
    with Logbook.open(logbook_folder, write=True) as logbook:
        logbook.fit(label, cylinder=1, session=2, state="new")
        logbook.read(label, session=2, ring_mm=6.0)
    text = text_of(session.register(Dash("test"), Source(logbook_folder)), "/session/2")
    drawings = re.findall(r'"data-svg": "((?:[^"\\]|\\.)*)"', text)

    assert any("alert(1)" in svg for svg in drawings)
    assert not any("<script" in svg for svg in drawings)


def test_a_reading_changes_what_is_said(logbook_folder):
    """What was worked out is kept until something that it rests on changes, such as a reading."""
    source = Source(logbook_folder)
    before = source.comparison(1)

    assert source.comparison(1) is before

    source.read("B1", session=1, ring_mm=9.5, view="cut")
    after = source.comparison(1)

    assert after.cylinders[0].ring_depth_mm == 9.5
    assert after.cylinders[0].ring.mean > before.cylinders[0].ring.mean


def test_a_refused_reading_changes_nothing(logbook_folder):
    """A ring deeper than the nose is refused in the bridge's own sentence, and nothing is written down."""
    source = Source(logbook_folder)
    before = source.comparison(1)
    with pytest.raises(BadValue, match="14"):
        source.read("B1", session=1, ring_mm=15.0)

    assert source.comparison(1).to_json() == before.to_json()


def test_a_missing_logbook_is_not_made_by_looking(tmp_path):
    """Looking at a logbook that is not there says so and leaves no folder behind."""
    with pytest.raises(UnknownThing):
        Source(tmp_path / "none").sessions()

    assert not (tmp_path / "none").exists()


def test_places_stand_in_cylinder_order(tmp_path):
    """However plugs were fitted, the tray stands in cylinder order, number one first."""
    four = Bike.model_validate(twin("Four").model_dump() | {"cylinders": 4, "carburettors": 4})
    with Logbook.open(tmp_path, write=True) as logbook:
        logbook.add_bike(four)
        number = add_session(logbook, ride(1, (0.87, 0.88, 0.86, 0.87), 60.0), bike="Four")
        for cylinder in (3, 1, 4, 2):
            logbook.fit(f"P{cylinder}", cylinder=cylinder, session=number, state="new")
    places = Source(tmp_path).tray(number).comparison.cylinders

    assert [place.plug for place in places] == ["P1", "P2", "P3", "P4"]
