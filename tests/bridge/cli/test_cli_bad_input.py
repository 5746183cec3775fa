"""Bad input: one clear sentence, exit 2, nothing changed."""

import pytest


@pytest.fixture
def garage(sootline, files):
    """A logbook with one bike in it."""
    sootline.ok("bike", "add", files / "bike.toml")
    return sootline


@pytest.fixture
def ridden(garage, files):
    """A logbook with a bike and one imported session of ten minutes at one row a second."""
    rows = "\n".join(f"{i},{60 + i % 40},{5000 + 10 * (i % 60)},0.88,0.87" for i in range(600))
    (files / "ride.csv").write_text("t_s,throttle,rpm,lambda_1,lambda_2\n" + rows + "\n", encoding="utf-8")
    garage.ok("import", files / "ride.csv", "--bike", "Chalk Pit 400", "--started", "2026-05-14T09:20:00Z")
    return garage


def listing(sootline):
    """What the logbook holds, to see that nothing changed."""
    return sootline.ok("sessions"), sootline.ok("plug", "tray")


def test_reading_commands_never_make_a_logbook(sootline):
    """A command that only looks refuses a logbook that is not there, and does not make it."""
    for words in (["sessions"], ["compare", "1"], ["bands", "1"], ["plug", "tray"], ["bike", "list"]):
        assert "logbook" in sootline.refused(*words)
    assert not sootline.folder.exists()


@pytest.mark.parametrize("command", [["compare"], ["bands"], ["setup", "show"], ["export", "--to", "x.csv"]])
def test_an_unknown_session_is_named(ridden, command):
    """A session that is not there is named in the sentence, with those there are."""
    words = [command[0], "77", *command[1:]] if command[0] == "export" else [*command, "77"]

    assert "77" in ridden.refused(*words)


def test_a_file_that_is_no_log(ridden, files):
    """A picture given as a log is refused, and nothing is changed."""
    before = listing(ridden)
    (files / "photo.csv").write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 40)

    assert "photo.csv" in ridden.refused("import", files / "photo.csv")
    assert listing(ridden) == before


def test_a_file_that_is_not_there(garage, files):
    """A file that is not there is named."""
    assert "nowhere.wire" in garage.refused("import", files / "nowhere.wire")


def test_an_ending_that_nobody_reads(garage, files):
    """A file with an unknown ending is refused with the endings that are read."""
    (files / "ride.xyz").write_text("1,2,3", encoding="utf-8")

    assert ".wire" in garage.refused("import", files / "ride.xyz")


def test_a_map_that_names_a_missing_column(garage, files):
    """A map's missing column is named, and the file's own columns are listed."""
    (files / "other.csv").write_text("ms,afr,revs\n0,12.9,5000\n10,12.8,5010\n", encoding="utf-8")
    (files / "map.toml").write_text(
        'time = { column = "ms", unit = "ms" }\n[channels]\n'
        'lambda_1 = { column = "AFR1", as = "afr", stoich = 14.7 }\n',
        encoding="utf-8",
    )

    sentence = garage.refused("import", files / "other.csv", "--map", files / "map.toml")

    assert "AFR1" in sentence
    assert "revs" in sentence


def test_a_unit_that_does_not_fit(garage, files):
    """A temperature in kilopascals is refused by name."""
    (files / "other.csv").write_text("ms,hot\n0,600\n10,601\n", encoding="utf-8")
    (files / "map.toml").write_text(
        'time = { column = "ms", unit = "ms" }\n[channels]\negt_1 = { column = "hot", unit = "kPa" }\n',
        encoding="utf-8",
    )

    assert "kPa" in garage.refused("import", files / "other.csv", "--map", files / "map.toml")


def test_the_same_file_twice(ridden, files):
    """The same file twice is refused, naming its session, unless --again says so."""
    assert "session 1" in ridden.refused("import", files / "ride.csv")
    assert ridden.ok("import", files / "ride.csv", "--again")["session"] == 2


def test_a_ring_deeper_than_the_nose(ridden):
    """A ring below the seat is no ring: refused, and no reading is written."""
    ridden.ok("plug", "fit", "A1", "--cylinder", "1", "--session", "1", "--state", "new")

    assert "14" in ridden.refused("plug", "read", "A1", "--session", "1", "--ring-mm", "15", "--view", "cut")
    assert ridden.ok("plug", "tray")["tray"][0]["readings"] == 0


def test_a_plug_fitted_twice(ridden):
    """A plug that is in one cylinder cannot go into another, nor a second plug into its hole."""
    ridden.ok("plug", "fit", "A1", "--cylinder", "1", "--session", "1", "--state", "new")
    before = listing(ridden)

    assert "cylinder 1" in ridden.refused(
        "plug", "fit", "A1", "--cylinder", "2", "--session", "1", "--state", "new"
    )
    assert "A1" in ridden.refused("plug", "fit", "B1", "--cylinder", "1", "--session", "1", "--state", "new")
    assert listing(ridden) == before


