"""Weather and needle of a set-up, as its file says them."""

import pytest

from bridge.errors import BadFile
from bridge.model.files import read_setup
from bridge.model.inherit import merged
from bridge.model.needle import needle_geometry
from bridge.model.setup import Setup
from bridge.model.weather import Weather, weather_notes
from bridge.physics.jets import NeedleGeometry

NEEDLE = {"straight_mm": 2.511, "taper_start_mm": 15.0, "taper_deg": 1.5}
WHOLE = {"needle": NEEDLE, "needle_jet_bore_mm": 2.65, "main_jet_bore_mm": 1.10, "slide_travel_mm": 34.0}


def refused(tmp_path, text):
    """Write a setup.toml that must be refused and return the sentence."""
    file = tmp_path / "setup.toml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(BadFile) as told:
        read_setup(file)
    return str(told.value)


@pytest.mark.parametrize(
    ("key", "value", "parts"),
    [
        ("air_pressure_hpa", "29.92", ["line 2", "inHg", "1013.2"]),
        ("air_pressure_hpa", "101.3", ["line 2", "kPa", "1013.0"]),
        ("air_pressure_hpa", "760", ["mmHg", "1013.3", "altitude"]),
        ("air_pressure_hpa", "101325", ["line 2", "Pa", "1013.2"]),
        ("air_temp_c", "75", ["line 2", "Fahrenheit", "23.9"]),
        ("humidity_percent", "140", ["line 2", "140 %", "at least 0 and at most 100"]),
        ("altitude_m", "20000", ["line 2", "at most 6000"]),
    ],
)
def test_weather_in_another_unit(tmp_path, key, value, parts):
    """A wrong unit in setup.toml is refused by file, key and line, with the value that was meant."""
    sentence = refused(tmp_path, f"[weather]\n{key} = {value}\n")

    assert all(part in sentence for part in ["setup.toml", f"weather.{key}", *parts])


def test_thin_air_of_a_high_place_is_taken(tmp_path):
    """760 hPa with the altitude of such a place is taken as it is."""
    file = tmp_path / "setup.toml"
    file.write_text("[weather]\nair_pressure_hpa = 760\naltitude_m = 2350\n", encoding="utf-8")

    weather = read_setup(file).weather
    assert weather.air_pressure_hpa == 760
    assert weather_notes(weather) == ()


def test_what_once_was_taken_stays_readable():
    """A set-up that was written before is read back even where a new file would be refused."""
    assert Setup.model_validate({"weather": {"air_pressure_hpa": 760.0}}).weather.air_pressure_hpa == 760.0


def test_sea_level_pressure_is_noted():
    """A pressure reduced to sea level at a high place is questioned; without an altitude nothing can be."""
    high = Weather(air_temp_c=24.0, air_pressure_hpa=1012.0, humidity_percent=40.0, altitude_m=1500.0)
    (note,) = weather_notes(high)

    assert "reduced to sea level" in note
    assert weather_notes(high.model_copy(update={"altitude_m": None})) == ()
    assert weather_notes(high.model_copy(update={"air_pressure_hpa": 848.0})) == ()
    assert weather_notes(Weather()) == ()


def test_needle_geometry_needs_all_its_keys():
    """Geometry is there with all four keys and a needle that fits its jet, else common practice has to do."""
    whole = Setup.model_validate({"all": WHOLE}).of_cylinder(1)

    assert needle_geometry(whole) == NeedleGeometry(2.65, 2.511, 15.0, 1.5, 1.10, 34.0)
    for key in WHOLE:
        assert needle_geometry(whole.model_copy(update={key: None})) is None
    assert needle_geometry(whole.model_copy(update={"needle_jet_bore_mm": 2.5})) is None


def test_a_new_main_jet_ends_the_old_ones_bore():
    """The bore was measured of the jet that was in: another jet takes it away, for all and for one cylinder."""
    before = Setup.model_validate(
        {"all": WHOLE | {"main_jet": 160}, "cylinder": {1: {"main_jet_bore_mm": 1.12}, 2: {"pilot_jet": 40}}}
    )
    for_all = merged(before, Setup.model_validate({"all": {"main_jet": 155}}))
    for_one = merged(before, Setup.model_validate({"cylinder": {1: {"main_jet": 155}}}))
    measured = merged(before, Setup.model_validate({"all": {"main_jet": 155, "main_jet_bore_mm": 1.08}}))
    other = merged(before, Setup.model_validate({"all": {"pilot_jet": 42}}))

    assert for_all.of_cylinder(1).main_jet_bore_mm is None
    assert for_all.of_cylinder(2).main_jet_bore_mm is None
    assert for_all.of_cylinder(2).slide_travel_mm == 34.0
    assert "main_jet_bore_mm" not in for_one.cylinder[1].model_dump(exclude_unset=True)
    assert for_one.of_cylinder(2).main_jet_bore_mm == 1.10
    assert measured.of_cylinder(1).main_jet_bore_mm == 1.08
    assert other.of_cylinder(1).main_jet_bore_mm == 1.12
