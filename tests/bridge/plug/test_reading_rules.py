"""Each rule of a reading: its figure, its grade, and which way it turns. All are common practice, no source."""

from dataclasses import replace

import numpy as np
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.emulator.logger import channel
from bridge.emulator.ride import practice
from bridge.emulator.scenario import default_channels
from bridge.model import CylinderSetup, Setup
from bridge.model.fuel import StatedFuel
from bridge.model.reading_limits import ReadingLimits
from bridge.plug.lived import live_through
from bridge.plug.ran import Ran, ran
from bridge.plug.rules import RULES, Case
from bridge.plug.validity import LIMITS, judge
from tests.virtual_runs import BIKE, life, reading, run_of, virtual_run

RATE_HZ = 20.0
WORST_FIRST = {"fail": 0, "doubtful": 1, "not known": 1, "pass": 2}
GOOD = Ran(
    full_throttle_s=20.0,
    last_minute_s=15.0,
    gap_s=0.2,
    idle_s=0.0,
    overrun_s=0.2,
    part_s=0.0,
    stands=True,
    cold_s=0.0,
    cold_full_s=0.0,
    missed_s=0.0,
    hottest_c=160.0,
    warm_by="head",
    by_session=(20.0,),
)
FEW = run_of(pl.DataFrame({"t_s": [0.0, 1.0], "rpm": [5000.0, 5000.0], "throttle": [50.0, 50.0]}))
PLUG = life(FEW, seen=reading(specks="none"))
seconds = st.floats(0.0, 500.0)


def answers(figures=GOOD, plug=PLUG, limits=LIMITS):
    """Return every rule's answer by its name."""
    found = [rule(Case(plug, figures, limits)) for rule in RULES]
    return {one.rule: one for one in found if one is not None}


def grade(rule, plug=PLUG, limits=LIMITS, **figures):
    return answers(replace(GOOD, **figures), plug, limits)[rule].result


def no_better(rule, better, worse):
    """Whether a rule's grade on the worse figures is no better than on the better ones."""
    return WORST_FIRST[grade(rule, **worse)] <= WORST_FIRST[grade(rule, **better)]


def of_phases(*phases, tail_s=2.0, number=1, setup=None, bike=BIKE, **channels):
    """Return a run of phases of (seconds, throttle, rpm), then an engine that stands."""
    phases = (*phases, (tail_s, 0.0, 0.0)) if tail_s else phases
    counts = [round(length * RATE_HZ) for length, _, _ in phases]
    throttle, rpm = (np.repeat([phase[i] for phase in phases], counts) for i in (1, 2))
    frame = {"t_s": np.arange(sum(counts)) / RATE_HZ, "throttle": throttle, "rpm": rpm}
    frame |= {"lambda_1": np.full(sum(counts), 0.87)} | {
        name: np.full(sum(counts), float(value)) for name, value in channels.items()
    }
    return run_of(pl.DataFrame(frame), number=number, setup=setup, bike=bike)


FULL, PART, IDLE, OVERRUN = (
    lambda s: (s, 100.0, 9000.0),
    lambda s: (s, 40.0, 5000.0),
    lambda s: (s, 0.0, 1500.0),
    lambda s: (s, 0.0, 5000.0),
)


def rules_of(*runs, **changes):
    return {one.rule: one for one in judge(life(list(runs), **changes)).rules}


def test_a_good_reading_passes_every_rule():
    """A new plug, twenty seconds, a chop, a warm head, one fuel and specks looked for leave no doubt."""
    assert {one.result for one in answers().values()} == {"pass"}


def test_every_answer_is_marked_as_common_practice_and_has_a_figure():
    """No rule claims a source, whatever the plug and the log say."""
    for figures in (GOOD, Ran(blind="no throttle"), replace(GOOD, gap_s=50.0, idle_s=40.0, cold_s=None)):
        for one in answers(figures).values():
            assert one.status == "common practice"
            assert one.figure
            assert one.says


