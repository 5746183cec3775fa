"""``air`` on the command line: the contract's keys, and what is refused."""

import pytest

DAY = ("air", "--temp", "35", "--pressure", "1005", "--humidity", "60")


def test_air_answers_with_the_contracts_keys(sootline):
    """A hot and humid day, each key with its value (closed form; psychrolib 1.121777 kg/m3 for the density)."""
    found = sootline.ok(*DAY)

    assert found["density_kg_m3"] == pytest.approx(1.121727, abs=8e-4)
    assert found["relative_density"] == pytest.approx(0.9157, abs=1e-3)
    assert found["dry_density_kg_m3"] == pytest.approx(1.097984, abs=8e-4)
    assert found["vapour_pressure_hpa"] == pytest.approx(33.76692, abs=0.01)
    assert found["dry_pressure_hpa"] == pytest.approx(971.233, abs=0.01)
    assert found["density_altitude_m"] == pytest.approx(907.95, abs=1.0)
    assert found["correction"]["sae_j1349"] == pytest.approx(1.042816, abs=3e-5)
    assert found["correction"]["iso_1585"] == pytest.approx(1.043698, abs=3e-5)
    assert found["correction"]["din_70020"] == pytest.approx(1.033439, abs=3e-5)
    assert found["questioned"] == []


def test_lambda_factor_is_over_the_reference_day(sootline):
    """On the reference day lambda stays; on the hot and humid one the same jets are richer, with a stated doubt."""
    home = sootline.ok("air", "--temp", "20", "--pressure", "1013.25", "--humidity", "50")
    hot = sootline.ok(*DAY)

    assert home["lambda_factor"] == pytest.approx(1.0, abs=1e-9)
    # closed form: 0.93667 of the standard's air, which is 1.0179 of the reference day's in dry over root of moist
    assert hot["lambda_factor"] == pytest.approx(0.9537, abs=2e-4)
    assert hot["lambda_factor_sd"] > home["lambda_factor_sd"] > 0


def test_corrections_tell_their_limits(sootline):
    """Hot and high, each standard says its reference and that it does not hold."""
    found = sootline.ok("air", "--temp", "30", "--pressure", "835", "--humidity", "25")
    iso = found["correction_limits"]["iso_1585"]

    assert iso["valid"] is False
    assert "0.93 to 1.07" in iso["because"]
    assert iso["reference"] == "25 Cel, 99 kPa of dry air"
    assert iso["factor"] == found["correction"]["iso_1585"]


def test_sea_level_pressure_is_questioned(sootline):
    """A weather report's pressure at a high place is answered and questioned, in JSON and for a person."""
    words = ("air", "--temp", "24", "--pressure", "1012", "--humidity", "40", "--altitude", "1500")
    (question,) = sootline.ok(*words)["questioned"]
    shown = " ".join(sootline(*words).out.split())

    assert "reduced to sea level" in question
    assert question in shown


def test_air_for_a_person(sootline):
    """The table has units and names each standard; its lines fit a screen of 80 characters, cautions among them."""
    answer = sootline(*DAY)

    assert answer.code == 0
    assert all(word in answer.out for word in ("kg/m3", "hPa", "ISO 1585", "SAE J1349", "DIN 70020"))
    assert "--altitude" in answer.out
    assert "not for lambda" in " ".join(answer.out.split())
    assert max(map(len, answer.out.splitlines())) <= 80


@pytest.mark.parametrize(
    ("temp", "pressure", "humidity", "parts"),
    [
        ("20", "29.92", "50", ["inHg", "1013.2"]),
        ("20", "101.3", "50", ["kPa", "1013.0"]),
        ("20", "760", "50", ["mmHg", "1013.3"]),
        ("20", "101325", "50", ["Pa", "1013.2"]),
        ("20", "1000", "140", ["140 %", "at most 100"]),
        ("20", "1000", "-3", ["-3 %", "at least 0"]),
        ("72", "1000", "50", ["72", "22.2"]),
        ("20", "nan", "50", ["nan"]),
    ],
)
def test_impossible_air_is_refused(sootline, temp, pressure, humidity, parts):
    """Each impossible air is refused in one sentence with its mend."""
    sentence = sootline.refused("air", "--temp", temp, "--pressure", pressure, "--humidity", humidity)

    assert all(part in sentence for part in parts)


def test_mercury_with_its_altitude(sootline):
    """760 at a low place is refused as mmHg; at 2350 m it is the air of that place."""
    day = ("air", "--temp", "20", "--pressure", "760", "--humidity", "50")

    assert "looks like mmHg" in sootline.refused(*day, "--altitude", "100")
    assert sootline.ok(*day, "--altitude", "2350")["questioned"] == []
