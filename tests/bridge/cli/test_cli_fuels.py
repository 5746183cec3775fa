"""``fuel``: what it answers, and what it refuses."""

import pytest

KEYS = {"name", "stoich_afr", "afr_sd", "h_to_c", "o_to_c", "n_to_c", "density_kg_m3", "notes"}


@pytest.mark.parametrize(
    ("words", "afr", "density"),
    [
        # closed form, dry air of CIPM-2007
        (["petrol"], 14.60878, 745.0),
        (["E10"], 14.01579, 749.9),
        (["ethanol"], 9.00818, 794.0),
        (["--blend", "ethanol=0.10,petrol=0.90"], 14.01579, 749.9),
        (["--blend", "methanol=0.90,nitromethane=0.10"], 5.82164, 830.1),
        (["--formula", "C7H8", "--density", "872"], 13.51183, 872.0),
        (["--mass", "C=0.86,H=0.14"], 14.7078, None),
        (["--afr", "14.1"], 14.1, None),
        (["e5", "--afr", "14.1"], 14.1, 747.45),
        (["e5", "--density", "751"], 14.31131, 751.0),
    ],
)
def test_each_way_to_ask(sootline, words, afr, density):
    """Each way to name a fuel gives its ratio and density, without making a logbook."""
    found = sootline.ok("fuel", *words)

    assert found.keys() >= KEYS
    assert found["stoich_afr"] == pytest.approx(afr, abs=2e-4)
    assert found["density_kg_m3"] == (None if density is None else pytest.approx(density, abs=1e-6))
    assert not sootline.folder.exists()


def test_composition_is_told(sootline):
    """Hydrogen, oxygen and nitrogen for each carbon are told; of a stated AFR nothing is known."""
    found = sootline.ok("fuel", "--formula", "CH3NO2")

    assert (found["h_to_c"], found["o_to_c"], found["n_to_c"]) == (3.0, 2.0, 1.0)
    assert sootline.ok("fuel", "--afr", "14.1")["h_to_c"] is None


def test_premix_is_told_with_what_it_means(sootline):
    """Oil that is taken not to burn leaves the AFR and makes the same jets leaner; burning oil is the other way."""
    # closed form, see tests/bridge/physics/test_premix.py
    inert = sootline.ok("fuel", "petrol", "--oil", "32")
    burning = sootline.ok("fuel", "petrol", "--oil", "32", "--oil-burns")

    assert inert["premix"]["lambda_factor"] == pytest.approx(1.03774, abs=3e-5)
    assert inert["premix"]["oil_to_fuel_by_mass"] == pytest.approx(0.036493, abs=1e-6)
    assert inert["stoich_afr"] == pytest.approx(14.60878, abs=1e-4)
    assert burning["premix"]["oil_burns"] is True
    assert burning["stoich_afr"] == pytest.approx(14.6128, abs=1e-4)
    assert "not to burn" in inert["notes"][0]
    heavy = sootline.ok("fuel", "petrol", "--oil", "32", "--oil-density", "960")
    assert heavy["premix"]["lambda_factor"] > inert["premix"]["lambda_factor"]


def test_a_leaner_fuel_on_the_same_jets_is_cautioned(sootline):
    """A fuel that is leaner on petrol's jets says by how much, with the caution; petrol says nothing."""
    found = sootline.ok("fuel", "methanol")

    assert found["lambda_factor_on_petrol_jets"] == pytest.approx(2.1824, abs=1e-4)
    assert any("leaner" in note and "Caution" in note for note in found["notes"])
    assert any("flame" in note for note in found["notes"])
    assert sootline.ok("fuel", "petrol")["notes"] == []