def test_what_speaks_against_a_reading_says_what_to_do_next_time():
    """Every doubtful or failed rule has a mend."""
    stands = False
    bad = Ran(1.0, 1.0, 40.0, 30.0, 5.0, 5.0, stands, 100.0, 1.0, 1.0, 40.0, "head", (1.0,))
    for plug in (
        life(FEW, state="used", order_lost=True, heat_range=2, seen=reading(specks="not-looked")),
        life(FEW, seen=reading(ring="not-seen", specks="aluminium"), type="other"),
        life(FEW, seen=None),
        life(FEW, seen=reading(ring="none")),
    ):
        for one in answers(bad, plug).values():
            assert one.result == "pass" or one.next_time, one


@given(first=seconds, second=seconds)
def test_more_full_throttle_never_makes_it_worse(first, second):
    """More seconds, on the plug or in the last minute, never turn pass into doubtful or doubtful into fail."""
    less, more = sorted((first, second))

    assert no_better("full throttle", {"full_throttle_s": more}, {"full_throttle_s": less})
    assert no_better("last minute", {"last_minute_s": more}, {"last_minute_s": less})
    assert no_better("warm-up", {"full_throttle_s": more}, {"full_throttle_s": less})
    assert no_better(
        "misfire", {"full_throttle_s": more, "missed_s": 3.0}, {"full_throttle_s": less, "missed_s": 3.0}
    )


@given(first=seconds, second=seconds, others=seconds)
def test_a_longer_way_back_never_makes_it_better(first, second, others):
    """More idle, overrun or part throttle after the last full throttle never turns fail into anything better."""
    less, more = sorted((first, second))
    for kind in ("idle_s", "overrun_s", "part_s"):
        shorter = {"idle_s": 0.0, "overrun_s": 0.0, "part_s": 0.0, "gap_s": less + others, kind: less}
        longer = shorter | {kind: more, "gap_s": more + others}

        assert no_better("gap", shorter, longer)
        assert no_better("clean cut", shorter, longer)


@given(gap_s=seconds, share=st.floats(0.0, 1.0))
def test_idle_is_no_better_than_any_other_way_back(gap_s, share):
    """Of two gaps of one length the one with more idle is never judged better."""
    mixed = {"gap_s": gap_s, "idle_s": share * gap_s, "overrun_s": (1.0 - share) * gap_s}
    all_idle = {"gap_s": gap_s, "idle_s": gap_s, "overrun_s": 0.0}

    assert no_better("gap", mixed, all_idle)


@given(first=seconds, second=seconds)
def test_more_cold_running_and_more_misfire_are_never_better(first, second):
    """A longer warm-up, more full throttle in a cold engine, more suspected misfire: never a better grade."""
    less, more = sorted((first, second))

    assert no_better("warm-up", {"cold_s": less}, {"cold_s": more})
    assert no_better(
        "warm-up", {"cold_s": more, "cold_full_s": less / 30}, {"cold_s": more, "cold_full_s": more / 30}
    )
    assert no_better("misfire", {"missed_s": less}, {"missed_s": more})


@given(first=st.floats(-20.0, 300.0), second=st.floats(-20.0, 300.0), by=st.sampled_from(["head", "coolant"]))
def test_a_hotter_head_is_never_worse(first, second, by):
    """A head, or a coolant, that came to more never turns pass into doubtful."""
    cool, hot = sorted((first, second))

    assert no_better(
        "head temperature", {"hottest_c": hot, "warm_by": by}, {"hottest_c": cool, "warm_by": by}
    )


@given(
    key=st.sampled_from(["full_throttle_s", "last_minute_s", "no_ring_s", "gap_s", "idle_s", "clean_cut_s"]),
    first=st.floats(0.0, 60.0),
    second=st.floats(0.0, 60.0),
    figure=seconds,
)
def test_a_stricter_limit_is_never_kinder(key, first, second, figure):
    """Asking for more full throttle, or allowing less of a gap, never mends a reading."""
    strict, mild = sorted((first, second), reverse=key in {"full_throttle_s", "last_minute_s", "no_ring_s"})
    figures = replace(
        GOOD, full_throttle_s=figure, last_minute_s=min(figure, 60.0), gap_s=figure, idle_s=figure
    )
    plug = life(FEW, seen=reading(ring="none"))
    grades = [
        [WORST_FIRST[one.result] for one in answers(figures, plug, ReadingLimits(**{key: limit})).values()]
        for limit in (strict, mild)
    ]

    assert all(one <= other for one, other in zip(*grades, strict=True))


