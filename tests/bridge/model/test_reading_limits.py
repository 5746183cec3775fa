"""The limits of a reading in bike.toml."""

import pytest

from bridge.errors import RequestError
from bridge.model.files import read_bike

BIKE = 'name = "Chalk Pit 400"\nstrokes = 4\ncylinders = 2\ndisplacement_cc = 398\n'


def bike(tmp_path, table=""):
    path = tmp_path / "bike.toml"
    path.write_text(BIKE + table, encoding="utf-8")
    return read_bike(path)


def test_a_tuner_changes_one_limit_and_keeps_the_others(tmp_path):
    """What the table leaves out stays as it was, and without the table all are common practice."""
    plain, own = bike(tmp_path), bike(tmp_path, "[reading]\nfull_throttle_s = 8\nhead_c = 120.0\n")

    assert (plain.reading.full_throttle_s, plain.reading.gap_s) == (5.0, 10.0)
    assert (own.reading.full_throttle_s, own.reading.head_c, own.reading.gap_s) == (8.0, 120.0, 10.0)


@pytest.mark.parametrize(
    ("table", "says"),
    [
        ("[reading]\nfull_throtle_s = 8\n", "full_throttle_s"),
        ("[reading]\ngap_s = -1\n", "gap_s"),
        ('[reading]\nidle_s = "5"\n', "idle_s"),
        ("[reading]\nmisfire_share = 2\n", "misfire_share"),
        ("[reading]\nhead_c = nan\n", "head_c"),
    ],
)
def test_a_limit_that_cannot_be_is_refused_by_name(tmp_path, table, says):
    """A key that nobody knows is answered with the nearest, a value out of range with its key."""
    with pytest.raises(RequestError, match=says):
        bike(tmp_path, table)
