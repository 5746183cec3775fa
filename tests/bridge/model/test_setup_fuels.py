"""The ways in which a set-up, and a file of its own, may state a fuel, and those in which it may not."""

import pytest

from bridge.errors import BadFile
from bridge.model import OwnFuel, Setup, StatedFuel
from bridge.model.files import read_setup, read_toml
from bridge.model.inherit import merged


@pytest.fixture
def written(tmp_path):
    """Write a file and give its path."""

    def write(text):
        path = tmp_path / "told.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return write


@pytest.mark.parametrize(
    ("text", "afr"),
    [
        # closed form, dry air of CIPM-2007
        ('{ formula = "C7H8", density_kg_m3 = 872 }', 13.51183),
        ('{ mass = "C=0.86,H=0.14", density_kg_m3 = 745 }', 14.7078),
        ('{ blend = "methanol=0.90,nitromethane=0.10" }', 5.82164),
        ('{ blend = "e10=0.80,toluene=0.20", afr = 13.9 }', 13.9),
        ('{ formula = "C7H8", afr = 13.4 }', 13.4),
        ('{ mass = "C=0.86,H=0.14", afr = 14.6 }', 14.6),
        ("{ afr = 14.1 }", 14.1),
        ("{ afr = 14.1, density_kg_m3 = 751 }", 14.1),
    ],
)
def test_the_tables_of_a_fuel(written, text, afr):
    """A fuel by blend, formula, mass or stated AFR has its ratio, the supplier's where it is stated."""
    assert read_setup(written(f"fuel = {text}")).fuel.fuel().stoich_afr == pytest.approx(afr, abs=2e-4)


def test_the_suppliers_density_and_name():
    """A stated density goes before the reckoned one, and a name of one's own before all names."""
    fuel = StatedFuel(name="Hill mix", blend="e5=0.7,toluene=0.3", density_kg_m3=790, afr=14.0).fuel()

    assert (fuel.name, fuel.density_kg_m3, fuel.stoich_afr) == ("Hill mix", 790, 14.0)
    assert fuel.h_to_c is not None


def test_a_name_that_is_not_built_in_is_read(written):
    """The file may name a fuel that the logbook may know; whether it does is asked when it is set."""
    assert read_setup(written('fuel = "Hill mix"')).fuel == "Hill mix"


def test_the_keys_of_the_premix(written):
    """Oil ratio, oil density and whether the oil burns are read."""
    setup = read_setup(written("oil_ratio = 32\noil_density_kg_m3 = 960\noil_burns = true"))

    assert (setup.oil_ratio, setup.oil_density_kg_m3, setup.oil_burns) == (32, 960, True)


def test_a_fuel_is_taken_over_whole():
    """A later fuel replaces an earlier one whole; no key of the one is left in the other."""
    before = Setup(fuel=StatedFuel(blend="e5=1", afr=14.1), oil_ratio=32)
    after = merged(before, Setup(fuel=StatedFuel(formula="C7H8")))

    assert after.fuel == StatedFuel(formula="C7H8")
    assert after.oil_ratio == 32


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("fuel = { formula = 'C7H8', mass = 'C=1' }", ["'formula' and 'mass'", "leave one of them out"]),
        ("fuel = { density_kg_m3 = 745 }", ["blend, formula, mass or afr"]),
        ("fuel = { }", ["blend, formula, mass or afr"]),
        ("fuel = { formula = 'CO2' }", ["fuel.formula", "takes no oxygen"]),
        ("fuel = { formula = 'N2' }", ["fuel.formula", "no carbon and no hydrogen"]),
        ("fuel = { mass = 'C=0.86,H=0.13' }", ["fuel.mass", "add up to 0.99"]),
        (
            "fuel = { blend = 'petrol=1', density_kg_m3 = 0.745 }",
            ["fuel.density_kg_m3 = 0.745", "at least 400"],
        ),
        ("fuel = { blend = 'petrol=1', afr = 147 }", ["fuel.afr = 147", "less than 40"]),
        ("fuel = { name = 'e5', afr = 14 }", ["fuel.name", "built-in"]),
        ("fuel = { blend = 'petrol=1', densty_kg_m3 = 745 }", ["'fuel.densty_kg_m3'", "'density_kg_m3'"]),
        ("oil_burns = 1", ["oil_burns", "true or false"]),
        ("oil_density_kg_m3 = 0.87", ["oil_density_kg_m3 = 0.87", "at least 700"]),
    ],
)
def test_what_a_fuel_may_not_say(written, text, parts):
    """A fuel that is none is refused in one sentence with file, key and mend."""
    _refused(read_setup, written(text), parts)


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ('name = "E10"\nblend = "petrol=1"', ["line 1", "name", "built-in"]),
        ('blend = "petrol=1"', ["'name'", "missing"]),
        ('name = "Hill mix"', ["blend, formula, mass or afr"]),
        ('name = ""\nafr = 14', ["name", "empty"]),
        ('name = "a\\u001b"\nafr = 14', ["U+001B"]),
        (f'name = "{"x" * 41}"\nafr = 14', ["40 at most"]),
        ('name = "x"\nbland = "petrol=1"', ["line 2", "'bland'", "did you mean 'blend'?"]),
    ],
)
def test_what_a_fuels_own_file_may_not_say(written, text, parts):
    """A fuel's own file is refused in one sentence without a built-in name, a name or a composition."""
    _refused(lambda path: read_toml(path, OwnFuel), written(text), parts)


def _refused(read, path, parts):
    with pytest.raises(BadFile) as caught:
        read(path)
    sentence = str(caught.value)
    assert sentence.startswith(str(path))
    assert "\n" not in sentence
    assert ": :" not in sentence
    for part in parts:
        assert part in sentence
