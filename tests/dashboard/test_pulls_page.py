"""The pages of pulls: what they say first, what they name, what they refuse; the files that they give."""

import asyncio
import csv
import io
import json
from dataclasses import replace
from datetime import UTC, datetime

import httpx
import pytest
from dash import Dash

from bridge.errors import BadValue, UnknownThing
from bridge.logbook import Logbook
from bridge.model import Setup
from bridge.pulls.compare import compare
from dashboard.app import create_app
from dashboard.components import pull_figures, pull_parts
from dashboard.data import Source
from dashboard.live.about import look_up
from dashboard.pages import pulls, pulls_compared
from dashboard.pull_routes import best_frame, comparison_frame, curves_frame, numbers
from dashboard.pulls_data import Asked
from tests.bridge.pulls.dyno_days import BIKE, frame_of
from tests.dashboard.dyno_logbook import NAME, add_day, fill_days

LOCAL = "http://127.0.0.1:8742"


@pytest.fixture(scope="module")
def days(tmp_path_factory):
    """Return the folder of a logbook of dynamometer days; no test writes into it."""
    return fill_days(tmp_path_factory.mktemp("dyno") / "logbook")


@pytest.fixture
def source(days):
    """Return the pages' source on it."""
    return Source(days)


def words(component):
    """Return a page as the text that goes to the browser."""
    return json.dumps(component, default=lambda one: one.to_plotly_json(), ensure_ascii=False)


def get(folder, path):
    """Ask the whole app, gate and all, for an address."""

    async def ask():
        transport = httpx.ASGITransport(create_app(folder), client=("127.0.0.1", 50000))
        async with httpx.AsyncClient(transport=transport, base_url=LOCAL) as client:
            return await client.get(path)

    return asyncio.run(ask())


def test_the_sheet_says_first_what_was_found_then_shows_it(source):
    """Number and power, cautions, the trace, the drawing with its correction, figures, the file."""
    picture = source.pulls(1, Asked())
    told = words(pulls.body(picture, None, "iso_1585"))

    order = [
        "4 pulls in session 1",
        "The most: 34.",
        "Caution",
        "Found on the trace",
        "Power, torque",
        "In figures",
        "CSV",
    ]
    places = [told.index(text) for text in order]
    assert places == sorted(places)
    assert "Corrected by ISO 1585" in told
    assert "A chop followed pull 4" in told


def test_noise_and_bias_of_the_filter_stand_on_the_figure(source):
    """The window, its points, what it leaves and what it takes are all named beside the correction."""
    found = source.pulls(1, Asked()).found
    said = pull_figures.figure_words(found, found.pulls[0])

    assert "differentiated once over 1 s (51 points)" in said[1]
    assert "noise left by it \N{PLUS-MINUS SIGN}" in said[1]
    assert "bias of the window" in said[1]
    refused = pull_figures.figure_words(found, replace(found.pulls[0], along=None))
    assert len(refused) == 1


def test_another_correction_and_none_are_named(source):
    """Figures by another standard differ and say so; as measured is said to be uncorrected."""
    usual, none = (source.pulls(1, Asked(name)).found for name in ("iso_1585", "none"))
    said = pull_figures.figure_words(none, none.pulls[0])

    assert said[0] == "As measured, not corrected."
    assert usual.pulls[0].peak[0] != none.pulls[0].peak[0]
    with pytest.raises(BadValue, match="no correction"):
        source.pulls(1, Asked("sae"))
    assert pull_parts.known_standard("sae") == "iso_1585"


def test_no_weather_is_said_on_the_figure(tmp_path):
    """Without weather nothing is corrected, and the drawing names what is missing."""
    folder = tmp_path / "logbook"
    with Logbook.open(folder, write=True) as logbook:
        logbook.add_bike(BIKE)
        add_day(logbook, frame_of((1.0,)), 1, weather=False)
    found = Source(folder).pulls(1, Asked()).found

    said = pull_figures.figure_words(found, found.pulls[0])[0]
    assert said.startswith("As measured, not corrected: the air temperature and air pressure and humidity")


def test_a_session_without_power_shows_its_mixture_and_says_what_is_missing(source):
    """Revs, throttle and lambda alone: lambda by itself, no power, and the reason."""
    picture = source.pulls(6, Asked(target=0.8))
    told = words(pulls.body(picture, None, "iso_1585"))

    assert "Mixture along the pull" in told
    assert "Lambda of pull 1 by engine speed, without power" in told
    assert "There is no power:" in told
    assert "leaner than the target" in told
    assert "Power and torque" not in told


def test_a_session_without_a_pull_says_so(logbook_folder):
    """A practice without pulls: none counted, no drawing of one, no file."""
    picture = Source(logbook_folder).pulls(1, Asked())
    told = words(pulls.body(picture, None, "iso_1585"))

    assert "0 pulls in session 1" in told
    assert "CSV" not in told
    assert "Power, torque" not in told


