"""One session's answer: what it counts, what it says, and what it never says."""

import json
from dataclasses import replace

import pytest

from bridge.agreement.compare import compare
from bridge.emulator.ride import practice
from bridge.model import ScaleStatement, Setup, StatedFuel
from bridge.plug.scale import SLOPE_MM
from tests.virtual_runs import BIKE, NOW, life, reading, virtual_run

RUN, _ = virtual_run(1)
LONG = practice(laps=1)
"""Some 28 s of full throttle, enough for "no ring" to count."""
MAIN = 0.87
KEYS = {
    "cylinder",
    "plug",
    "reading_valid",
    "invalid_because",
    "ring_depth_mm",
    "scale",
    "ring_lambda",
    "measured_lambda",
    "absolute",
    "departure",
    "verdict",
    "causes",
}


def statement(sd_mm=0.1, depth_mm=6.0, lambda_=MAIN, build=1):
    """Return the tuner's word: by default a very sure one, as nobody has it."""
    return ScaleStatement(depth_mm, sd_mm, lambda_, "short", 14.0, build, NOW)


def ring_at(lambda_, **changes):
    """Return a very sure reading of the ring that this lambda leaves by ``statement()``."""
    return reading(ring_mm=6.0 + SLOPE_MM * (lambda_ - MAIN), ring_sd_mm=0.1, **changes)


def first(run, seen, statements=(), **changes):
    """Return cylinder one's result."""
    return compare(run, [life(run, seen=seen, **changes)], statements).cylinders[0]


def test_the_answer_has_the_keys_that_scripts_rely_on():
    """Every key stands there for every cylinder, and the whole is plain JSON."""
    document = compare(RUN, [life(RUN)]).to_json()

    assert json.loads(json.dumps(document, allow_nan=False)) == document
    assert {"session", "fuel", "stoich_afr", "cylinders"} <= document.keys()
    assert [one["cylinder"] for one in document["cylinders"]] == [1, 2]
    for one in document["cylinders"]:
        assert one.keys() >= KEYS
        assert one["ring_lambda"].keys() >= {"mean", "low", "high"}
        assert one["measured_lambda"].keys() >= {"mean", "low", "high", "seconds"}
        assert one["absolute"].keys() >= {"difference", "low", "high", "verdict"}
        assert one["departure"] is None
        assert one["causes"] == []


def test_two_methods_that_agree_are_said_to():
    """Ring and mixture both at 0.87, each known very surely: they agree."""
    found = first(RUN, ring_at(MAIN), [statement()])

    assert found.scale.name == "stated"
    assert found.verdict == "agree"
    assert found.statement.startswith("They agree")


@pytest.mark.parametrize(
    ("ring", "verdict", "side"),
    [(MAIN + 0.08, "ring leaner", "leaner"), (MAIN - 0.08, "ring richer", "richer")],
)
def test_a_ring_that_is_off_is_told_with_its_side(ring, verdict, side):
    """A ring 0.08 off is told, and on the right side."""
    found = first(virtual_run(1, main=MAIN)[0], ring_at(MAIN), [statement(lambda_=ring)])

    assert found.verdict == verdict
    assert (found.absolute.difference > 0.0) is (side == "leaner")
    assert f"reads {side} than the sensor" in found.statement


@pytest.mark.parametrize(("main", "verdict"), [(0.80, "ring leaner"), (0.95, "ring richer")])
def test_a_sensor_that_is_off_is_told_with_the_same_words(main, verdict):
    """The mixture moves and the ring stays: the difference is ring minus measured."""
    found = first(virtual_run(5, main=main)[0], ring_at(MAIN), [statement()])

    assert found.verdict == verdict


def test_the_starting_guess_can_hardly_say_anything():
    """By the guess alone a ring that fits exactly is no agreement, and the guess is named as the doubt."""
    found = first(RUN, reading(ring_mm=7.0 + SLOPE_MM * (MAIN - 0.88)))

    assert found.scale.name == "guess"
    assert found.verdict == "cannot say"
    assert "place of the ring scale" in found.statement


def test_the_budget_counts_every_doubt_of_an_absolute_difference():
    """Reading, scale, scatter, sampling, delay, resolution and the sensor's own accuracy, as squares."""
    found = first(RUN, ring_at(MAIN), [statement()])
    ring, over = found.ring, found.measured

    expected = ring.sd**2 + over.budget.sd**2 + over.sensor_sd**2
    assert found.absolute.budget.sd**2 == pytest.approx(expected)
    names = " ".join(part.name for part in found.absolute.budget.components)
    for doubt in ("reading", "place", "slope", "scatter", "sampling", "delay", "resolution", "own accuracy"):
        assert doubt in names


def test_a_two_strokes_sensor_is_trusted_less():
    """The same figures that agree on a four-stroke cannot say on a two-stroke, and a caution says why."""
    two = BIKE.model_copy(update={"strokes": 2})
    run, _ = virtual_run(1, bike=two)
    found = compare(run, [life(run, seen=ring_at(MAIN))], [statement()])

    assert found.cylinders[0].verdict == "cannot say"
    assert found.cylinders[0].measured.sensor.constant[0].sd == pytest.approx(0.05)
    assert any("two-stroke" in caution for caution in found.cautions)