@pytest.mark.parametrize(
    ("rule", "figures", "result"),
    [
        ("full throttle", {"full_throttle_s": 4.9}, "fail"),
        ("full throttle", {"full_throttle_s": 5.0}, "doubtful"),
        ("full throttle", {"full_throttle_s": 10.0}, "pass"),
        ("last minute", {"last_minute_s": 1.9}, "fail"),
        ("last minute", {"last_minute_s": 2.0}, "doubtful"),
        ("last minute", {"last_minute_s": 5.0}, "pass"),
        ("gap", {"gap_s": 5.0}, "pass"),
        ("gap", {"gap_s": 5.1}, "doubtful"),
        ("gap", {"gap_s": 10.1}, "fail"),
        ("gap", {"gap_s": 4.0, "idle_s": 1.5}, "doubtful"),
        ("gap", {"gap_s": 6.0, "idle_s": 5.5}, "fail"),
        ("clean cut", {"gap_s": 1.0}, "pass"),
        ("clean cut", {"gap_s": 1.1}, "doubtful"),
        ("clean cut", {"stands": False}, "doubtful"),
        ("warm-up", {"cold_s": 61.0}, "doubtful"),
        ("warm-up", {"cold_s": 30.0, "cold_full_s": 2.0}, "doubtful"),
        ("warm-up", {"cold_s": 30.0, "cold_full_s": 16.0}, "fail"),
        ("warm-up", {"cold_s": None, "cold_full_s": None}, "not known"),
        ("head temperature", {"hottest_c": 99.0}, "doubtful"),
        ("head temperature", {"hottest_c": 55.0, "warm_by": "coolant"}, "pass"),
        ("head temperature", {"hottest_c": None}, "not known"),
        ("misfire", {"missed_s": 1.1}, "doubtful"),
        ("misfire", {"missed_s": 10.1}, "fail"),
        ("misfire", {"missed_s": None}, "not known"),
    ],
)
def test_the_limits_by_default(rule, figures, result):
    """Where each rule turns, unless the bike's file says otherwise (common practice, no source)."""
    assert grade(rule, **figures) == result


def test_what_nobody_looked_for_is_a_doubt_and_no_clean_bill():
    """Specks not looked for are doubtful with their caution; looked for and none is a pass."""
    found = answers(plug=life(FEW))["specks"]

    assert found.result == "doubtful"
    assert "no leaner" in found.says
    assert "magnifier" in found.next_time
    assert grade("specks", life(FEW, seen=reading(specks="soot"))) == "pass"
    assert grade("specks", life(FEW, seen=reading(specks="aluminium"))) == "doubtful"


def test_a_colder_plug_looks_richer_and_a_hotter_one_leaner():
    """A colder nose keeps its carbon nearer the tip, which looks richer; each is a doubt and no failure."""
    colder, hotter = (answers(plug=life(FEW, heat_range=steps))["heat range"] for steps in (1, -2))

    assert (colder.result, hotter.result) == ("doubtful", "doubtful")
    assert "1 step colder" in colder.says
    assert "richer" in colder.says
    assert "2 steps hotter" in hotter.says
    assert "leaner" in hotter.says


def test_another_plug_type_than_the_bikes_is_a_doubt():
    """A ring scale holds for one type; a type that nobody told is not known."""
    assert grade("plug type", replace(PLUG, type="long")) == "doubtful"
    assert grade("plug type", replace(PLUG, type=None)) == "not known"
    assert grade("plug type") == "pass"


E5, E10 = Setup(fuel="e5", oil_ratio=32.0), Setup(fuel="e10", oil_ratio=32.0)


