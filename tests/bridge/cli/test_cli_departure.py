"""``compare`` with a history: the departure, its scale, the causes and the next test, through the whole tool."""

import pytest

MIXTURES = (0.86, 0.88, 0.87, 0.89, 0.85, 0.875)
LAW_MM = 50.0


@pytest.fixture
def season(sootline, files):
    """A twin's six sessions, whose rings fit its mixtures but for one in the last: 4 mm nearer the tip."""
    sootline.ok("bike", "add", files / "bike.toml")
    for number, mixture in enumerate(MIXTURES, start=1):
        rows = [
            f"{i / 10},{100 if i > 100 else 30},{8000 if i > 100 else 5000},{mixture + 0.001 * (i % 3):.4f},"
            f"{mixture + 0.001 * (i % 4):.4f}"
            for i in range(400)
        ]
        path = files / f"ride{number}.csv"
        path.write_text("t_s,throttle,rpm,lambda_1,lambda_2\n" + "\n".join(rows) + "\n", encoding="utf-8")
        started = f"2026-05-{10 + number}T09:20:00Z"
        sootline.ok("import", path, "--bike", "Chalk Pit 400", "--started", started)
        for cylinder in (1, 2):
            label = f"P{number}{cylinder}"
            depth = 7.0 + LAW_MM * (mixture - 0.87) + 0.1 * ((number + cylinder) % 3 - 1)
            depth -= 4.0 if (number, cylinder) == (6, 2) else 0.0
            sootline.ok("plug", "fit", label, "--cylinder", cylinder, "--session", number, "--state", "new")
            sootline.ok(
                "plug", "read", label, "--session", number, "--ring-mm", f"{depth:.1f}", "--view", "cut",
                "--specks", "none",
            )  # fmt: skip  # one line for the words of a reading
            sootline.ok("plug", "pull", label, "--session", number)
    return sootline


def test_a_ring_that_departs_is_told_with_scale_causes_and_next_test(season):
    """The odd ring is richer by its history, the other agrees; causes have weights that add up to 1, and a test."""
    first, second = season.ok("compare", 6)["cylinders"]

    assert (first["scale"], first["verdict"]) == ("pairs", "agree")
    assert (second["scale"], second["verdict"]) == ("pairs", "ring richer")
    assert second["departure"]["low"] < -0.08 < second["departure"]["high"]
    assert second["departure"]["pairs"] == 10
    assert second["scales"]["absolute"] == "guess"
    assert sum(one["weight"] for one in second["causes"]) == pytest.approx(1.0)
    assert second["causes"][-1]["cause"] == "not known"
    assert second["causes"][0]["next_test"]
    assert second["next_test"]["how"]
    assert second["nothing_wrong"] < 0.1
    assert first["nothing_wrong"] > 0.8


def test_the_sentences_name_history_cause_and_next_step(season):
    """A person reads by how much, by what history, what it may be, and what to do next."""
    out = " ".join(season("compare", 6).out.split())

    assert "By the bike's own history" in out
    assert "the ring reads richer than the sensor by 0.0" in out
    assert "Next:" in out
    assert "not known" in out
