"""A bike's season on its page: words first, every nose that was read, the figures, the to-do."""

import asyncio
import json
import re
import threading
import time
import xml.etree.ElementTree as ET
from concurrent.futures import ThreadPoolExecutor

import pytest
from dash import Dash

from bridge.agreement.season import Filters
from bridge.errors import BadValue, UnknownThing
from bridge.logbook import Logbook
from bridge.model import Setup
from dashboard import todo_calls
from dashboard.cache import Cache
from dashboard.components import season_figures, season_row, todo
from dashboard.components.verdicts import nose_of
from dashboard.components.why import percent, why
from dashboard.data import Source
from dashboard.figures.against import Met, against_svg
from dashboard.figures.both_lines import Both, both_lines_svg
from dashboard.figures.differences import Level, Pair, differences_svg
from dashboard.figures.nose import Nose
from dashboard.figures.season_nose import season_nose_svg
from dashboard.pages import season
from tests.dashboard.invented import add_departing, fill_season, twin

BIKE = "Hollow Lane 400"


def words(part):
    """Return a component as text."""
    return json.dumps(part, default=lambda one: one.to_plotly_json())


def shape(svg):
    """Return a drawing as a tree, which it has to be."""
    return ET.fromstring(svg)


def marks(svg, name):
    """Return the elements of a kind."""
    return [one for one in shape(svg).iter() if one.tag.endswith(name)]


@pytest.fixture
def season_folder(tmp_path):
    """Four sessions of a twin with other jets each; both plugs read, the last session's second plug a used one."""
    return fill_season(tmp_path / "logbook")


def test_the_page_says_first_what_it_found_then_shows_it(season_folder):
    """Statement, cautions, a nose for each reading, charts, figures with what they cannot show, what is left out."""
    found = Source(season_folder).season(BIKE, Filters())
    body = words(season._body(found))

    order = [
        "Over 4 sessions",
        "Caution",
        "Ring by ring",
        "Both methods, session by session",
        "How far they lie apart",
        "In figures",
        "What this cannot show",
        "Left out, and why: 1",
        "Session 4, plug P32",
    ]
    places = [body.index(text) for text in order]
    assert places == sorted(places)
    assert body.count("season-nose-frame") == 8
    assert body.count("does-not-count") == 1


def test_the_page_stands_before_its_sessions_are_read(season_folder, monkeypatch):
    """The layout itself reads no session: it is there at once and says what it waits for."""
    for work in (
        "dashboard.compared.kept_pairs",
        "dashboard.compared.compare_alone",
        "dashboard.season_data.season",
    ):
        monkeypatch.setattr(work, lambda *_, **__: pytest.fail("the page waited"))
    route = season.register(Dash("test"), Source(season_folder))
    match = route.pattern.fullmatch("/bike/Hollow%20Lane%20400/season")

    page = words(asyncio.run(route.layout(match, {})))
    assert "Season of Hollow Lane 400" in page
    assert "Reading the sessions" in page


def test_a_filter_takes_some_of_the_pairs_and_is_offered_only_where_there_is_a_choice(season_folder):
    """Two places make a filter, one fuel none; a place takes its own sessions' pairs."""
    source = Source(season_folder)
    whole = source.season(BIKE, Filters())
    part = source.season(BIKE, season._asked({"place": "Mole", "build": "all"}))

    fields = words(season._filters(whole))
    assert fields.count('"name": "place"') == 1
    assert fields.count('"name": "from_date"') == fields.count('"name": "to_date"') == 1
    assert whole.choices == {"place": ["Mole", "Weir"]}
    assert whole.setups == {}
    assert len(whole.season.points) == 7
    assert {point.session for point in part.season.points} == {3, 4}
    asked = season._asked({"setup:main_jet": "160", "build": "2"})
    assert asked == Filters(build=2, setup=("main_jet", "160"))
    with pytest.raises(BadValue, match="no pair of this season has the place"):
        source.season(BIKE, Filters(place="Nowhere"))


def test_dates_take_whole_days_and_words_that_are_none_are_refused(season_folder):
    """From a day on and up to a day with all of it; what is no date is said with how to write one."""
    source = Source(season_folder)
    part = source.season(BIKE, season._asked({"from_date": "2026-05-21", "to_date": "2026-05-28"}))

    assert {point.session for point in part.season.points} == {2, 3}
    with pytest.raises(BadValue, match="2026-05-31"):
        season._asked({"from_date": "21.5."})
    with pytest.raises(BadValue, match="one key of the set-up"):
        season._asked({"setup:main_jet": "160", "setup:pilot_jet": "40"})