@pytest.mark.parametrize(
    ("before", "after", "says"),
    [
        (E5, E10, "the fuel changed from e5 to e10 (session 2)"),
        (E5, Setup(fuel=StatedFuel(afr=14.1)), "to stated AFR 14.1"),
        (E5, Setup(fuel="e5", oil_ratio=40.0), "the oil ratio changed from 32:1 to 40:1"),
        (Setup(fuel="e5", oil_ratio=0.0), E5, "the oil ratio changed from none to 32:1"),
        (
            E5.model_copy(update={"all": CylinderSetup(plug_heat_range=0)}),
            E5.model_copy(update={"all": CylinderSetup(plug_heat_range=1)}),
            "the heat range of the set-up changed from +0 to +1",
        ),
    ],
)
def test_fuel_oil_and_plug_must_stay_the_same_while_a_plug_is_in(before, after, says):
    """A change after full throttle on the same plug fails with its seconds; before any, it is only a doubt."""
    ridden = rules_of(of_phases(FULL(8), setup=before), of_phases(FULL(12), number=2, setup=after))[
        "changed since fitted"
    ]
    idled = rules_of(of_phases(IDLE(8), setup=before), of_phases(FULL(12), number=2, setup=after))[
        "changed since fitted"
    ]

    assert ridden.result == "fail"
    assert says in ridden.says
    assert ridden.figure.startswith("8.")
    assert idled.result == "doubtful"


@pytest.mark.parametrize("written", ["E5", StatedFuel(blend="ethanol=0.05,petrol=0.95")])
def test_one_fuel_written_in_two_ways_is_no_change(written):
    """A name in capitals, or the same blend by its parts, is the fuel that it was."""
    found = rules_of(
        of_phases(FULL(8), setup=Setup(fuel="e5")), of_phases(FULL(8), number=2, setup=Setup(fuel=written))
    )

    assert found["changed since fitted"].result == "pass"


def test_without_full_throttle_there_is_no_gap_to_judge():
    """A ride at part throttle fails for that alone; gap and cut are not known."""
    found = judge(life(of_phases(PART(30)), seen=reading(specks="none")))

    assert [one.rule for one in found.failed] == ["full throttle", "last minute"]
    assert {one.result for one in found.rules if one.rule in {"gap", "clean cut"}} == {"not known"}


def test_what_nobody_told_is_no_change():
    """A set-up without a fuel is not known and fails nothing; the same twice is a pass."""
    silent = of_phases(FULL(12), number=2, setup=Setup())

    assert rules_of(of_phases(FULL(8), setup=E5), silent)["changed since fitted"].result == "not known"
    assert (
        rules_of(of_phases(FULL(8), setup=E5), of_phases(FULL(8), number=2, setup=E5))[
            "changed since fitted"
        ].result
        == "pass"
    )


def test_the_way_back_is_told_by_what_ran_in_it():
    """Overrun, part throttle and idle each come with their own seconds."""
    found = ran(live_through((of_phases(FULL(12), OVERRUN(3), PART(4), IDLE(6)),), 1))

    assert found.overrun_s == pytest.approx(3.0, abs=0.2)
    assert found.part_s == pytest.approx(4.0, abs=0.2)
    assert found.idle_s == pytest.approx(6.0, abs=0.2)
    assert found.gap_s == pytest.approx(13.0, abs=0.2)
    assert found.stands is True


def test_what_ran_before_the_last_full_throttle_is_no_gap():
    """Idle and overrun between two straights are not held against the reading."""
    found = ran(live_through((of_phases(IDLE(30), FULL(6), OVERRUN(5), IDLE(20), FULL(6)),), 1))

    assert (found.idle_s, found.overrun_s, found.part_s) == (0.0, 0.0, 0.0)
    assert found.gap_s == pytest.approx(0.0, abs=0.1)
    assert found.full_throttle_s == pytest.approx(12.0, abs=0.2)


def test_a_twitch_of_full_throttle_at_the_end_is_not_enough():
    """Twenty seconds two minutes ago and one at the end pass the first rule and fail the last minute's."""
    found = judge(life(of_phases(FULL(20), PART(120), FULL(1))))

    assert not found.valid
    assert "of the last minute of running before the cut 1.0 s" in found.because


def test_the_last_minute_is_running_time():
    """Standing for ten minutes between a straight and the cut takes nothing from the last minute."""
    stood = (600.0, 0.0, 0.0)
    found = ran(live_through((of_phases(FULL(20), stood, PART(30)),), 1))

    assert found.last_minute_s == pytest.approx(20.0, abs=0.3)


