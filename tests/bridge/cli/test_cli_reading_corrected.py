"""A reading that is corrected by the command line: what was not said again is not lost."""

import pytest

NAME = "Chalk Pit 400"
SEEN = {
    "specks": "aluminium",
    "view": "cut",
    "nose_colour": "grey",
    "base_ring": "full",
    "strap_mark": 0.6,
    "edge": "rounded",
    "glaze": True,
    "blisters": True,
    "wet": False,
    "gap_mm": 0.7,
    "piston_wash": "narrow",
    "note": "looked twice",
}


@pytest.fixture
def read(sootline, files):
    """A plug that was read once with all that can be seen on it."""
    sootline.ok("bike", "add", files / "bike.toml")
    rows = [f"{i / 10:.1f},100,8000,0.90,0.90" for i in range(300)]
    ride = files / "one.csv"
    ride.write_text("\n".join(["t_s,throttle,rpm,lambda_1,lambda_2", *rows]) + "\n", encoding="utf-8")
    sootline.ok("import", ride, "--bike", NAME, "--place", "Weir", "--started", "2026-05-01T09:20:00Z")
    sootline.ok("plug", "fit", "A1", "--cylinder", 1, "--session", 1, "--state", "new")
    words = ["--specks", "aluminium", "--view", "cut", "--nose-colour", "grey", "--base-ring", "full"]
    words += ["--strap-mark", 0.6, "--edge", "rounded", "--glaze", "--blisters", "--no-wet", "--gap-mm", 0.7]
    words += ["--piston-wash", "narrow", "--note", "looked twice", "--ring-sd-mm", 0.2]
    sootline.ok("plug", "read", "A1", "--session", 1, "--ring-mm", 7.1, *words)
    return sootline


def test_correcting_the_ring_alone_keeps_all_that_was_seen(read):
    """Another depth takes over aluminium, blisters and every other mark, and STOP stays."""
    done = read.ok("plug", "read", "A1", "--session", 1, "--ring-mm", 7.2, "--view", "cut")

    assert (done["ring_mm"], done["ring_sd_mm"], done["corrects"]) == (7.2, 0.2, 1)
    assert {name: done[name] for name in SEEN} == SEEN
    out = read("plug", "read", "A1", "--session", 1, "--ring-mm", 7.3).out
    assert "taken over" in out
    assert "stop" in out
    assert "Aluminium on plug A1" in read("compare", 1).out


def test_aluminium_is_taken_back_only_by_another_word(read):
    """Specks that are said to be soot take it back, and the answer says so."""
    out = read("plug", "read", "A1", "--session", 1, "--specks", "soot").out

    assert "aluminium on plug A1 is taken back" in out
    assert "Aluminium on plug A1" not in read("compare", 1).out
    again = read.ok("plug", "read", "A1", "--session", 1, "--no-blisters", "--note", "")
    assert (again["specks"], again["blisters"], again["ring_mm"]) == ("soot", False, 7.1)
    assert "note" not in again


def test_what_is_said_replaces_and_what_no_longer_fits_goes(read):
    """No ring has no depth, and another view has its own usual doubt."""
    magnified = read.ok("plug", "read", "A1", "--session", 1, "--view", "magnifier")
    assert (magnified["ring_mm"], magnified["ring_sd_mm"]) == (7.1, 1.0)

    none = read.ok("plug", "read", "A1", "--session", 1, "--ring", "none")
    assert (none["ring"], none["specks"]) == ("none", "aluminium")
    assert "ring_mm" not in none
    assert "ring_sd_mm" not in none
    seen = read.ok("plug", "read", "A1", "--session", 1, "--ring-mm", 6.0)
    assert (seen["ring"], seen["ring_mm"]) == ("seen", 6.0)


def test_a_first_reading_needs_its_ring(read):
    """With nothing to correct the ring has to be said, and never twice."""
    read.ok("plug", "fit", "A2", "--cylinder", 2, "--session", 1, "--state", "new")
    assert "--ring-mm" in read.refused("plug", "read", "A2", "--session", 1, "--specks", "soot")
    assert "not both" in read.refused(
        "plug", "read", "A2", "--session", 1, "--ring", "none", "--ring-mm", 6.0
    )