def test_a_used_plug_has_no_difference_at_all():
    """An invalid reading keeps its depth on record, and nothing is reckoned from it."""
    found = first(RUN, ring_at(MAIN), [statement()], state="used")

    assert not found.validity.valid
    assert found.ring_depth_mm == pytest.approx(6.0)
    assert (found.absolute.difference, found.absolute.low, found.absolute.high) == (None, None, None)
    assert found.verdict == "cannot say"
    assert "neither new nor cleaned" in found.statement


def test_no_ring_on_a_rich_engine_is_told_as_leaner():
    """No ring is leaner than the seat; where the sensor says very rich, that is a difference, one-sided."""
    run, _ = virtual_run(6, main=0.75, script=LONG)
    found = first(run, reading(ring="none"), [statement(depth_mm=13.5, lambda_=0.97)])
    agreeing = first(
        virtual_run(6, main=0.97, script=LONG)[0],
        reading(ring="none"),
        [statement(depth_mm=13.5, lambda_=0.97)],
    )

    assert found.verdict == "ring leaner"
    assert found.absolute.difference is None
    assert found.absolute.low > 0.0
    assert found.absolute.high is None
    assert "at least" in found.statement
    assert agreeing.verdict == "cannot say"


def test_no_ring_after_few_seconds_is_no_verdict():
    """What is told as leaner after half a minute cannot say after some 14 s, and the reason has the figure."""
    found = first(
        virtual_run(6, main=0.75)[0], reading(ring="none"), [statement(depth_mm=13.5, lambda_=0.97)]
    )

    assert found.verdict == "cannot say"
    assert (found.absolute.low, found.absolute.high) == (None, None)
    assert found.statement.startswith(
        f"Cannot say: no ring after {found.validity.full_throttle_s:.1f} s of full throttle"
    )
    assert "too short a run" in found.statement


def test_all_dark_on_a_lean_engine_is_told_as_richer():
    """All dark is richer than the tip; where the sensor says lean, that is a difference, one-sided."""
    found = first(
        virtual_run(6, main=0.95)[0], reading(ring="all-dark"), [statement(depth_mm=0.5, lambda_=0.76)]
    )

    assert found.verdict == "ring richer"
    assert found.absolute.high < 0.0
    assert found.absolute.low is None


def test_a_cylinder_without_a_plug_is_there_and_says_so():
    """Its measured lambda is this session's own, its reading is missing, and the mend is in the sentence."""
    found = compare(RUN, [life(RUN)]).cylinders[1]

    assert (found.plug, found.validity.valid, found.verdict) == (None, False, "cannot say")
    assert "write down which one was fitted" in found.validity.because
    assert found.measured.mean is not None
    assert any("this session alone" in note for note in found.notes)


def test_a_missing_nose_length_names_its_key():
    """Without nose length and statement a depth stands for nothing, and the key that is lacking is named."""
    found = first(RUN, reading(), nose_mm=None)

    assert found.ring is None
    assert found.scale is None
    assert found.verdict == "cannot say"
    assert "nose_mm" in found.statement


def test_a_statement_for_another_build_is_not_used():
    """A rebuilt engine starts from the guess again."""
    assert first(RUN, reading(), [statement(build=2)]).scale.name == "guess"


def test_everything_stands_there_as_afr_of_the_sessions_own_fuel():
    """AFR is lambda times the fuel's stoichiometric AFR; a fuel that nobody named is petrol, and noted."""
    stated = replace(RUN, setup=Setup(fuel=StatedFuel(afr=14.1)))
    document = compare(stated, [life(stated)]).to_json()
    one = document["cylinders"][0]
    unnamed = compare(replace(RUN, setup=Setup()), [])

    assert document["stoich_afr"] == 14.1
    assert one["measured_afr"]["mean"] == pytest.approx(14.1 * one["measured_lambda"]["mean"])
    assert one["ring_afr"]["low"] == pytest.approx(14.1 * one["ring_lambda"]["low"])
    assert one["absolute"]["difference_afr"] == pytest.approx(14.1 * one["absolute"]["difference"])
    assert unnamed.fuel.name == "petrol"
    assert any("petrol" in note for note in unnamed.notes)


def test_a_collectors_sensor_is_told_as_an_average():
    """One sensor for two cylinders measures both at once, and each cylinder's notes say so."""
    run, _ = virtual_run(7, bike=BIKE.model_copy(update={"sensor": "collector"}))
    found = compare(run, [life(run, 1), life(run, 2)])

    assert all(one.measured.engine_wide for one in found.cylinders)
    assert all(any("average" in note for note in one.notes) for one in found.cylinders)