def test_the_pull_that_is_asked_for_is_shown_and_an_unknown_one_is_not_invented(source):
    """By number where there is one; else the one that a chop followed."""
    picture = source.pulls(1, Asked())

    assert "Power and torque of pull 2" in words(pulls.body(picture, 2, "iso_1585"))
    assert "Power and torque of pull 4" in words(pulls.body(picture, 77, "iso_1585"))
    assert "no pull 77" in words(pulls.one_pull(picture, 77))
    without = [replace(pull, chop_s=None) for pull in picture.found.pulls]
    assert pull_figures.shown_first(without) == max(without, key=lambda pull: pull.peak).number
    assert pull_figures.shown_first([]) is None


def test_the_page_stands_before_its_pulls_are_found(source):
    """The layout finds no pull itself; what the address asks for stands in the fields."""
    route = pulls.register(Dash("test"), source)
    match = route.pattern.fullmatch("/session/1/pulls")
    page = words(asyncio.run(route.layout(match, {"correct": "sae_j1349", "target": "0.87", "pull": "3"})))

    assert pulls.LOOKING in page
    assert '"value": "sae_j1349"' in page
    assert '"value": "0.87"' in page
    assert '"pull": 3' in page
    with pytest.raises(BadValue, match="target"):
        pulls._asked("iso_1585", "rich")


def test_a_gain_is_said_first_and_drawn(source):
    """6 % built in: a gain with its interval, both sides drawn, every run in the table."""
    made = source.compare_pulls(NAME, [1, 3], [2], "iso_1585")
    told = words(pulls_compared.comparison(made, NAME, ([1, 3], [2]), "iso_1585"))

    assert made.low < 6.0 < made.high
    places = [
        told.index(text) for text in ("A gain is shown", "Caution", "On one rpm axis", "The runs", "CSV")
    ]
    assert places == sorted(places)
    assert "Mean power before the change (8 runs) and after the change (4 runs)" in told
    assert told.count('"children": "counts"') == 12
    assert "Mean lambda before: 0.87" in told
    assert "before=1%2C3&after=2" in told


def test_no_difference_is_said_plainly(source):
    """Two days alike: no difference shown, and the overlay is drawn all the same."""
    made = source.compare_pulls(NAME, [1], [3], "iso_1585")
    told = words(pulls_compared.comparison(made, NAME, ([1], [3]), "iso_1585"))

    assert "No difference shown" in told
    assert "A gain is shown" not in told
    assert "pull-overlay" in told


def test_a_run_that_does_not_count_is_in_the_table_with_its_reason(source):
    """Left out is said beside the run, and it is not drawn."""
    made = source.compare_pulls(NAME, [1], [2], "iso_1585")
    one = replace(made.entries[0], left_out="it began too hot")
    told = words(
        pulls_compared.comparison(replace(made, entries=(one, *made.entries[1:])), NAME, ([1], [2]), "none")
    )

    assert "left out: it began too hot" in told
    assert "Mean power before the change (3 runs)" in told


def test_what_can_be_compared_is_offered_and_the_rest_named(source):
    """Each session with its number of pulls; one without power says why; the address chooses."""
    days = source.pull_days(NAME)
    told = words(pulls_compared.choice(days, {"before": "1,99", "after": "2", "of": "", "rpm": "7500"}))

    assert [day.pulls for day in days] == [4, 4, 4, 4, 4, 2]
    assert "1, 15 May 2026" in told
    assert '"value": ["1"]' in told  # 99 is none
    assert "Session 6: there is no power" in told
    nothing = words(pulls_compared.choice((), {"before": "", "after": "", "of": "", "rpm": ""}))
    assert "No session of this bike has a pull" in nothing


def test_sessions_of_another_bike_and_bikes_that_are_not_there_are_refused(source):
    """The bike's own sessions alone; a session on both sides is refused by the bridge."""
    with pytest.raises(UnknownThing, match="no bike 'Hollow'"):
        source.pull_days("Hollow")
    with pytest.raises(UnknownThing, match="session 99 is none of"):
        source.compare_pulls(NAME, [99], [1], "none")
    with pytest.raises(BadValue, match="named twice"):
        source.compare_pulls(NAME, [1], [1], "none")


def test_the_best_mixture_has_a_top_or_says_why_not(source):
    """Over rich, right and lean days a best with its interval; over two mixtures no claim; at the edge the warning."""
    whole, left = source.best_mixture(NAME, [1, 3, 4, 5, 6], 7500.0, "iso_1585")
    told = words(pulls_compared.best_mixture(whole, left, NAME, [1, 3, 4, 5, 6], "iso_1585"))

    assert 0.86 < whole.best_lambda < 0.91
    assert "Greatest at lambda" in told
    assert f"best {whole.best_lambda:.3f}" in told
    few, left = source.best_mixture(NAME, [4, 5], 7500.0, "iso_1585")
    assert "No claim" in words(pulls_compared.best_mixture(few, left, NAME, [4, 5], "iso_1585"))
    edge = replace(whole, at_edge=True, top=replace(whole.top, edge="high"))
    warned = words(pulls_compared.best_mixture(edge, (), NAME, [1], "iso_1585"))
    assert "caution-line" in warned
    assert "the best may lie beyond" in warned
    unbounded = replace(edge, low=None, high=None)
    assert "may lie beyond" not in words(pull_figures.best_curve(unbounded))