def test_a_log_that_ends_with_the_engine_running_leaves_a_doubt():
    """Nobody knows what followed; the reading stays valid, and the mend is to let the logger run."""
    found = judge(life(of_phases(FULL(20), tail_s=0.0), seen=reading(specks="none")))

    assert found.valid
    assert [one.rule for one in found.doubtful] == ["clean cut"]
    assert "logger" in found.doubtful[0].next_time


def test_full_throttle_in_a_cold_engine_does_not_count():
    """A head at 30 Cel is cold all along; one at 150 is warm; without any temperature nobody knows."""
    cold, warm = (rules_of(of_phases(PART(20), FULL(15), cht_1=temp_c)) for temp_c in (30, 150))
    blind = rules_of(of_phases(PART(20), FULL(15)))

    assert cold["warm-up"].result == "fail"
    assert cold["head temperature"].result == "doubtful"
    assert (warm["warm-up"].result, warm["head temperature"].result) == ("pass", "pass")
    assert (blind["warm-up"].result, blind["head temperature"].result) == ("not known", "not known")


def test_coolant_tells_of_a_water_cooled_engine():
    """Where coolant is recorded it has its own limit: 60 Cel are enough for it, and would not be for a head."""
    water = rules_of(of_phases(FULL(15), coolant_temp=60, cht_1=85))["head temperature"]
    air = rules_of(of_phases(FULL(15), cht_1=60))["head temperature"]
    other = rules_of(of_phases(FULL(15), cht_2=160))["head temperature"]

    assert (water.result, water.figure) == ("pass", "coolant 60 Cel")
    assert (air.result, air.figure) == ("doubtful", "head 60 Cel")
    assert other.result == "not known"


def test_the_limits_are_those_of_the_bikes_own_file():
    """A bike that asks for 20 s of full throttle fails what another bike passes."""
    strict = BIKE.model_copy(update={"reading": ReadingLimits(full_throttle_s=20.0)})

    assert judge(life(of_phases(FULL(15)))).valid
    assert not judge(life(of_phases(FULL(15), bike=strict))).valid


def test_the_first_rule_broken_is_the_reason_and_all_are_on_record():
    """An order lost goes before a used plug and a short run; each of them is still told as failed."""
    found = judge(life(of_phases(FULL(2)), order_lost=True, state="used"))

    assert found.because.startswith("the order of the tray was lost")
    assert [one.rule for one in found.failed] == ["tray order", "state when fitted", "full throttle"]


@pytest.mark.parametrize("seed", range(3))
def test_blind_rides_are_judged_by_how_they_ended(seed):
    """Chop passes gap and cut; shut off only leaves a doubt about the cut; roll in fails for its idle."""
    channels = (*default_channels_of_the_bike(), channel("cht_1"), channel("cht_2"))
    chopped, rolled, shut = (
        rules_of(virtual_run(seed, script=practice(laps=1, ending=end), channels=channels)[0])
        for end in ("chop", "roll in", "shut off")
    )

    assert (chopped["gap"].result, chopped["clean cut"].result) == ("pass", "pass")
    assert (shut["gap"].result, shut["clean cut"].result) == ("pass", "doubtful")
    assert (rolled["gap"].result, rolled["clean cut"].result) == ("fail", "doubtful")
    assert "idle" in rolled["gap"].figure
    assert "idle" not in chopped["gap"].figure
    for one in (chopped, rolled, shut):
        assert one["full throttle"].result == "pass"
        assert one["head temperature"].figure.startswith("head ")
        assert one["misfire"].result == "pass"


def default_channels_of_the_bike():
    from bridge.emulator.engine import VirtualBike  # noqa: PLC0415  # one test needs it

    return default_channels(VirtualBike(cylinders=2))


@given(idle_s=st.floats(0.0, 40.0), more_s=st.floats(0.0, 40.0))
@settings(max_examples=8, deadline=None)
def test_through_the_whole_log_a_longer_idle_back_is_never_better(idle_s, more_s):
    """Laid down as samples, an idle back that goes on longer never makes a reading valid again."""
    short, long = (judge(life(of_phases(FULL(12), IDLE(s)))) for s in (idle_s, idle_s + more_s))

    assert short.valid or not long.valid
