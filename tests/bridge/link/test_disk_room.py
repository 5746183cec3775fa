"""How much room a recording needs, said before it begins."""

import re

import pytest

from bridge.errors import BadValue
from bridge.link import check_room, room


@pytest.mark.parametrize(
    ("free", "baud", "said"),
    [
        (100_000_000, 115_200, None),
        (30_000_000, 115_200, r"30\.0 MB left, which is about 34 minutes at 115200 baud"),
        (30_000_000, 9_600, None),
        (100_000_000, 1_000_000, "about 13 minutes at 1000000 baud"),
    ],
)
def test_a_disk_that_will_be_full_within_the_hour_is_worth_a_word(tmp_path, monkeypatch, free, baud, said):
    """The faster the port the sooner the disk is full; where an hour fits nothing is said."""
    monkeypatch.setattr(room, "free_bytes", lambda _: free)
    words = check_room(tmp_path / "not" / "yet", baud)
    assert (words is None) if said is None else re.search(said, words)
    assert not (tmp_path / "not").exists()


def test_less_than_a_minute_is_refused(tmp_path, monkeypatch):
    """What a minute takes depends on the port's speed; less is refused with the mend."""
    monkeypatch.setattr(room, "free_bytes", lambda _: 1_500_000)
    check_room(tmp_path, 9_600)
    with pytest.raises(
        BadValue, match=r"1\.5 MB left, which holds less than a minute: free some, or name another"
    ):
        check_room(tmp_path, 115_200)


def test_a_file_in_the_folders_place_is_refused(tmp_path):
    """A logbook cannot be inside a file."""
    (tmp_path / "file").touch()
    with pytest.raises(BadValue, match="is a file"):
        check_room(tmp_path / "file" / "logbook", 115_200)


def test_the_reserve_grows_with_what_must_be_sealed():
    """The longer the recording the more room its samples will take."""
    assert room.reserve(0) == 1_000_000
    assert room.reserve(40_000_000) == 11_000_000