def test_an_own_fuel_from_file_to_session(sootline, tmp_path):
    """A fuel of one's own is added, listed, asked for, corrected and refused under a built-in name."""
    path = tmp_path / "fuel.toml"
    path.write_text('name = "Hill mix"\nblend = "toluene=0.3,e5=0.7"\nafr = 14.2\n', encoding="utf-8")

    assert sootline.ok("fuel", "--add", path)["name"] == "Hill mix"
    assert sootline.ok("fuel", "hill MIX")["stoich_afr"] == 14.2
    own = [one["name"] for one in sootline.ok("fuel", "--list")["fuels"] if one["own"]]
    assert own == ["Hill mix"]
    path.write_text('name = "hill mix"\nformula = "C7H8"\n', encoding="utf-8")
    sootline.ok("fuel", "--add", path)
    assert sootline.ok("fuel", "Hill mix")["stoich_afr"] == pytest.approx(13.51183, abs=1e-4)
    path.write_text('name = "e85"\nafr = 9.9\n', encoding="utf-8")
    assert "built-in" in sootline.refused("fuel", "--add", path)
    assert "did you mean 'hill mix'" in sootline.refused("fuel", "hill mi")


def test_a_setup_may_name_an_own_fuel(sootline, files, tmp_path):
    """A session's set-up names an own fuel once it is added, and shows its definition."""
    (tmp_path / "ride.csv").write_text("t_s,rpm,lambda_1\n0,5000,0.9\n1,5100,0.88\n", encoding="utf-8")
    (tmp_path / "fuel.toml").write_text('name = "Hill mix"\nformula = "C7H8"\n', encoding="utf-8")
    (tmp_path / "own.toml").write_text('fuel = "Hill mix"\n', encoding="utf-8")
    sootline.ok("bike", "add", files / "bike.toml")
    sootline.ok("import", tmp_path / "ride.csv", "--bike", "Chalk Pit 400")

    assert "unknown fuel 'Hill mix'" in sootline.refused("setup", "set", "1", tmp_path / "own.toml")
    sootline.ok("fuel", "--add", tmp_path / "fuel.toml")
    sootline.ok("setup", "set", "1", tmp_path / "own.toml")
    assert sootline.ok("setup", "show", "1")["fuel"] == {"name": "Hill mix", "formula": "C7H8"}
    compared = sootline.ok("compare", "1")
    assert compared["fuel"] == "Hill mix"
    assert compared["stoich_afr"] == pytest.approx(13.51183, abs=1e-4)


@pytest.mark.parametrize(
    ("words", "hint"),
    [
        ([], "say which fuel"),
        (["e5", "--blend", "petrol=1"], "leave one of them out"),
        (["--formula", "C8H18", "--mass", "C=1"], "leave one of them out"),
        (["methnol"], "did you mean 'methanol'"),
        (["--blend", "petrol=0.9"], "add up to 0.9"),
        (["--formula", "CO2"], "takes no oxygen"),
        (["--mass", "N=1"], "no carbon and no hydrogen"),
        (["e5", "--afr", "147"], "outside 1 to 40"),
        (["e5", "--density", "0.745"], "density"),
        (["e5", "--oil", "0.03"], "32 for 32:1"),
        (["e5", "--oil-burns"], "--oil"),
        (["e5", "--oil-density", "870"], "--oil"),
        (["--list", "--afr", "14"], "--afr"),
        (["--add", "nowhere.toml"], "nowhere.toml"),
    ],
)
def test_what_is_refused(sootline, words, hint):
    """A request that makes no sense is refused in one sentence with its mend."""
    assert hint in sootline.refused("fuel", *words)


def test_for_a_person(sootline):
    """Without JSON the answer is words on lines of at most 80 characters, with the name of the fuel."""
    lines = sootline("fuel", "e10", "--oil", "32").out.splitlines()

    assert lines[0].startswith("e10: stoichiometric AFR 14.016")
    assert max(map(len, lines)) <= 80
    assert any("leaner" in line for line in lines)
    listed = sootline("fuel", "--list").out
    assert "nitromethane" in listed
    assert "built in" in listed
