"""The tables of bike.toml that dynamometer and road need."""

import pytest

from bridge.errors import BadFile
from bridge.model.files import read_bike, read_setup

HEAD = 'name = "Hollow Lane 400"\nstrokes = 4\ncylinders = 2\ndisplacement_cc = 398\n'


def read(tmp_path, text):
    """A bike with some tables more."""
    path = tmp_path / "bike.toml"
    path.write_text(HEAD + text, encoding="utf-8")
    return read_bike(path)


def test_everything_may_be_said(tmp_path):
    """Roller by its dimensions, brake, road, gears, window and settings are read as they stand."""
    bike = read(
        tmp_path,
        """
[roller]
diameter_mm = 500
inner_diameter_mm = 420
length_mm = 700
wheel_inertia_kg_m2 = 0.6
wheel_diameter_mm = 625
engine_inertia_kg_m2 = 0.004
driveline_percent = 2
[brake]
load_cell = "cell"
arm_mm = 500
on = "engine"
[road]
mass_kg = 250
rotating_kg = 8
drag_area_m2 = 0.45
rolling_resistance = 0.015
gear_ratios = [14.6, 10.3, 8.0]
wheel_diameter_mm = 620
[pulls]
least_rpm = 2500
start_low_c = 70
start_high_c = 110
rest_low_s = 30
""",
    )

    # closed form: 317.640 kg (0.25^2 + 0.21^2) / 2
    assert bike.roller.own_kg_m2 == pytest.approx(16.93022, abs=1e-4)
    assert bike.road.gear_ratios == [14.6, 10.3, 8.0]
    assert (bike.pulls.least_rpm, bike.pulls.window_s) == (2500.0, 1.0)


def test_a_roller_may_be_named_without_its_inertia(tmp_path):
    """A roller with a diameter alone is taken; what it cannot give is said where it is asked for."""
    assert read(tmp_path, "[roller]\ndiameter_mm = 500\n").roller.own_kg_m2 is None
    assert read(tmp_path, "").roller is None


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[roller]\ninertia_kg_m2 = 0\n", "inertia_kg_m2"),
        ("[roller]\ninertia_kg_m2 = -3\n", "inertia_kg_m2"),
        ("[roller]\ndiameter_mm = 400\ninner_diameter_mm = 420\n", "below diameter_mm"),
        ("[roller]\ninertia_kg_m2 = 12\nwheel_inertia_kg_m2 = 0.6\n", "wheel_diameter_mm"),
        ("[brake]\nload_cell = 'cell'\n", "belong together"),
        ("[brake]\non = 'wheel'\n", "on"),
        ("[road]\nmass = 250\n", "mass_kg"),
        ("[pulls]\nstart_low_c = 90\nstart_high_c = 70\n", "must be below"),
        ("[pulls]\nwindow_s = 30\n", "window_s"),
    ],
)
def test_what_cannot_be_is_refused(tmp_path, text, said):
    """No inertia of nothing, no hole larger than its drum, no force without its arm, no window that is upside down."""
    with pytest.raises(BadFile, match=said):
        read(tmp_path, text)


def test_the_slope_of_the_road_belongs_to_the_session(tmp_path):
    """A set-up may say the road's slope in percent; one of 40 is none."""
    path = tmp_path / "setup.toml"
    path.write_text("slope_percent = -1.5\n", encoding="utf-8")
    assert read_setup(path).slope_percent == -1.5
    path.write_text("slope_percent = 40\n", encoding="utf-8")
    with pytest.raises(BadFile, match="slope_percent"):
        read_setup(path)
