"""A bike's pulls compared and its best mixture on the page: what is said first, what is refused, the files."""

from dataclasses import replace

import pytest

from bridge.errors import BadValue, UnknownThing
from bridge.pulls.compare import compare
from dashboard.components import pull_figures
from dashboard.pages import pulls_compared
from dashboard.pull_routes import best_frame, comparison_frame, numbers
from dashboard.pulls_data import Asked
from tests.dashboard.dyno_logbook import NAME
from tests.dashboard.pull_tools import words


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
    assert "Tinted: 95 % of where the best lies" in told
    assert "Tinted" not in warned
    half = words(pull_figures.best_curve(replace(whole, high=None)))
    assert "Tinted" not in half
    assert "0.16" not in half
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


@pytest.mark.parametrize(("text", "found"), [("1,2", [1, 2]), (" 3 ,", [3]), ("", [])])
def test_lists_of_sessions(text, found):
    """Commas part them, blanks do not matter."""
    assert numbers(text) == found


def test_the_statement_does_not_depend_on_the_page(source):
    """What the page compares is what the bridge compares."""
    asked = Asked("none")
    own = [source.pulls(number, asked).found for number in (1, 2)]

    assert compare(own[:1], own[1:]).gain_percent == pytest.approx(
        source.compare_pulls(NAME, [1], [2], "none").gain_percent, abs=0.05
    )