@pytest.mark.parametrize(("text", "speed"), [("7500", 7500.0), ("7500,5", 7500.5), ("", None), (None, None)])
def test_an_engine_speed_as_typed(text, speed):
    """A comma is a point, nothing is nothing."""
    assert pulls_compared._speed(text) == speed


def test_an_engine_speed_that_is_none_is_refused():
    """Seven revolutions are no pull."""
    with pytest.raises(BadValue, match="7 is no engine speed"):
        pulls_compared._speed("7")


def test_curves_as_a_file_name_their_correction_in_every_row(source):
    """A row for each pull and speed; power times what the standard says; the same numbers as on the figure."""
    found = source.pulls(1, Asked()).found
    frame = curves_frame(found)

    assert frame["pull"].unique().sort().to_list() == [1, 2, 3, 4]
    assert frame["corrected_by"].unique().to_list() == ["ISO 1585 (motorcycles: ISO 4106)"]
    known = frame.drop_nulls("power_kw")
    ratio = (known["power_kw"] / known["power_measured_kw"]).to_numpy()
    assert ratio == pytest.approx(known["correction_factor"].to_numpy())
    assert frame["power_kw"].max() == pytest.approx(max(pull.peak[0] for pull in found.pulls))


def test_files_of_comparison_and_best_mixture(source):
    """The gain's columns are there; runs and curve of the best mixture are told apart."""
    made = comparison_frame(source.compare_pulls(NAME, [1], [2], "none"))
    best = best_frame(source.best_mixture(NAME, [1, 4, 5], 7500.0, "none")[0])

    assert {"before_kw", "after_kw_low", "gain_percent", "corrected_by"} <= set(made.columns)
    assert made["corrected_by"].unique().to_list() == ["as measured"]
    assert best.filter(best["what"] == "run").height == 12
    assert (
        best.filter(best["what"] == "fit")["power_kw"].max()
        > best.filter(best["what"] == "run")["power_kw"].min()
    )


def test_files_come_through_the_gate_and_refusals_are_sentences(days):
    """A download with its name; what cannot be had is the bridge's own sentence; a stranger's host gets nothing."""
    file = get(days, "/_pulls/session/1/curves.csv?correct=sae_j1349")
    rows = list(csv.DictReader(io.StringIO(file.text)))

    assert file.headers["content-disposition"] == 'attachment; filename="pulls-session-1.csv"'
    assert {row["corrected_by"] for row in rows} == {"SAE J1349 (form of June 1990)"}
    missing = get(days, "/_pulls/session/99/curves.csv")
    assert (missing.status_code, missing.headers["content-type"]) == (404, "text/plain; charset=utf-8")
    assert "99" in missing.text
    bad = get(days, f"/_pulls/compare.csv?bike={NAME}&before=1;2&after=3")
    assert bad.status_code == 404
    assert "no list of sessions" in bad.text
    stranger = get(days, "http://elsewhere.example/_pulls/session/1/curves.csv")
    assert stranger.status_code == 400


@pytest.mark.parametrize(("text", "found"), [("1,2", [1, 2]), (" 3 ,", [3]), ("", [])])
def test_lists_of_sessions(text, found):
    """Commas part them, blanks do not matter."""
    assert numbers(text) == found


def test_what_was_worked_out_is_kept_and_what_changed_is_worked_out_anew(tmp_path):
    """The same question has the same object; thinner air that is written down later makes the corrected power more."""
    folder = fill_days(tmp_path / "logbook")
    source = Source(folder)
    before = source.pulls(2, Asked()).found
    assert source.pulls(2, Asked()).found is before

    with Logbook.open(folder, write=True) as logbook:
        weather = {"air_temp_c": 22.0, "air_pressure_hpa": 960.0, "humidity_percent": 45.0}
        logbook.set_setup(2, Setup.model_validate({"weather": weather}))
    after = source.pulls(2, Asked()).found
    assert after.pulls[0].peak[0] > 1.03 * before.pulls[0].peak[0]


def test_the_statement_does_not_depend_on_the_page(source):
    """What the page compares is what the bridge compares."""
    asked = Asked("none")
    own = [source.pulls(number, asked).found for number in (1, 2)]

    assert compare(own[:1], own[1:]).gain_percent == pytest.approx(
        source.compare_pulls(NAME, [1], [2], "none").gain_percent, abs=0.05
    )


def test_only_a_recording_s_own_kind_is_told_to_the_alarm(tmp_path):
    """A recording after a dynamometer day takes its kind over in the list, and is none to the alarm."""
    folder = fill_days(tmp_path / "logbook")
    with Logbook.open(folder, write=True) as logbook:
        number = logbook.new_session(bike=NAME, place=None, source="/dev/invented", started=datetime.now(UTC))
        logbook.raw_path(number).touch()
        assert logbook.session(number).kind == "dyno"
        assert look_up(folder, number).to_json()["kind"] is None
        logbook.set_setup(number, Setup(kind="dyno"))

        assert look_up(folder, number).to_json()["kind"] == "dyno"
