"""A season's agreement by the command line: gathered once, kept, remade when something changed, sifted."""

import math

import pytest

NAME = "Chalk Pit 400"
DAYS = 4


@pytest.fixture
def season(sootline, files):
    """A twin with four sessions of different jets, new plugs in each, all read but one cylinder of the last."""
    sootline.ok("bike", "add", files / "bike.toml")
    for day in range(1, DAYS + 1):
        ride(sootline, files, day)
    return sootline


def ride(sootline, files, day):
    """Import a session that ends at full throttle, and read its plugs."""
    lines = ["t_s,throttle,rpm,lambda_1,lambda_2"]
    level = (0.85, 0.88, 0.91, 0.87, 0.86)[day - 1]
    for i in range(600):
        t = i / 10
        wave = 0.004 * math.sin(t * 1.7) + 0.003 * math.sin(t * 5.1)
        throttle, rpm = (45.0, 5000.0) if t < 25 else (100.0, 8000.0)
        lines.append(f"{t:.1f},{throttle},{rpm},{level + wave:.3f},{level + 0.01 - wave:.3f}")
    path = files / f"ride{day}.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    place = "Weir" if day < 3 else "Mole"
    sootline.ok("import", path, "--bike", NAME, "--place", place, "--started", f"2026-05-{day:02d}T09:20:00Z")
    for cylinder in (1, 2):
        label = f"P{day}{cylinder}"
        sootline.ok(
            "plug", "fit", label, "--cylinder", cylinder, "--session", day, "--state", "new", "--until", day
        )
        depth = 7.0 + 50.0 * (level + 0.01 * (cylinder - 1) - 0.87) + (0.2, -0.3, 0.1, 0.3, 0.0)[day - 1]
        if (day, cylinder) != (DAYS, 2):
            sootline.ok("plug", "read", label, "--session", day, "--ring-mm", f"{depth:.1f}", "--view", "cut")


def kept(season):
    """Return the kept files with when each was written."""
    return {path.name: path.stat().st_mtime_ns for path in sorted((season.folder / "pairs").glob("*.json"))}


def test_a_season_answers_by_the_contract_and_is_kept(season):
    """Seven pairs of four sessions, the one left out with its reason; asked again the same, from what was kept."""
    first = season.ok("agreement", "--bike", NAME)
    files = kept(season)

    assert (first["pairs"], first["sessions"], first["scale"]) == (7, 4, "pairs")
    assert [(one["session"], one["cylinder"]) for one in first["left_out"]] == [(4, 2)]
    assert first["left_out"][0]["why"]
    assert first["limit_low"] < first["bias"] < first["limit_high"]
    assert abs(first["bias"]) < 0.02
    assert first["slope_low"] < 1.0 < first["slope_high"]
    assert sorted(files) == [f"{day:04d}.json" for day in range(1, DAYS + 1)]
    assert season.ok("agreement") == first
    assert kept(season) == files


def test_what_changed_is_made_anew_and_nothing_else(season, files):
    """A corrected reading makes its own session anew, a set-up its own and later ones; the answer follows."""
    before = season.ok("agreement")
    at = kept(season)
    season.ok("plug", "read", "P21", "--session", "2", "--ring-mm", "9.9", "--view", "cut")
    after = season.ok("agreement")

    assert [name for name, when in kept(season).items() if when != at[name]] == ["0002.json"]
    moved = [
        (new["session"], new["cylinder"])
        for old, new in zip(before["points"], after["points"], strict=True)
        if new["difference"] - old["difference"] > 0.02
    ]
    assert moved == [(2, 1)]
    at = kept(season)
    season.ok("setup", "set", "3", files / "setup.toml")
    season.ok("agreement")
    assert [name for name, when in kept(season).items() if when != at[name]] == ["0003.json", "0004.json"]


def test_a_hurt_kept_file_counts_for_nothing(season):
    """What is left of a kept file that was cut short or written over is made anew, not believed."""
    first = season.ok("agreement")
    path = season.folder / "pairs" / "0002.json"
    head = path.read_text(encoding="utf-8").split("\n")[0]
    for hurt in ("", f"{head}\n{{", f"{head}\n{{}}", "nonsense"):
        path.write_text(hurt, encoding="utf-8")
        again = season.ok("agreement")
        # sums over groups of samples come in any order, so the last digit is chance
        assert again["bias"] == pytest.approx(first["bias"], rel=1e-9)
        assert again["left_out"] == first["left_out"]


def test_filters_sift_and_refuse(season):
    """Place and dates choose sessions; a date alone counts to its end; what no pair has is refused by name."""
    assert season.ok("agreement", "--place", "Mole")["sessions"] == 2
    assert season.ok("agreement", "--to-date", "2026-05-02T23:00:00Z")["sessions"] == 2
    noted = season.ok("agreement", "--from-date", "2026-05-02", "--to-date", "2026-05-03")
    assert noted["sessions"] == 2
    assert noted["notes"]
    assert "did you mean 'Mole'" in season.refused("agreement", "--place", "Mol")
    assert "must be later" in season.refused(
        "agreement", "--from-date", "2026-05-03T00:00Z", "--to-date", "2026-05-01T00:00Z"
    )
    assert "main_jet=160" in season.refused("agreement", "--setup", "main_jet")
    assert "there is no bike" in season.refused("agreement", "--bike", "Chalk Pit 40")
    assert season("agreement", "--strokes", "3").code == 2


def test_words_for_a_person(season):
    """The text says the average, the limits, what they cannot show, what was left out, and the cautions."""
    text = " ".join(season("agreement").out.split())

    assert "Chalk Pit 400: 7 pairs of 4 sessions" in text
    assert "Limits of agreement: 95 % of single differences" in text
    assert "What this cannot show" in text
    assert "session 4 cylinder 2" in text
    assert "A lean engine can seize" in text


def test_an_empty_logbook_has_no_season(sootline, files):
    """A bike without sessions gives nulls and no pair, not an error."""
    sootline.ok("bike", "add", files / "bike.toml")
    found = sootline.ok("agreement")

    assert (found["pairs"], found["bias"], found["equivalent"], found["left_out"]) == (0, None, None, [])
