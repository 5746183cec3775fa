"""What a comparison says of the rules that its readings were judged by, and of the rest that the plugs show."""

import json
from dataclasses import replace

import pytest

from bridge.agreement import compare
from bridge.emulator.ride import practice
from bridge.model.reading_limits import ReadingLimits
from tests.virtual_runs import BIKE, life, reading, virtual_run

RUN, _ = virtual_run(1)
ROLLED, _ = virtual_run(2, script=practice(laps=0, ending="roll in"))


def both(run=RUN, **seen):
    """Return the comparison of two plugs that were seen alike."""
    return compare(run, [life(run, n, seen=reading(f"A{n}", **seen)) for n in (1, 2)])


def test_each_cylinder_has_every_rule_with_its_figure():
    """Programs get rule, result, figure, words, mend and status of each rule, as plain values."""
    document = json.loads(json.dumps(both(specks="none").to_json()))
    rules = document["cylinders"][0]["rules"]

    assert {"full throttle", "last minute", "gap", "clean cut", "warm-up", "heat range", "specks"} <= {
        rule["rule"] for rule in rules
    }
    for rule in rules:
        assert set(rule) == {"rule", "result", "figure", "says", "next_time", "status"}
        assert rule["result"] in {"pass", "doubtful", "fail", "not known"}
        assert rule["status"] == "common practice"


def test_valid_is_that_no_rule_failed():
    """What does not count has a failed rule, and its reason is the first one's."""
    for run in (RUN, ROLLED):
        for one in both(run).to_json()["cylinders"]:
            failed = [rule for rule in one["rules"] if rule["result"] == "fail"]
            assert one["reading_valid"] is (not failed)
            assert one["invalid_because"] is None or one["invalid_because"].startswith(failed[0]["says"])


def test_a_doubt_that_all_plugs_share_is_said_once():
    """Specks that nobody looked for are said with their caution, once for both cylinders."""
    found = both()
    words = " ".join(found.in_words())

    assert words.count("nobody looked for specks") == 1
    assert "Doubtful on each plug" in words
    assert all("nobody looked for specks" in " ".join(c["doubtful"]) for c in found.to_json()["cylinders"])


def test_a_doubt_of_one_plug_stands_with_its_cylinder():
    """Where one plug was looked at and the other not, the doubt belongs to the other."""
    lives = [life(RUN, seen=reading(specks="none")), life(RUN, 2, seen=reading("A2"))]
    words = compare(RUN, lives).in_words()

    place = next(i for i, text in enumerate(words) if text.startswith("Doubtful: nobody looked"))
    assert any(text.startswith("Cylinder 2") for text in words[:place])


def test_every_rule_is_shown_when_asked_for():
    """Asked for, each rule of each plug has its line; unasked, only what speaks against it."""
    found = both(ROLLED, specks="none")
    short, long = found.in_words(), found.in_words(rules=True)

    assert not any(text.startswith("Rule ") for text in short)
    for cylinder in found.cylinders:
        for rule in cylinder.validity.rules:
            assert any(text.startswith(f"Rule {rule.rule}: {rule.result}") for text in long)
    assert any("Also against this reading: clean cut" in text for text in short)


def test_the_limits_stand_in_the_answer():
    """The limits that were used can be read off, the bike's own among them."""
    strict = replace(RUN, bike=BIKE.model_copy(update={"reading": ReadingLimits(full_throttle_s=30.0)}))

    assert both().to_json()["reading_limits"]["full_throttle_s"] == 5.0
    found = both(strict).to_json()
    assert found["reading_limits"]["full_throttle_s"] == 30.0
    assert not found["cylinders"][0]["reading_valid"]


def test_what_else_was_seen_comes_with_its_caution():
    """Programs and people both get what it may indicate and what not to do about it."""
    seen = {"glaze": True, "strap_mark": 0.5}
    found = compare(RUN, [life(RUN, n, state="cleaned", seen=reading(f"A{n}", **seen)) for n in (1, 2)])
    evidence = found.to_json()["cylinders"][0]["evidence"]
    words, every = " ".join(found.in_words()), " ".join(found.in_words(rules=True))

    assert [one["key"] for one in evidence] == ["glaze", "strap mark near the bend"]
    assert all(
        set(one) == {"key", "seen", "may_indicate", "caution", "direction", "status"} for one in evidence
    )
    assert words.count("glaze on the nose may indicate") == 1
    assert "reads lean at the sensor" in words
    assert "near the bend" not in words
    assert "near the bend" in every


@pytest.mark.parametrize("seen", [{"specks": "aluminium"}, {"blisters": True}])
@pytest.mark.parametrize("state", ["new", "used"])
def test_signs_of_harm_stop_all_talk_of_leaner(seen, state):
    """The statement begins with the stop, whether the reading counts or not, and no caution speaks of small steps."""
    found = compare(RUN, [life(RUN, state=state, seen=reading(**seen))])
    one, two = found.to_json()["cylinders"]
    words = " ".join(found.in_words())

    assert "A1: " in one["statement"].split(".")[0]
    assert "Nothing said here is a reason to go leaner" in one["statement"]
    assert "Nothing said here" not in two["statement"]
    assert "may indicate" in found.cautions[0]
    assert "go leaner only in small steps" not in words
    assert "go no leaner at all" in words
    assert "piston" in words


def test_a_failed_reading_stays_on_record():
    """Its ring, its evidence and its rules are all told; only the difference is not."""
    (one, _) = both(ROLLED, wet=True).to_json()["cylinders"]

    assert one["ring_depth_mm"] == 6.0
    assert one["evidence"][0]["key"] == "wet"
    assert one["absolute"]["difference"] is None
    assert one["verdict"] == "cannot say"
