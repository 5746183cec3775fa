"""A bike's season by the command line: kept beside the samples, remade when something changed."""

import math

import pytest

NAME = "Chalk Pit 400"


@pytest.fixture
def season(sootline, files):
    """A twin with three sessions, each a little richer than the last."""
    sootline.ok("bike", "add", files / "bike.toml")
    for day in range(3):
        lines = ["t_s,throttle,rpm,lambda_1,lambda_2"]
        for i in range(900):
            t = i / 10
            wave = 0.004 * math.sin(t * 1.7) + 0.003 * math.sin(t * 5.1) - 0.01 * day
            throttle, rpm = (45.0, 5000.0) if t < 50 else (100.0, 8000.0)
            lines.append(f"{t:.1f},{throttle},{rpm},{0.88 + wave:.3f},{0.86 - wave:.3f}")
        path = files / f"ride{day}.csv"
        path.write_text("\n".join(lines) + "\n", encoding="utf-8")
        sootline.ok("import", path, "--bike", NAME, "--started", f"2026-05-1{day}T09:20:00Z")
    sootline.ok("setup", "set", "1", files / "setup.toml")
    return sootline


def kept(season):
    """Return the kept files with when each was written."""
    return {path.name: path.stat().st_mtime_ns for path in (season.folder / "bands").glob("*.parquet")}


def test_the_season_is_kept_and_says_the_same_again(season):
    """The first asking keeps a file a session, the second reads them, and both answers are the same to the digit."""
    first = season.ok("bands", "--bike", NAME)
    files = kept(season)
    second = season.ok("bands", "--bike", NAME)

    assert sorted(files) == ["0001.parquet", "0002.parquet", "0003.parquet"]
    assert first == second
    assert kept(season) == files
    assert first["sessions"] == [1, 2, 3]
    assert (first["session"], first["delay"]) == (None, None)
    assert first["stoich_afr"] == pytest.approx(14.3, abs=0.2)
    seconds = [sum(c["seconds"] for c in season.ok("bands", n)["cells"]) for n in (1, 2, 3)]
    assert sum(c["seconds"] for c in first["cells"]) == pytest.approx(sum(seconds))


def test_what_changed_is_made_anew_and_nothing_else(season, files):
    """A new set-up of session 2 makes 2 and 3 anew, a sensor check between 1 and 2 as well, the bike's file all."""
    season.ok("bands", "--bike", NAME)

    def remade_by(*words):
        before = kept(season)
        season.ok(*words)
        season.ok("bands", "--bike", NAME)
        return sorted(name for name, at in kept(season).items() if at != before[name])

    assert remade_by("setup", "set", "2", files / "setup.toml") == ["0002.parquet", "0003.parquet"]
    at = ("--at", "2026-05-10T20:00:00Z")
    assert remade_by("sensor", NAME, "--offset", "0.02", "--sd", "0.005", *at) == [
        "0002.parquet",
        "0003.parquet",
    ]
    (files / "bike.toml").write_text((files / "bike.toml").read_text() + "\n[steady]\nsettle_s = 2.0\n")
    assert remade_by("bike", "add", files / "bike.toml") == ["0001.parquet", "0002.parquet", "0003.parquet"]


def test_a_new_session_is_added_to_the_kept_ones(season, files):
    """Another ride makes one more file and leaves the others as they were."""
    season.ok("bands", "--bike", NAME)
    before = kept(season)
    season.ok("import", files / "ride0.csv", "--bike", NAME, "--again", "--started", "2026-06-01T09:00:00Z")
    answer = season.ok("bands", "--bike", NAME)

    assert answer["sessions"] == [1, 2, 3, 4]
    assert {name: at for name, at in kept(season).items() if name in before} == before


def test_other_bands_are_no_kept_ones(season):
    """Kept counts of the default bands are not taken for even steps; each way says what it was asked."""
    season.ok("bands", "--bike", NAME)
    cells = season.ok("bands", "--bike", NAME, "--throttle-step", "20", "--rpm-step", "1000")["cells"]

    assert {(c["throttle_from"], c["throttle_to"]) for c in cells} == {(40.0, 60.0), (80.0, 100.0)}


def test_what_makes_no_season_is_refused(season):
    """Neither a session nor a bike, both, a part of a season, two ways of edges, a bike that is not there."""
    for words, hint in (
        ((), "--bike NAME"),
        (("1", "--bike", NAME), "--bike NAME"),
        (("--bike", NAME, "--from", "3"), "leave them out with --bike"),
        (("1", "--throttle", "0,50,100", "--throttle-step", "10"), "not by both"),
        (("1", "--throttle-step", "0.5"), "give 1 to 100"),
        (("--bike", "Chalk Pit 40"), "there is no bike"),
    ):
        assert hint in season.refused("bands", *words)


def test_the_table_is_for_a_person(season):
    """Without --json the same stands in a table, full throttle in words and each band's budget when asked for."""
    text, whole = season("bands", 1).out, season("bands", 1, "--budget").out

    assert "Full throttle, cylinder 1: lambda 0.88" in text
    assert "the sensor's own accuracy 0.0100 (common practice)" in text
    assert "1, needle straight, 5000-5500: Standard uncertainty" in whole
