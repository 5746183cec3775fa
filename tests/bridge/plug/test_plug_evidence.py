"""The table of what else is seen on a plug: careful words, and what stops all talk of leaner. Common practice."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.plug.evidence import EVIDENCE, STRAP_TIP, STRAP_WELD, evidence_of, stops_leaner
from tests.virtual_runs import reading

SPECKS = st.sampled_from(["none", "soot", "aluminium", "not-looked"])
LOOKED = st.sampled_from([None, False, True])
readings = st.builds(
    reading,
    specks=SPECKS,
    glaze=LOOKED,
    blisters=LOOKED,
    wet=LOOKED,
    edge=st.sampled_from([None, "sharp", "rounded"]),
    strap_mark=st.none() | st.floats(0.0, 1.0),
    base_ring=st.none() | st.just("grey"),
    piston_wash=st.none() | st.just("wide"),
    nose_colour=st.none() | st.just("tan"),
)


def keys(**seen):
    return [one.evidence.key for one in evidence_of(reading(**seen))]


def test_every_row_claims_no_more_than_it_may():
    """Each row has a meaning, a caution and its status, and no row is told twice."""
    assert len({row.key for row in EVIDENCE}) == len(EVIDENCE)
    for row in EVIDENCE:
        assert row.status == "common practice"
        assert row.caution
        assert " may indicate " in row.sentence
        assert row.direction in {None, "leaner", "richer", "stop"}


def test_no_row_calls_for_a_leaner_mixture():
    """What a caution says about leaner is always that one should not."""
    for row in EVIDENCE:
        if "leaner" in row.caution:
            assert any(no in row.caution for no in ("not go leaner", "no leaner", "never go leaner"))


def test_what_nobody_looked_at_is_no_evidence():
    """A reading of the ring alone, a look that found nothing, and no reading at all show nothing else."""
    assert evidence_of(None) == ()
    assert keys() == []
    assert keys(glaze=False, blisters=False, wet=False, specks="none", edge="sharp") == []


@pytest.mark.parametrize(
    ("seen", "key"),
    [
        ({"specks": "aluminium"}, "aluminium"),
        ({"specks": "soot"}, "soot"),
        ({"glaze": True}, "glaze"),
        ({"blisters": True}, "blisters"),
        ({"wet": True}, "wet"),
        ({"edge": "rounded"}, "rounded edge"),
        ({"base_ring": "grey"}, "base ring"),
        ({"nose_colour": "tan"}, "nose colour"),
        ({"piston_wash": "wide"}, "piston wash"),
        ({"strap_mark": 0.9}, "strap mark to the weld"),
        ({"strap_mark": 0.1}, "strap mark to the tip"),
        ({"strap_mark": 0.5}, "strap mark near the bend"),
    ],
)
def test_each_mark_brings_its_own_row(seen, key):
    """One mark, one row."""
    assert keys(**seen) == [key]


def test_the_words_and_figures_that_were_written_stand_in_what_was_seen():
    """The tuner's own words and the strap mark's share are not lost."""
    assert evidence_of(reading(base_ring="full, grey"))[0].seen == "base ring (full, grey)"
    assert "0.8 of the way" in evidence_of(reading(strap_mark=0.8))[0].seen


def test_the_strap_mark_tells_more_heat_towards_the_weld():
    """Towards the weld may be too early or hot, towards the tip late or cool (common practice)."""
    weld, tip = (evidence_of(reading(strap_mark=mark))[0].evidence for mark in (1.0, 0.0))

    assert "early" in weld.may_indicate
    assert "late" in tip.may_indicate
    assert 0.0 < STRAP_TIP < 0.5 < STRAP_WELD < 1.0


@given(share=st.floats(0.0, 1.0))
def test_every_strap_mark_has_exactly_one_meaning(share):
    """No share falls between two rows or into both."""
    assert len(keys(strap_mark=share)) == 1


@given(seen=readings)
def test_aluminium_stops_leaner_whatever_else_is_seen(seen):
    """With aluminium it stops and comes first; without it, only blisters do."""
    stop = stops_leaner(seen)

    if seen.specks == "aluminium":
        assert stop.startswith("Aluminium on plug A1: stop, do not go leaner")
        assert evidence_of(seen)[0].evidence.key == "aluminium"
    else:
        assert (stop is not None) is (seen.blisters is True)


def test_nobody_is_stopped_by_a_plug_that_was_not_read():
    """Without a reading there is nothing to stop at."""
    assert stops_leaner(None) is None