def test_one_sensor_for_two_cylinders_is_no_plain_agreement():
    """What agrees by a cylinder's own sensor cannot say by one for both, unless the margin has room for the doubt."""
    found = {}
    for margin in (0.03, 0.12):
        bike = BIKE.model_copy(update={"sensor": "collector", "margin": margin})
        run, _ = virtual_run(1, bike=bike)
        found[margin] = first(run, ring_at(MAIN), [statement()])
    single = BIKE.model_copy(update={"cylinders": 1, "sensor": "collector"})
    of_single = first(virtual_run(1, bike=single)[0], ring_at(MAIN), [statement()])
    doubts = {part.name: part for part in found[0.03].absolute.budget.components}
    average = doubts["how far one cylinder may be from the average that one sensor sees"]

    assert found[0.03].verdict == "cannot say"
    assert "average that one sensor sees" in found[0.03].statement
    assert found[0.12].verdict == "agree"
    assert (average.sd, average.status) == (0.03, "assumed")
    assert not any("average" in part.name for part in of_single.absolute.budget.components)
    assert of_single.verdict == "agree"


@pytest.mark.parametrize(
    ("seen", "verdict"),
    [
        (reading(ring="none"), "ring leaner"),
        (reading(ring_mm=14.0), "ring leaner"),
        (reading(ring_mm=0.0), "ring richer"),
        (reading(ring="all-dark"), "ring richer"),
        (reading(ring_mm=6.0), "cannot say"),
    ],
)
def test_a_ring_far_from_a_known_place_is_surely_off(seen, verdict):
    """The slope is unsure but positive: far deeper than a known place is leaner, far nearer the tip richer."""
    run, _ = virtual_run(1, main=0.88, script=LONG)
    found = first(run, seen, [statement(sd_mm=0.3, lambda_=0.88)])

    assert found.verdict == verdict


def test_the_farther_the_surer():
    """A ring moved on from the place never becomes less surely leaner, and its interval reaches farther up."""
    run, _ = virtual_run(1, main=0.88)
    lows, highs = [], []
    for depth in (8.0, 10.0, 12.0, 14.0):
        found = first(run, reading(ring_mm=depth), [statement(sd_mm=0.3, lambda_=0.88)]).absolute
        lows.append(found.low)
        highs.append(found.high)
        assert found.high - found.difference > found.difference - found.low

    assert lows == sorted(lows)
    assert highs == sorted(highs)


def test_a_session_without_a_bike_still_has_an_answer():
    """Its cylinders are those of the log, its margin the usual one, its sensor trusted as the worse kind."""
    run, _ = virtual_run(1)
    found = compare(replace(run, bike=None, session=replace(run.session, bike=None, build=None)), [])

    assert [one.cylinder for one in found.cylinders] == [1, 2]
    assert found.margin == 0.03
    assert [one.measured.sensor.constant[0].sd for one in found.cylinders] == pytest.approx([0.05, 0.05])
    assert any("nobody said which bike" in note for note in found.cylinders[0].notes)


def test_the_bikes_own_margin_decides():
    """What is agreement within 0.03 is none within 0.01."""
    narrow = BIKE.model_copy(update={"margin": 0.01})
    run, _ = virtual_run(1, bike=narrow)

    assert first(run, ring_at(MAIN), [statement()]).verdict == "cannot say"


def test_a_plug_coloured_on_the_way_in_cannot_be_compared():
    """The log's own word stands in the answer, with its figure."""
    run, _ = virtual_run(2, script=practice(laps=0, ending="roll in"))
    one = compare(run, [life(run)], [statement()]).to_json()["cylinders"][0]

    assert one["reading_valid"] is False
    assert one["gap_s"] > 30.0
    assert "between the last full throttle and the cut" in one["invalid_because"]


def test_cautions_stand_where_verdicts_stand():
    """The lean engine's caution is always there; aluminium specks come before everything."""
    plain = compare(RUN, [life(RUN)]).to_json()["cautions"]
    specked = compare(RUN, [life(RUN, seen=reading(specks="aluminium"))]).to_json()["cautions"]

    assert any("seize" in caution for caution in plain)
    assert not any("luminium" in caution for caution in plain)
    assert "luminium" in specked[0]


def test_a_part_of_a_session_is_measured_alone():
    """Seconds asked for are the only ones measured, the note says so, and validity looks at the whole log."""
    whole = compare(RUN, [life(RUN)]).cylinders[0]
    found = compare(RUN, [life(RUN)], from_s=15.0, to_s=20.0)
    part = found.cylinders[0]

    assert part.measured.seconds == pytest.approx(5.0, abs=0.1)
    assert part.measured.seconds < whole.measured.seconds
    assert part.validity == whole.validity
    assert any("from 15 s to 20 s" in note for note in found.notes)


def test_a_person_reads_the_same_as_a_program():
    """In words stand every cylinder's statement, its figures, and the cautions."""
    found = compare(RUN, [life(RUN, seen=ring_at(MAIN))], [statement()])
    words = found.in_words()

    assert all(any(one.statement in text for text in words) for one in found.cylinders)
    assert any(f"Measured {found.cylinders[0].measured.mean:.3f}" in text for text in words)
    assert all(any(caution in text for text in words) for caution in found.cautions)
