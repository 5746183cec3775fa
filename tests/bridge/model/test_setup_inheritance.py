"""What a set-up leaves out stays as it was."""

from hypothesis import given
from hypothesis import strategies as st

from bridge.model import Setup
from bridge.model.inherit import inherited, merged

NEEDLE = {"straight_mm": 2.511, "taper_start_mm": 15, "taper_deg": 1.5, "clip": 3}


def made(**keys):
    """A set-up that says these keys and no others."""
    return Setup.model_validate(keys)


def test_key_by_key_in_every_table():
    """A key that is left out stays, in weather and in a cylinder's own table too."""
    earlier = made(
        fuel="e5",
        weather={"air_temp_c": 18, "humidity_percent": 64},
        cylinder={1: {"main_jet": 160, "pilot_jet": 40}},
    )
    later = made(
        timing_deg=34, weather={"air_temp_c": 22}, cylinder={1: {"main_jet": 155}, 2: {"main_jet": 165}}
    )

    now = merged(earlier, later)

    assert (now.fuel, now.timing_deg) == ("e5", 34)
    assert (now.weather.air_temp_c, now.weather.humidity_percent) == (22, 64)
    assert (now.cylinder[1].main_jet, now.cylinder[1].pilot_jet, now.cylinder[2].main_jet) == (155, 40, 165)


def test_a_needle_is_one_thing():
    """A new needle takes nothing over from the old one: a clip position belongs to its needle."""
    earlier = made(all={"needle": NEEDLE})
    later = made(all={"needle": {"straight_mm": 2.5, "taper_start_mm": 14, "taper_deg": 2}})

    assert merged(earlier, later).all.needle.clip is None


def test_what_is_said_for_all_holds_for_each():
    """A key given under [all] also holds for a cylinder that had its own before, and for that key only."""
    earlier = made(cylinder={1: {"main_jet": 160, "pilot_jet": 40}})

    now = merged(earlier, made(all={"main_jet": 150}))

    assert now.of_cylinder(1).main_jet == 150
    assert now.of_cylinder(1).pilot_jet == 40


def test_a_cylinders_own_word_goes_before_what_was_said_for_all():
    """A cylinder's own key stays its own beside an earlier [all]."""
    now = merged(made(all={"main_jet": 150}), made(cylinder={2: {"main_jet": 165}}))

    assert (now.of_cylinder(1).main_jet, now.of_cylinder(2).main_jet) == (150, 165)


jets = st.fixed_dictionaries(
    {}, optional={"main_jet": st.integers(100, 200), "pilot_jet": st.integers(20, 60)}
)
setups = st.builds(
    lambda keys, cylinders: Setup.model_validate({**keys, **({"cylinder": cylinders} if cylinders else {})}),
    st.fixed_dictionaries(
        {},
        optional={
            "fuel": st.sampled_from(["e5", "e10", {"afr": 14.1}, {"blend": "ethanol=1"}]),
            "timing_deg": st.integers(0, 40),
            "weather": st.fixed_dictionaries(
                {}, optional={"air_temp_c": st.integers(0, 40), "humidity_percent": st.integers(0, 100)}
            ),
            "all": jets,
        },
    ),
    st.dictionaries(st.integers(1, 4), jets, max_size=3),
)


@given(setups)
def test_a_setup_on_nothing_or_on_itself_is_itself(setup):
    """On top of nothing, or of itself, a set-up says for every cylinder what it said."""
    for now in (merged(Setup(), setup), merged(setup, setup)):
        assert now.model_copy(update={"cylinder": {}, "all": setup.all}).model_dump(
            exclude={"cylinder"}
        ) == setup.model_dump(exclude={"cylinder"})
    assert merged(Setup(), setup) == setup


@given(st.lists(setups, max_size=4))
def test_the_last_word_holds(written):
    """Whatever the last set-up said for a cylinder is what holds, and nothing that nobody ever said holds."""
    now = inherited(written)

    for number in range(1, 5):
        holds = now.of_cylinder(number).model_dump(exclude_none=True)
        if written:
            assert written[-1].of_cylinder(number).model_dump(exclude_none=True).items() <= holds.items()
        for key, value in holds.items():
            assert any(getattr(setup.of_cylinder(number), key) == value for setup in written)


@given(setups)
def test_writing_and_reading_back(setup):
    """What was written is kept with only the keys that were written, and reads back the same."""
    assert Setup.model_validate_json(setup.model_dump_json(exclude_unset=True)) == setup