def test_keys_of_the_set_up_that_changed_are_offered(season_folder):
    """Two main jets make a field with both; a key that never changed makes none."""
    with Logbook.open(season_folder, write=True) as logbook:
        for number, jet in ((1, 160), (3, 165)):
            logbook.set_setup(number, Setup.model_validate({"all": {"main_jet": jet, "pilot_jet": 40}}))
    found = Source(season_folder).season(BIKE, season._asked({"setup:main_jet": "165"}))

    assert found.setups == {"main_jet": ["160", "165"]}
    assert {point.session for point in found.season.points} == {3, 4}
    assert "Main jet" in words(season._filters(found))


def test_a_plug_whose_order_was_lost_stands_in_no_cylinders_row(season_folder):
    """Its nose has a row of its own, and no drawing names a cylinder for it."""
    with Logbook.open(season_folder, write=True) as logbook:
        logbook.order_lost(2)
    found = Source(season_folder).season(BIKE, Filters())
    rows = words(season_row.rows(found.seen, found.season.points))
    lost = rows[rows.index("Order lost") :]

    assert "P11" in lost
    assert "P11" not in rows[: rows.index("Order lost")]
    assert "Cylinder" not in lost


def test_a_bike_that_is_not_there_is_said(season_folder):
    """An unknown bike is refused with those that there are."""
    with pytest.raises(UnknownThing, match="Hollow Lane 400"):
        Source(season_folder).season("Hollow Lane", Filters())


def test_a_season_without_a_reading_says_so(logbook_folder, tmp_path):
    """No pair at all: no chart, a sentence instead."""
    del logbook_folder
    with Logbook.open(tmp_path / "empty", write=True) as logbook:
        logbook.add_bike(twin())
    found = Source(tmp_path / "empty").season(BIKE, Filters())
    body = words(season._body(found))

    assert "nothing to compare" in body
    assert "<svg" not in body


def test_a_nose_of_the_season_shows_ring_and_sensor_at_their_heights():
    """A circle deeper than the square where the sensor is leaner than the ring, an arrow where it is off the nose."""
    nose = Nose(1, "P1", 14.0, ring="seen", depth_mm=6.0, sd_mm=0.3)
    svg = season_nose_svg(nose, 9.0, 1.0)
    circle = marks(svg, "circle")[0]
    square = next(one for one in marks(svg, "rect") if one.get("stroke") == "var(--ring)")

    assert float(circle.get("cy")) > float(square.get("y")) + 11.0
    assert "should sit at 9.0 mm" in shape(svg).get("aria-label")
    assert not marks(season_nose_svg(nose, 30.0, 1.0), "circle")
    assert not marks(season_nose_svg(nose), "circle")


def test_the_difference_plot_puts_a_leaner_ring_higher_and_names_its_limits():
    """A pair with the ring leaner stands over one with the ring richer; bias, limits and margin are named."""
    pairs = [Pair(1, 1, 0.88, 0.02, 0.0, 0.04), Pair(2, 1, 0.88, -0.02, -0.04, 0.0)]
    limits = [Level("upper limit", 0.05, 0.03, 0.09), Level("lower limit", -0.05, -0.09, -0.03)]
    svg = differences_svg(pairs, Level("bias", 0.0, -0.02, 0.02), limits, 0.03)
    high, low = (float(one.get("cy")) for one in marks(svg, "circle"))

    assert high < low
    for text in ("bias +0.000", "upper limit +0.050", "lower limit \N{MINUS SIGN}0.050", "margin 0.03"):
        assert text in svg


def test_both_methods_stand_round_the_stoichiometric_line():
    """Leaner is higher, and lambda 1 is a line across whatever was ridden."""
    seen = [Both(1, 0.87, 0.005, 0.90, 0.01), Both(4, 0.93, 0.005, 0.88, 0.01)]
    svg = both_lines_svg(2, seen)
    first, second = (float(one.get("cy")) for one in marks(svg, "circle"))

    assert second < first
    assert "stoichiometric" in svg
    assert ">4<" in svg


def test_ring_against_sensor_draws_its_line_only_where_there_is_one():
    """The fitted line is there with its figures in the title, and missing where nothing could be fitted."""
    met = [Met(1, 1, 0.86, 0.87), Met(2, 1, 0.90, 0.91)]
    with_line, without = against_svg(met, (0.05, 0.95)), against_svg(met, None)

    assert "ring = 0.050 + 0.950 measured" in with_line
    assert len(marks(with_line, "path")) == len(marks(without, "path")) + 1
    # outside of the pairs: the line is cut at the frame, not pressed against it
    steep = marks(against_svg(met, (-3.2, 4.6)), "path")[-1].get("d")
    heights = [float(part.split(",")[1]) for part in re.split("[ML]", steep) if part.strip()]
    assert 25.9 <= min(heights) < max(heights) <= 372.1
    assert len(heights) < 201


