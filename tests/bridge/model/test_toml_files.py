"""Bike and set-up files: what they may say, and one sentence for what they may not."""

import pytest

from bridge.errors import BadFile
from bridge.model import StatedFuel
from bridge.model.files import read_bike, read_setup

BIKE = """
name = "Hollow Lane 400"
strokes = 4
cylinders = 2
displacement_cc = 398
carburettors = 2
carburettor = "slide"
sensor = "each"
sensor_distance_mm = 900
pipe_bore_mm = 38
margin = 0.03
[plug]
type = "short reach, 12 mm"
nose_mm = 14.0
[roller]
inertia_kg_m2 = 12.0
"""

SETUP = """
kind = "practice"
fuel = "e5"
oil_ratio = 0
timing_deg = 34.0
[weather]
air_temp_c = 18.0
air_pressure_hpa = 1002.0
humidity_percent = 64.0
[all]
pilot_jet = 40
[cylinder.1]
main_jet = 160
needle_jet_bore_mm = 2.65
needle = { straight_mm = 2.511, taper_start_mm = 15, taper_deg = 1.5, clip = 3, clip_step_mm = 1.0 }
cutaway = 2.5
air_screw_turns = 1.5
float_level_mm = 22
plug_heat_range = 0
"""


@pytest.fixture
def written(tmp_path):
    """Write a file and give its path."""

    def write(text):
        path = tmp_path / "told.toml"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return path

    return write


def test_a_whole_bike(written):
    """Every key of bike.toml is read."""
    bike = read_bike(written(BIKE))

    assert (bike.name, bike.strokes, bike.cylinders, bike.displacement_cc) == ("Hollow Lane 400", 4, 2, 398)
    assert (bike.plug.type, bike.plug.nose_mm) == ("short reach, 12 mm", 14.0)
    assert (bike.sensor_distance_mm, bike.pipe_bore_mm) == (900, 38)
    assert bike.roller is not None
    assert bike.roller.inertia_kg_m2 == 12.0


def test_a_bike_needs_four_keys_only(written):
    """Every key but name, strokes, cylinders and displacement may be left out."""
    bike = read_bike(written("name = 'X'\nstrokes = 2\ncylinders = 1\ndisplacement_cc = 124.8\n"))

    assert bike.margin == 0.03
    assert bike.plug.nose_mm is None


def test_a_whole_setup(written):
    """Every key of setup.toml is read, and a cylinder's own table goes before [all]."""
    setup = read_setup(written(SETUP))

    assert setup.weather.air_pressure_hpa == 1002.0
    assert setup.of_cylinder(1).main_jet == 160
    assert setup.of_cylinder(1).pilot_jet == 40
    assert setup.of_cylinder(2).main_jet is None
    assert setup.of_cylinder(1).needle.clip == 3


@pytest.mark.parametrize(
    ("text", "fuel"),
    [
        ('fuel = "e5"', "e5"),
        ('fuel = { blend = "ethanol=0.10,petrol=0.90" }', StatedFuel(blend="ethanol=0.10,petrol=0.90")),
        ("fuel = { afr = 14.1 }", StatedFuel(afr=14.1)),
    ],
)
def test_the_three_ways_to_say_a_fuel(written, text, fuel):
    """A fuel is a name, a blend or a supplier's stoichiometric AFR."""
    assert read_setup(written(text)).fuel == fuel


def test_a_file_saved_with_a_byte_order_mark(written):
    """A byte order mark at the start of a file is no part of it."""
    assert read_setup(written(b'\xef\xbb\xbfkind = "road"')).kind == "road"


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("pipe_boar_mm = 38", ["line 1", "'pipe_boar_mm'", "did you mean 'pipe_bore_mm'?"]),
        ("plug.nose_mm = 14", ["no TOML"]),
        ("strokes = 4", ["no TOML", "line 4"]),
        ("[sensors\n", ["no TOML", "line 1", "column 9"]),
        ("strokes == 4", ["no TOML", "line 1", "column 10"]),
    ],
)
def test_what_a_bike_file_must_not_say(written, text, parts):
    """A bike file's fault is told in one sentence with file, line, column and mend."""
    refused(read_bike, written(f"{text}\n{BIKE}"), parts)


def refused(read, path, parts):
    """Hold the one sentence of a refusal to its parts."""
    with pytest.raises(BadFile) as caught:
        read(path)
    sentence = str(caught.value)
    assert sentence.startswith(str(path))
    assert "\n" not in sentence
    for part in parts:
        assert part in sentence


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("[cylinder.1]\nmain_jt = 3", ["line 2", "'cylinder.1.main_jt'", "did you mean 'main_jet'?"]),
        ("\n[weathr]\nx = 1", ["line 2", "'weathr'", "did you mean 'weather'?"]),
        ("[all]\nneedle = { straight_mm = 2.5, taper_start_mm = 15, taper_dg = 1.5 }", ["'taper_deg'"]),
        ("fuel = { bland = 'x' }", ["'fuel.bland'", "did you mean 'blend'?"]),
        ("fuel = { afr = 140 }", ["fuel.afr = 140", "more than 1 and less than 40"]),
        ("fuel = 3", ["fuel = 3", "none of the ways"]),
        ("[weather]\nhumidity_percent = 140", ["line 2", "140", "at least 0 and at most 100"]),
        ("[cylinder.2]\nmain_jet = -1", ["cylinder.2.main_jet = -1", "more than 0"]),
        ("[cylinder.x]\nmain_jet = 1", ["cylinder.x", "whole number"]),
        ("[all]\nplug_heat_range = 1.5", ["whole number"]),
        ("timing_deg = 'early'", ["timing_deg", "a number"]),
        ("timing_deg = nan", ["finite"]),
        ("kind = 'race'", ["kind", "'practice', 'road' or 'dyno'"]),
        ("weather = 3", ["weather = 3", "a table"]),
        (b"note = '\xff'", ["UTF-8"]),
    ],
)
def test_what_a_setup_file_must_not_say(written, text, parts):
    """A set-up file's fault is told in one sentence with file, line and mend."""
    refused(read_setup, written(text), parts)


