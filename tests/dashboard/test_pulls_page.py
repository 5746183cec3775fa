"""The pages of pulls: what they say first, what they name, what they refuse; the files that they give."""

import asyncio
import csv
import io
import re
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from dash import Dash

from bridge.errors import BadValue
from bridge.logbook import Logbook
from bridge.model import Setup
from bridge.pulls.words import CAUTIONS, peak_doubt, strongest
from dashboard import ids
from dashboard.components import pull_figures, pull_parts
from dashboard.components.parts import as_sentence
from dashboard.data import Source
from dashboard.live.about import look_up
from dashboard.pages import pulls, pulls_compared
from dashboard.pull_routes import curves_frame
from dashboard.pulls_data import Asked
from tests.bridge.pulls.dyno_days import BIKE, frame_of
from tests.dashboard.dyno_logbook import NAME, add_day, fill_days, fill_held
from tests.dashboard.pull_tools import callback_of, cells_of, get, words


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


def test_the_headline_and_the_table_say_how_surely_the_power_is_known(source):
    """The strongest pull with noise, bias and that it is told high; in the table 95 % of the noise beside each."""
    found = source.pulls(1, Asked()).found
    told = words(pulls.body(source.pulls(1, Asked()), None, "iso_1585"))
    best = max(found.pulls, key=lambda pull: pull.peak)
    headline = strongest(found)

    assert f"in pull {best.number}, at the wheel" in headline
    assert "kW of noise left by the filter, its window makes" in headline
    assert "told high" in headline
    assert as_sentence(headline) in told
    for pull in found.pulls:
        reach = 1.96 * peak_doubt(pull)
        assert 0.05 < reach < 1.0
        cell = f"{pull.peak[0]:.1f} \N{PLUS-MINUS SIGN}{reach:.2f}"
        assert cell in words(pull_parts.pull_table(found))
        assert cell in words(pull_parts.run_table(source.compare_pulls(NAME, [1], [2], "iso_1585").entries))


def test_what_the_plugs_say_stop_by_stands_first(source):
    """A stop of the bike's plugs is the first of the cautions on both pages, before the ones that always stand."""
    stop = "Session 2, cylinder 1: aluminium on plug A1: stop."
    picture = source.pulls(1, Asked())
    stopped = replace(picture, found=replace(picture.found, stops=(stop,)))
    told = words(pulls.body(stopped, None, "iso_1585"))

    assert stop not in words(pulls.body(picture, None, "iso_1585"))
    assert told.index(stop) < told.index(CAUTIONS[0])
    assert pull_parts.cautions((stop,)) == [stop, *CAUTIONS]


def test_held_speeds_stand_in_a_table_and_as_points(tmp_path):
    """A brake of 200 N m at 140 rad/s of the roller: 28 kW, 40 N m at an engine that turns five times as fast.

    Closed form, computed by hand: 200 x 140 / 1000 = 28 kW; 200 / 5 = 40 N m.
    """
    picture = Source(fill_held(tmp_path / "logbook")).pulls(1, Asked("none"))
    told = words(pulls.body(picture, None, "none"))
    cells = [one["props"]["children"] for one in cells_of(pull_parts.hold_table(picture.found))]

    assert "1 pull in session 1; told apart from them: 1 hold" in told
    assert [cell.split(" \N{PLUS-MINUS SIGN}")[0] for cell in cells] == [
        "31.7 to 39.7", "6685", "28.0", "40.0", "0.880", "0.910",
    ]  # fmt: skip
    assert all(float(cell.split("\N{PLUS-MINUS SIGN}")[1]) > 0.0 for cell in (cells[2], *cells[4:]))
    table = told.index("Held speeds")
    assert told.index("In figures") < table < told.index("Power of held speeds: at the wheel, as measured")
    assert "held at 6685: 28.0 kW" in told
    assert pull_parts.hold_table(replace(picture.found, holds=())) is None