def test_a_cylinder_that_the_bike_lacks(ridden):
    """Cylinder three of a twin is refused."""
    assert "3" in ridden.refused("plug", "fit", "A1", "--cylinder", "3", "--session", "1", "--state", "new")


def test_a_reading_needs_one_word_on_the_ring(ridden):
    """A depth and a word at once, or neither, is refused."""
    ridden.ok("plug", "fit", "A1", "--cylinder", "1", "--session", "1", "--state", "new")

    ridden.refused("plug", "read", "A1", "--session", "1", "--ring-mm", "6", "--ring", "none")
    ridden.refused("plug", "read", "A1", "--session", "1")


def test_a_port_that_is_not_there(garage):
    """A port that is not there is refused before a session is made."""
    assert "/dev/ttyNOWHERE" in garage.refused("record", "--port", "/dev/ttyNOWHERE", "--seconds", "1")
    assert garage.ok("sessions")["sessions"] == []


def test_an_unknown_key_in_a_bike_names_the_nearest(sootline, files):
    """A misspelt key is refused by name with the nearest known one."""
    path = files / "odd.toml"
    path.write_text(
        'name = "X"\nstrokes = 4\ncylinders = 1\ndisplacement_cc = 100\npipe_boar_mm = 30\n', encoding="utf-8"
    )

    sentence = sootline.refused("bike", "add", path)

    assert "pipe_boar_mm" in sentence
    assert "pipe_bore_mm" in sentence


@pytest.mark.parametrize(
    ("words", "hint"),
    [
        (["--throttle", "0,50,25"], "rise"),
        (["--throttle", "0,250"], "100"),
        (["--rpm-step", "0"], "zero"),
        (["--from", "20", "--to", "10"], "later"),
        (["--laps", "5-2"], "laps"),
        (["--laps", "2"], "laps"),
    ],
)
def test_bands_that_make_no_sense(ridden, words, hint):
    """Edges that do not rise, an empty part or laps without marks are refused with the reason."""
    assert hint in ridden.refused("bands", "1", *words)


@pytest.mark.parametrize("host", ["203.0.113.9", "banana", "", "127.0.0.1:80"])
def test_a_host_that_is_not_this_machines_is_refused(sootline, host):
    """Only an address of this machine can be served; else nothing is made, no PIN and no logbook."""
    assert "address of this machine" in sootline.refused(
        "serve", "--host", host, "--port", "0", "--no-browser"
    )
    assert not sootline.folder.exists()


def test_a_time_that_is_none(ridden, files):
    """A start that is no time is refused with how to write one."""
    assert "ISO 8601" in ridden.refused("import", files / "ride.csv", "--again", "--started", "yesterday")


def test_a_mark_at_minus_zero_is_at_zero(ridden):
    """Minus zero is zero, in the answer and in the logbook."""
    assert str(ridden.ok("mark", "1", "--at", "-0.0", "--what", "chop")["at_s"]) == "0.0"
    assert "not in session 1" in ridden.refused("mark", "1", "--at", "1e299", "--what", "chop")


def test_throttle_edges_below_zero(ridden):
    """Edges below zero are refused as edges."""
    assert "throttle edges -5,200" in ridden.refused("bands", "1", "--throttle", "-5,200")


def test_a_fuel_that_is_not_there(ridden, files):
    """A set-up with an unknown fuel is refused when it is set, and what held before holds."""
    ridden.ok("setup", "set", "1", files / "setup.toml")
    (files / "odd.toml").write_text('fuel = "avgaz"\n', encoding="utf-8")

    assert "'avgaz'" in ridden.refused("setup", "set", "1", files / "odd.toml")
    assert ridden.ok("setup", "show", "1")["fuel"] == "e5"


def test_a_session_gets_the_bike_that_rode_it(ridden, files):
    """A session without a bike gets one by name, and then compares like any other; one that has one keeps it."""
    assert ridden.ok("import", files / "ride.csv", "--again")["session"] == 2

    assert ridden.ok("bike", "rode", "Chalk Pit 400", "--session", "2") == ridden.ok("bike", "list")
    assert [s["bike"] for s in ridden.ok("sessions")["sessions"]] == ["Chalk Pit 400"] * 2
    assert [c["cylinder"] for c in ridden.ok("compare", "2")["cylinders"]] == [1, 2]
    assert "has its bike" in ridden.refused("bike", "rode", "Chalk Pit 400", "--session", "2")