def test_a_missing_key_is_named(written):
    """A bike without its strokes is refused, naming the key."""
    refused(
        read_bike, written("name = 'X'\ncylinders = 1\ndisplacement_cc = 100\n"), ["'strokes'", "missing"]
    )


def test_a_file_that_is_not_there(tmp_path):
    """A file that is not there is refused by its name, not with a traceback."""
    refused(read_bike, tmp_path / "nowhere.toml", ["nowhere.toml"])


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("fuel = ''", ["fuel: the fuel's name is empty"]),
        ("fuel = { blend = '' }", ["fuel.blend", "write it as"]),
        ("fuel = { blend = 'ethanol' }", ["fuel.blend", "write it as"]),
        ("fuel = { blend = 'etanol=0.5,petrol=0.5' }", ["fuel.blend", "did you mean 'ethanol'?"]),
        ("fuel = { blend = 'ethanol=0.1,petrol=0.8' }", ["fuel.blend", "add up to 0.9"]),
        ("fuel = { blend = 'ethanol=-0.1,petrol=1.1' }", ["fuel.blend", "'ethanol=-0.1'"]),
        ("fuel = { blend = 'ethanol=nan,petrol=0.5' }", ["fuel.blend", "'ethanol=nan'"]),
        ("fuel = { blend = 'petrol=inf' }", ["fuel.blend", "'petrol=inf'"]),
        ("fuel = { blend = 'petrol=0.5,petrol=0.5' }", ["fuel.blend", "twice"]),
        ("fuel = { blend = 'ethanol=10,petrol=90' }", ["fuel.blend", "from 0 to 1"]),
        (
            "fuel = { formula = 'C7H8', blend = 'petrol=1' }",
            ["'blend' and 'formula'", "leave one of them out"],
        ),
        ("fuel = { afr = '14' }", ["fuel.afr", "a number"]),
        ("[all]\nplug_heat_range = 99999999999999999999", ["line 2", "at least -10 and at most 10"]),
        ("[all]\nplug_heat_range = '1'", ["whole number"]),
        ("[all]\nplug_heat_range = true", ["whole number"]),
        ("[all]\nmain_jet = '160'", ["all.main_jet", "a number"]),
        ("[all]\nmain_jet = true", ["all.main_jet", "a number"]),
        ("timing_deg = 1" + "0" * 400, ["timing_deg", "a number"]),
        ("timing_deg = 1" + "0" * 5000, ["no TOML"]),
        ("note = " + "[" * 3000, ["deep"]),
        (f"note = '{'x' * 4001}'", ["note", "4000 at most"]),
        ('gearing = "15/\\u001b42"', ["gearing", "U+001B"]),
    ],
)
def test_what_a_setup_file_must_not_say_of_fuels_types_and_words(written, text, parts):
    """A fuel that is not there, a blend that does not add up, a wrong type or endless words are refused at once."""
    refused(read_setup, written(text), parts)


@pytest.mark.parametrize(
    ("key", "value", "part"),
    [
        ("cylinders", '"2"', "a whole number"),
        ("cylinders", "true", "a whole number"),
        ("cylinders", "2.0", "a whole number"),
        ("strokes", '"4"', "2 or 4"),
        ("displacement_cc", '"398"', "a number"),
        ("margin", "true", "a number"),
        ("name", "400", "text in quotes"),
        ("name", '"  "', "name: the bike's name is empty"),
        ("name", '"a\\u001b[31mred"', "U+001B"),
        ("name", '"a\\u202eb"', "U+202E"),
        ("name", '"a\\nb"', "U+000A"),
        ("name", f'"{"x" * 81}"', "80 at most"),
    ],
)
def test_a_bike_takes_each_value_in_its_own_type(written, key, value, part):
    """Text is no number and a number no text, true is neither, and a name is words to see."""
    keys = {"name": '"X"', "strokes": "4", "cylinders": "1", "displacement_cc": "398"} | {key: value}

    refused(read_bike, written("\n".join(f"{k} = {v}" for k, v in keys.items())), [part])


def test_a_whole_number_is_a_number_and_a_cylinders_number_is_text(written):
    """Strict types still take 160 where 160.0 would do, and [cylinder.2] for cylinder two."""
    setup = read_setup(written("timing_deg = 34\n[cylinder.2]\nmain_jet = 160\nplug_heat_range = -10"))

    assert (setup.timing_deg, setup.cylinder[2].main_jet, setup.cylinder[2].plug_heat_range) == (
        34.0,
        160.0,
        -10,
    )