def test_noise_and_bias_of_the_filter_stand_on_the_figure(source):
    """The window, its points, what it leaves and what it takes are all named beside the correction."""
    found = source.pulls(1, Asked()).found
    said = pull_figures.figure_words(found, found.pulls[0])

    assert "differentiated once over 1 s (51 points)" in said[1]
    # what is told is what the bar shows and the table has: the noise where power is greatest
    reach = 1.96 * peak_doubt(found.pulls[0])
    assert f"noise left by it \N{PLUS-MINUS SIGN}{reach:.2f} kW (95 %, the bar at the top)" in said[1]
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


def test_the_pull_that_was_chosen_stays_when_the_question_changes(source):
    """Another correction or target draws the body anew, with the pull that a person chose, not the address's."""
    app = Dash("test")
    pulls.register(app, source)
    found = callback_of(app, ids.PULLS_BODY)
    about = {"number": 1, "pull": 3}
    bodies = [
        words(asyncio.run(found(about, *asked)))
        for asked in (
            ("iso_1585", None, None),
            ("iso_1585", "0,80", "2"),
            ("none", None, "2"),
        )
    ]

    assert "Power and torque of pull 3" in bodies[0]
    for body in bodies[1:]:
        assert "Power and torque of pull 2" in body
        assert re.search(rf'"id": "{ids.PULL_CHOSEN}"[^{{}}]*"value": "2"', body)
    assert "Pull 2, cylinder 1: leaner than the target" in bodies[1]


def test_a_pull_is_known_to_the_browser_as_soon_as_it_is_chosen(days):
    """The choice is kept on the page by the browser itself, outside what is drawn anew."""
    told = get(days, "/_dash-dependencies").json()
    kept = next(one for one in told if one["output"] == f"{ids.PULL_KEPT}.data")

    assert [one["id"] for one in kept["inputs"]] == [ids.PULL_CHOSEN]
    assert kept["clientside_function"]
    assert kept["prevent_initial_call"]


@pytest.mark.parametrize("path", ["/session/1/pulls", f"/bike/{NAME}/pulls"])
def test_each_sheet_has_one_button_that_prints_it(source, path):
    """The button carries the mark that assets/print.js listens for, and needs no callback."""
    page = pulls if path.startswith("/session") else pulls_compared
    app = Dash("test")
    route = page.register(app, source)
    told = words(asyncio.run(route.layout(route.pattern.fullmatch(path), {"correct": "din_70020"})))

    assert told.count('"data-print": "yes"') == 1
    assert '"value": "din_70020"' in told
    assert not any("print" in key for key in app.callback_map)


def test_the_page_stands_before_its_pulls_are_found(days, monkeypatch):
    """The layout compares nothing and finds no pull; what the address asks for stands in the fields."""
    for work in (
        "dashboard.compared.compare_alone",
        "dashboard.compared.kept_pairs",
        "dashboard.pulls_data.pulls_of",
    ):
        monkeypatch.setattr(work, lambda *_, **__: pytest.fail("the page waited"))
    route = pulls.register(Dash("test"), Source(days))
    match = route.pattern.fullmatch("/session/1/pulls")
    page = words(asyncio.run(route.layout(match, {"correct": "sae_j1349", "target": "0.87", "pull": "3"})))

    assert pulls.LOOKING in page
    assert '"value": "sae_j1349"' in page
    assert '"value": "0.87"' in page
    assert '"pull": 3' in page
    assert "Dynamometer day, Tin shed" in page
    assert f"Compare pulls of {NAME}" in page
    with pytest.raises(BadValue, match="target"):
        pulls._asked("iso_1585", "rich")


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
    for number in ("9" * 10, "9" * 30, "1.5", "one"):
        none = get(days, f"/_pulls/session/{number}/curves.csv")
        assert (none.status_code, none.headers["content-type"]) == (404, "text/plain; charset=utf-8")
        assert none.text == f"'{number}' is no session's number; write it as 12."
    stranger = get(days, "http://elsewhere.example/_pulls/session/1/curves.csv")
    assert stranger.status_code == 400


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
