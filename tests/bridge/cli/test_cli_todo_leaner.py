"""A plan to go leaner: cautioned always, and refused where a plug shows what stops it."""

import pytest

NAME = "Chalk Pit 400"


def ride(sootline, files, day):
    """Import a session at steady full throttle."""
    lines = [
        "t_s,throttle,rpm,lambda_1,lambda_2",
        *(f"{i / 10:.1f},100,8000,0.90,0.90" for i in range(300)),
    ]
    path = files / f"ride{day}.csv"
    path.write_text("\n".join(lines) + f"\n60.{day},100,8000,0.90,0.90\n", encoding="utf-8")
    sootline.ok(
        "import", path, "--bike", NAME, "--place", "Weir", "--started", f"2026-05-{day:02d}T09:20:00Z"
    )


@pytest.fixture
def melted(sootline, files):
    """A twin ridden three times; after the second, cylinder 2 shows aluminium; the third was not read."""
    sootline.ok("bike", "add", files / "bike.toml")
    for day in (1, 2, 3):
        ride(sootline, files, day)
    for cylinder in (1, 2):
        sootline.ok("plug", "fit", f"A{cylinder}", "--cylinder", cylinder, "--session", 1, "--state", "new")
    sootline.ok("plug", "read", "A1", "--session", 2, "--ring-mm", 7.0)
    sootline.ok("plug", "read", "A2", "--session", 2, "--ring-mm", 7.0, "--specks", "aluminium")
    return sootline


def add(session, promise, *more):
    """Return the words of a plan."""
    return ("todo", "add", session, "main jet 160 to 150", "--promise", promise, *more)


def test_leaner_on_aluminium_is_refused(melted):
    """In the session of the reading, in the next one without any, and for the whole engine."""
    for words in (add(2, 0.05, "--cylinder", 2), add(3, 0.05, "--cylinder", 2), add(3, 0.05)):
        said = melted.refused(*words)
        assert "Aluminium on plug A2".lower() in said.lower()
        assert "session 2" in said
    assert melted.ok("todo", "list")["tasks"] == []


def test_leaner_is_always_cautioned_where_it_may_be_planned(melted):
    """Before the aluminium and in the other cylinder the caution stands in both forms of the answer."""
    assert "small steps" in melted.ok(*add(1, 0.02, "--cylinder", 2))["cautions"][0]
    out = melted(*add(2, 0.02, "--cylinder", 1)).out
    assert "Caution: A lean engine" in out
    assert "valid ring" not in out


def test_a_newer_clean_reading_allows_it_again(melted):
    """What counts is each cylinder's newest reading up to the plan's session."""
    melted.ok("plug", "read", "A2", "--session", 3, "--ring-mm", 7.0, "--specks", "none")
    assert melted.ok(*add(3, 0.02, "--cylinder", 2))["cautions"]
    assert melted(*add(3, 0.02)).code == 0


def test_a_plan_that_says_no_way_is_told_what_stops_a_leaner_one(melted):
    """Without a promise nobody knows which way a jet goes: taken, with the aluminium beside it; elsewhere without."""
    stopped = melted.ok("todo", "add", 2, "main jet 160 to 150", "--cylinder", 2)
    other = melted.ok("todo", "add", 2, "main jet 160 to 150", "--cylinder", 1)

    assert "aluminium" in stopped["cautions"][0].lower()
    assert "do not do it" in stopped["cautions"][0]
    assert other["cautions"] == []


def test_richer_is_planned_without_a_word(melted):
    """A promise below zero has neither caution nor refusal, on aluminium too."""
    assert melted.ok(*add(2, -0.05, "--cylinder", 2))["cautions"] == []


def test_a_two_stroke_needs_a_valid_ring(sootline, files):
    """The caution names it beside the small steps."""
    toml = (files / "bike.toml").read_text(encoding="utf-8").replace("strokes = 4", "strokes = 2")
    (files / "bike.toml").write_text(toml, encoding="utf-8")
    sootline.ok("bike", "add", files / "bike.toml")
    ride(sootline, files, 1)
    assert "valid ring" in sootline.ok(*add(1, 0.02))["cautions"][0]


def test_a_plug_whose_order_was_lost_stops_every_cylinder(melted):
    """Nobody knows whose aluminium it is, so none goes leaner."""
    melted.ok("plug", "pull", "--all", "--session", 2, "--order-lost")
    assert "aluminium" in melted.refused(*add(2, 0.05, "--cylinder", 1)).lower()


def test_a_later_reading_that_did_not_look_takes_nothing_back(melted):
    """The aluminium of session 2 still stops after a reading of the ring alone, in the plan and in the season."""
    melted.ok("plug", "read", "A2", "--session", 3, "--ring-mm", 7.0)
    assert "session 2" in melted.refused(*add(3, 0.05, "--cylinder", 2))
    assert "aluminium on plug A2" in melted.ok("agreement", "--bike", NAME)["cautions"][0]
