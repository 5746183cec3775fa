"""Marks of heat on a plug whose few hours are known: stop and look. Common practice, no source."""

from dataclasses import replace

import polars as pl
import pytest

from bridge.agreement import compare
from bridge.agreement.stops import stops_after
from bridge.plug.evidence import NEARLY_NEW_S, evidence_of, stops_leaner
from bridge.plug.hours import with_ran
from tests.virtual_runs import life, reading, virtual_run

RUN, _ = virtual_run(1)


@pytest.mark.parametrize("mark", [{"edge": "rounded"}, {"glaze": True}])
def test_a_mark_of_heat_on_a_nearly_new_plug_stops(mark):
    """With few hours it stops talk of leaner, with many or unknown ones it does not; the words stay careful."""
    seen = reading(**mark)
    assert "nearly new" in evidence_of(seen, 600.0)[0].sentence
    assert "may indicate" in evidence_of(seen, 600.0)[0].sentence
    assert "stop, go no leaner" in stops_leaner(seen, 600.0)
    for many in (NEARLY_NEW_S, None):
        assert stops_leaner(seen, many) is None
        assert evidence_of(seen, many)[0].evidence.direction is None


def test_aluminium_still_comes_first():
    """Beside aluminium and other marks the most urgent keeps its place, and what stops stands before the rest."""
    seen = reading(edge="rounded", specks="aluminium", wet=True)
    assert [one.evidence.key for one in evidence_of(seen, 60.0)] == ["aluminium", "rounded edge", "wet"]


def test_the_hours_are_taken_from_the_log_of_a_new_plug_alone():
    """A plug that was used before has hours that no log of this stay tells; without such a mark nobody asks."""
    assert 10.0 < with_ran(life(RUN, seen=reading(edge="rounded"))).ran_s < 600.0
    assert with_ran(life(RUN, state="used", seen=reading(edge="rounded"))).ran_s is None
    assert with_ran(life(RUN, seen=reading(edge="sharp"))).ran_s is None
    blind = replace(RUN, samples=RUN.samples.select("t_s", pl.lit(None, pl.Float32).alias("rpm")))
    assert with_ran(life(blind, seen=reading(edge="rounded"))).ran_s is None


def test_the_comparison_and_a_plan_to_go_leaner_hear_of_it():
    """It stands before the verdict and first of the cautions, and it stops a plan to go leaner."""
    plug = life(RUN, seen=reading(edge="rounded"))
    found = compare(RUN, [plug])

    assert found.cylinders[0].statement.startswith("Rounded edge on plug A1: stop")
    assert "nearly new plug may indicate" in found.cautions[0]
    assert "rounded edge" in stops_after((), 1, [plug])[0].sentence
    old = compare(RUN, [life(RUN, state="cleaned", seen=reading(edge="rounded"))])
    assert not any("nearly new plug may" in text for text in old.cautions)
    assert any("nobody knows how many hours" in text for text in old.in_words())
