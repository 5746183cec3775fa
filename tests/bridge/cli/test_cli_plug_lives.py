"""The lives of plugs as told on the command line."""

import pytest

BIKE = "Chalk Pit 400"


@pytest.fixture
def tray(sootline, files):
    """Two rides of a twin, of which 20 s and 60 s are full throttle, with A1 and A2 in since the first."""
    sootline.ok("bike", "add", files / "bike.toml")
    for day, full_s in ((1, 20), (2, 60)):
        rows = ["t_s,throttle,rpm"]
        for i in range(1201):
            running, full = i < 1000, i < full_s * 10
            rows.append(f"{i / 10:.1f},{100 if full else 40 if running else 0},{8000 if running else 0}")
        (files / f"{day}.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
        started = f"2026-05-1{day}T09:20:00Z"
        sootline.ok("import", files / f"{day}.csv", "--bike", BIKE, "--started", started)
    for n in (1, 2):
        sootline.ok("plug", "fit", f"A{n}", "--cylinder", n, "--session", 1, "--state", "new")
    return sootline


def places(sootline, session):
    """Which plug was in which cylinder."""
    rows = sootline.ok("plug", "tray", "--session", session)["tray"]
    return {row["cylinder"]: row["plug"] for row in rows}


def test_the_tray_says_how_long_each_plug_ran(tray):
    """Hours and full throttle grow with the sessions, and follow a plug that changed places."""
    tray.ok("plug", "swap", "A1", "A2", "--session", 2)

    for session, (running_s, full_s) in ((1, (100, 20)), (2, (200, 80))):
        for row in tray.ok("plug", "tray", "--session", session)["tray"]:
            assert row["hours_s"] == pytest.approx(running_s, abs=1)
            assert row["full_throttle_s"] == pytest.approx(full_s, abs=1)
    assert [places(tray, session) for session in (1, 2)] == [{1: "A1", 2: "A2"}, {1: "A2", 2: "A1"}]
    shown = tray("plug", "tray").out
    assert shown.splitlines()[0].split() == [
        "plug",
        "cylinder",
        "fitted",
        "pulled",
        "state",
        "readings",
        "hours",
        "full",
        "s",
    ]
    assert "sessions" not in tray.ok("plug", "tray")["tray"][0]


def test_a_log_that_cannot_tell_hours_is_named(tray, files):
    """A session without engine speed leaves its hours out and is named below the tray."""
    (files / "3.csv").write_text("t_s,throttle\n0,100\n1,100\n2,100\n", encoding="utf-8")
    tray.ok("import", files / "3.csv", "--bike", BIKE, "--started", "2026-05-13T09:20:00Z")

    assert "The log of session 3 does not tell all of it" in tray("plug", "tray").out
    assert tray.ok("plug", "tray", "--session", 3)["tray"][0]["hours_s"] == pytest.approx(200, abs=1)


def test_an_upset_tray(tray):
    """Upset after the pull, read all the same, and put in order again: nothing is lost, and each word is said."""
    tray.ok("plug", "pull", "--all", "--session", 2)
    lost = tray.ok("plug", "order", "--session", 2, "--lost")["lost"]
    assert {row["plug"] for row in lost} == {"A1", "A2"}
    assert "counts for no\ncylinder" in tray("plug", "read", "A1", "--session", 2, "--ring-mm", 6).out
    shown = tray("plug", "tray", "--session", 2).out
    assert shown.count(" lost ") == 2
    assert "readings are kept" in shown

    found = tray.ok("plug", "order", "--session", 2, "A1=2")["found"]

    assert [(row["plug"], row["cylinder"]) for row in found] == [("A2", 1), ("A1", 2)]
    row = next(row for row in tray.ok("plug", "tray", "--session", 2)["tray"] if row["plug"] == "A1")
    assert (row["cylinder"], row["readings"], row["order_lost"]) == (2, 1, False)


def test_two_plugs_dropped_at_once(tray):
    """Some plugs pulled without their order are named; one alone is not enough to be out of order."""
    assert "several plugs" in tray.refused("plug", "pull", "A1", "--session", 2, "--order-lost")
    out = tray.ok("plug", "pull", "A1", "A2", "--session", 2, "--order-lost")["pulled"]

    assert [(row["plug"], row["order_lost"]) for row in out] == [("A1", True), ("A2", True)]


def test_mixed_up_either_way(tray):
    """Two labels change over, or each plug is given its cylinder; the comparison follows."""
    done = tray.ok("plug", "mixed-up", "A1", "A2", "--session", 2)["corrected"]
    assert {row["plug"]: row["cylinder"] for row in done} == places_by_plug(tray, 1) == {"A1": 2, "A2": 1}

    tray.ok("plug", "mixed-up", "A1=1", "A2=2", "--session", 1, "--why", "the leads were right after all")
    assert places(tray, 2) == {1: "A1", 2: "A2"}


def places_by_plug(sootline, session):
    """Which cylinder each plug was in."""
    return {plug: cylinder for cylinder, plug in places(sootline, session).items()}


def test_new_to_scrapped(tray):
    """From the box into the engine, out, cleaned and scrapped: the list and the story tell it."""
    tray.ok("plug", "new", "B1", "B2")
    tray.ok("plug", "fit", "B1", "--cylinder", 1, "--session", 2, "--pull-first")
    tray.ok("plug", "clean", "B1", "--session", 2, "--note", "brass brush")
    tray.ok("plug", "scrap", "B1")

    states = {plug["label"]: plug["state"] for plug in tray.ok("plug", "list")["plugs"]}
    assert states == {"A1": "in the box", "A2": "in cylinder 2", "B1": "scrapped", "B2": "new"}
    story = tray.ok("plug", "show", "B1")
    assert [event["what"] for event in story["events"]] == ["new", "fitted", "pulled", "cleaned", "scrapped"]
    assert story["full_throttle_s"] == pytest.approx(60, abs=1)
    assert "scrapped" in tray.refused("plug", "fit", "B1", "--cylinder", 1, "--session", 2)
    assert tray.ok("plug", "scrap", "B1", "--take-back")["state"] == "in the box"


@pytest.mark.parametrize(
    ("words", "part"),
    [
        (["order", "--session", 2], "A1=1"),
        (["order", "--session", 2, "A1"], "says no cylinder"),
        (["order", "--session", 2, "A1=1", "A1=2"], "named twice"),
        (["order", "--session", 2, "A1=1"], "no plug was lost"),
        (["mixed-up", "A1", "--session", 2], "two plugs"),
        (["mixed-up", "A1", "A1", "--session", 2], "itself"),
        (["mixed-up", "A1=2", "--session", 2], "would both be in cylinder 2"),
        (["swap", "A1", "A2", "--session", 1], "mixed up"),
        (["swap", "A1", "A2", "--session", 9], "no session 9"),
        (["fit", "B1", "--cylinder", 2, "--session", 2, "--state", "new"], "A2 is in cylinder 2"),
        (["fit", "B1", "--cylinder", 2, "--session", 2], "new, cleaned or used"),
        (["read", "Z9", "--session", 1, "--ring", "none"], "never fitted"),
        (["show", "Z9"], "no plug Z9"),
        (["new", "a1"], "there is a plug A1 already"),
        (["pull", "--session", 2], "--all"),
    ],
)
def test_what_is_wrong_is_said_in_one_sentence_and_loses_nothing(tray, words, part):
    """Each slip is refused in one sentence with its mend, and the tray is as it was."""
    before = tray.ok("plug", "list")

    assert part in tray.refused("plug", *words)
    assert tray.ok("plug", "list") == before


def test_a_reading_before_its_plug_was_fitted_on_the_command_line(tray):
    """It is refused with when the plug went in."""
    tray.ok("plug", "fit", "B1", "--cylinder", 1, "--session", 2, "--state", "new", "--pull-first")

    assert "it went in later" in tray.refused("plug", "read", "B1", "--session", 1, "--ring-mm", 6)


def test_what_is_told_of_plugs_fits_80_columns(tray, monkeypatch):
    """Tables, stories and help of plugs fit a terminal of 80 columns, however long the words."""
    monkeypatch.setenv("COLUMNS", "80")
    long = "A plug with a label of forty characters"
    tray.ok("plug", "new", long, "--note", "bought at the autojumble, " * 8)
    tray.ok("plug", "fit", long, "--cylinder", 1, "--session", 2, "--pull-first", "--type", "t" * 80)
    tray.ok("plug", "clean", long, "--session", 2, "--note", "x" * 200)

    lines = [
        line
        for words in (["tray"], ["list"], ["show", long], *([word, "--help"] for word in WORDS))
        for line in tray("plug", *words).out.splitlines()
    ]
    assert max(map(len, lines)) <= 80
    assert len(lines) > 100


WORDS = ["fit", "pull", "tray", "list", "show", "swap", "mixed-up", "order", "new", "clean", "scrap"]