def test_figures_come_from_the_season_itself(season_folder):
    """Each pair is on the plots with its cylinder, and each chart has its own cylinder's sessions."""
    found = Source(season_folder).season(BIKE, Filters())
    charts = words(season_figures.over_time(found.season.points))

    assert len(re.findall("Cylinder [12], ring and measured lambda", charts)) == 4  # title and label of each
    assert "Cylinder 1, ring and measured lambda of 4 sessions" in charts
    assert "Cylinder 2, ring and measured lambda of 3 sessions" in charts
    assert words(season_figures.differences(found.season)).count("<circle") == 7
    assert words(season_row.rows(found.seen, found.season.points)).count("<circle") == 7


def test_what_is_written_on_the_to_do_is_shown_and_ticked_off(season_folder):
    """Added through the form's words, listed for its session and its bike, done once, refused in a sentence."""
    source = Source(season_folder)
    of = {"session": 2, "bike": None}
    raw = {"what": "main jet 155 to 158", "cylinder": "2", "promise": "-0,02"}

    assert "main jet 155 to 158" in todo_calls._add(source, of, raw)
    (task,) = source.tasks(2)
    assert (task.cylinder, task.promise) == (2, -0.02)
    listed = words(todo_calls.shown(source, {"session": None, "bike": BIKE}))
    assert "Session 2 promised" in listed
    assert "Done: main jet 155 to 158" in listed

    todo_calls._finish(source, task.id)
    assert "Done on" in words(todo_calls.shown(source, of))
    shown, said = todo_calls._written(source, of, lambda: todo_calls._finish(source, task.id))
    assert "was done on" in words(said)
    assert "Done on" not in words(shown)


def test_an_empty_task_is_refused_and_a_form_asks_for_the_cylinder_only_of_several():
    """A single has no choice of cylinder; whoever writes leaner is cautioned on the spot."""
    single, several = words(todo.form(1)), words(todo.form(2))

    assert "whole engine" in several
    assert "whole engine" not in single
    assert "breaks in seconds" in single


def test_a_departure_says_why_and_its_test_goes_on_the_to_do(season_folder):
    """A sensor that reads 0.08 lean: the ring is richer than its history, causes with their shares, a button."""
    number = add_departing(season_folder)
    source = Source(season_folder)
    leaking, sound = source.comparison(number).cylinders

    assert leaking.verdict == "ring richer"
    told = words(why(leaking))
    assert '"open": true' in told
    assert "Not known" in told
    assert "The test that tells most" in told
    nose = nose_of(leaking)
    assert nose.ring_mark.mean == leaking.departed.ring.mean
    assert nose.axis.depth(nose.ring_mark.mean) == pytest.approx(7.0, abs=0.1)
    assert sound.verdict != "ring richer"

    asked = {"cylinder": 1, "what": leaking.next_test.how, "because": "to tell apart"}
    assert "Written down" in todo_calls._add_test(source, {"session": number}, asked)
    assert source.tasks(number)[0].what == leaking.next_test.how


@pytest.mark.parametrize(("share", "said"), [(0.001, "under 1 %"), (0.999, "over 99 %"), (0.42, "42 %")])
def test_a_share_is_never_said_to_be_nothing_or_all(share, said):
    """What the tool holds for nearly sure is still a share."""
    assert percent(share) == said


def test_an_interval_is_drawn_whole():
    """The long bar of an unsure pair ends inside the frame, not at its edge as if it were surer."""
    svg = differences_svg([Pair(1, 1, 0.88, 0.0, -0.3, 0.3)], None, [], 0.03)
    bar = next(one for one in marks(svg, "line") if one.get("opacity") == "0.45")
    assert 22.0 < float(bar.get("y2")) < float(bar.get("y1")) < 344.0
    both = both_lines_svg(1, [Both(1, 0.87, 0.2, 0.9, 0.01)])
    whole = next(one for one in marks(both, "line") if one.get("stroke") == "var(--sensor)")
    assert 26.0 < float(whole.get("y2")) < float(whole.get("y1")) < 272.0


def test_an_answer_that_somebody_works_out_is_waited_for():
    """Four that ask at once for the same get one answer, worked out once; another key is not held up."""
    made, started = [], threading.Barrier(4)

    def make():
        made.append(1)
        time.sleep(0.2)
        return object()

    def ask():
        started.wait()
        return cache.get("same", make)

    cache = Cache(4)
    with ThreadPoolExecutor(4) as pool:
        answers = [one.result() for one in [pool.submit(ask) for _ in range(4)]]

    assert len(made) == 1
    assert len(set(map(id, answers))) == 1
    with pytest.raises(ZeroDivisionError):
        cache.get("bad", lambda: 1 / 0)
    assert cache.get("bad", lambda: 5) == 5
