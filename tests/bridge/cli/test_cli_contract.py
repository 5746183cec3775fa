"""The contract: the keys that scripts rely on, exit codes, and JSON that is alone on standard output."""

import math

import pytest

SESSION_KEYS = {"id", "started", "bike", "place", "kind", "seconds", "samples", "state"}
CELL_KEYS = {
    "cylinder", "throttle_from", "throttle_to", "rpm_from", "rpm_to", "seconds", "samples", "lambda_mean", "lambda_sd",
    "lambda_se", "lambda_p10", "lambda_p50", "lambda_p90", "afr_mean", "egt_mean_c",
}  # fmt: skip  # a list of words reads best in lines
CYLINDER_KEYS = {
    "cylinder", "plug", "reading_valid", "invalid_because", "ring_depth_mm", "scale", "ring_lambda", "measured_lambda",
    "absolute", "departure", "verdict", "causes",
}  # fmt: skip  # as above
VERDICTS = {"agree", "ring richer", "ring leaner", "cannot say"}


@pytest.fixture
def ridden(sootline, files):
    """A twin with one session: part throttle, then half a minute of full throttle and a clean cut."""
    lines = ["t_s,throttle,rpm,lambda_1,lambda_2,egt_1"]
    for i in range(1200):
        t = i / 10
        throttle, rpm = (45.0, 5000.0) if t < 80 else (100.0, 8000.0) if t < 115 else (0.0, 0.0)
        wave = 0.004 * math.sin(t * 1.7) + 0.003 * math.sin(t * 5.1)
        lambda_1, lambda_2 = (f"{0.88 + wave:.3f}", f"{0.86 - wave:.3f}") if t < 115 else ("", "")
        lines.append(f"{t:.1f},{throttle},{rpm},{lambda_1},{lambda_2},{600 + throttle:.0f}")
    (files / "ride.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    sootline.ok("bike", "add", files / "bike.toml")
    sootline.ok(
        "import",
        files / "ride.csv",
        "--bike",
        "Chalk Pit 400",
        "--started",
        "2026-05-14T09:20:00Z",
        "--place",
        "pit lane",
    )
    sootline.ok("setup", "set", "1", files / "setup.toml")
    return sootline


def test_bikes(sootline, files):
    """`bike add`, `bike list` and `bike rebuilt` answer with the bikes and their builds."""
    assert sootline.ok("bike", "add", files / "bike.toml")["bikes"][0]["build"] == 1
    rebuilt = sootline.ok("bike", "rebuilt", "Chalk Pit 400", "--what", "new head")["bikes"]
    listed = sootline.ok("bike", "list")["bikes"]

    assert rebuilt == listed
    assert {"name": "Chalk Pit 400", "build": 2}.items() <= listed[0].items()


def test_import(ridden, files):
    """`import` answers with the session, its length and samples, and the rows read and refused."""
    answer = ridden.ok("import", files / "ride.csv", "--again")

    assert {"session", "seconds", "samples", "marks", "rows_read", "rows_refused"} <= answer.keys()
    assert answer["session"] == 2
    assert answer["rows_read"] == answer["samples"] == 1200
    assert answer["rows_refused"] == 0


def test_a_start_without_a_zone_is_said_to_be_local(ridden, files):
    """A start given without a zone is this machine's time, and the answer says so."""
    notes = ridden.ok("import", files / "ride.csv", "--again", "--started", "2026-05-14T11:20")["notes"]

    assert any("zone" in note for note in notes)


def test_sessions(ridden):
    """`sessions` lists each session with the contract's keys and its start in UTC."""
    session = ridden.ok("sessions")["sessions"][0]

    assert session.keys() >= SESSION_KEYS
    assert session["started"].startswith("2026-05-14T09:20:00")
    assert session["started"].endswith("Z")
    assert (session["bike"], session["kind"], session["place"]) == ("Chalk Pit 400", "practice", "pit lane")
    assert ridden.ok("sessions", "--bike", "Chalk Pit 400")["sessions"]


def test_setup(ridden):
    """`setup show` answers with the file's own keys, and a later session takes over what its file leaves out."""
    shown = ridden.ok("setup", "show", "1")

    assert shown["cylinder"]["2"]["main_jet"] == 165
    assert shown["weather"]["air_pressure_hpa"] == 1002.0


def test_export(ridden, files):
    """`export` answers with its rows and its file, and what it wrote comes back value for value."""
    for name in ("out.csv", "out.parquet"):
        answer = ridden.ok("export", "1", "--to", files / name)

        assert answer == {"rows": 1200, "file": str(files / name)}
    again = ridden.ok("import", files / "out.csv", "--bike", "Chalk Pit 400")
    ridden.ok("export", str(again["session"]), "--to", files / "twice.csv")

    assert (files / "twice.csv").read_text() == (files / "out.csv").read_text()


def test_bands(ridden):
    """`bands` answers with the delay and cells that carry the contract's keys."""
    answer = ridden.ok("bands", "1")

    assert answer["session"] == 1
    assert answer["delay"].keys() >= {"seconds", "sd_s", "from"}
    assert answer["delay"]["from"] == "geometry"
    assert all(cell.keys() >= CELL_KEYS for cell in answer["cells"])
    full = [c for c in answer["cells"] if c["throttle_from"] == 75 and c["seconds"] > 20]
    assert {c["cylinder"] for c in full} == {1, 2}
    assert all(c["rpm_from"] <= 8000 < c["rpm_to"] for c in full)


def test_bands_with_edges_of_ones_own(ridden):
    """Edges and steps given on the command line are the ones used."""
    cells = ridden.ok("bands", "1", "--throttle", "0,40,100", "--rpm-step", "1000")["cells"]

    assert {(c["throttle_from"], c["throttle_to"]) for c in cells} <= {(0, 40), (40, 100)}
    assert all(c["rpm_to"] - c["rpm_from"] == 1000 for c in cells)


def test_a_part_of_a_session(ridden):
    """--from and --to, or laps by their marks, look at that part alone."""
    ridden.ok("mark", "1", "--at", "80", "--what", "lap")
    by_time = ridden.ok("bands", "1", "--to", "80")["cells"]
    by_lap = ridden.ok("bands", "1", "--laps", "1")["cells"]

    assert by_time == by_lap
    assert all(c["throttle_to"] <= 50 for c in by_time)


def test_the_way_to_a_verdict(ridden):
    """Fit, read, compare: each cylinder has a verdict by the contract's words and keys."""
    ridden.ok("plug", "scale", "Chalk Pit 400", "--stated-mm", "6", "--sd-mm", "0.3", "--lambda", "0.88")
    for n, depth in (("1", "6.0"), ("2", "11.5")):
        ridden.ok("plug", "fit", f"A{n}", "--cylinder", n, "--session", "1", "--state", "new")
        ridden.ok(
            "plug", "read", f"A{n}", "--session", "1", "--ring-mm", depth, "--view", "cut", "--specks", "none"
        )

    answer = ridden.ok("compare", "1")

    assert answer["fuel"] == "e5"
    # published: element balance in dry air of CIPM-2007 (Picard et al. 2008); petrol's composition from memory
    assert math.isclose(answer["stoich_afr"], 14.311, abs_tol=0.02)
    one, two = answer["cylinders"]
    for cylinder in (one, two):
        assert cylinder.keys() >= CYLINDER_KEYS
        assert cylinder["verdict"] in VERDICTS
        assert cylinder["reading_valid"] is True
        assert cylinder["departure"] is None
        assert cylinder["absolute"]["low"] < cylinder["absolute"]["difference"] < cylinder["absolute"]["high"]
    assert math.isclose(one["measured_lambda"]["mean"], 0.88, abs_tol=0.003)
    assert two["verdict"] in {"ring leaner", "cannot say"}
    assert two["absolute"]["difference"] > one["absolute"]["difference"]


def test_the_tray(ridden):
    """`plug tray` lists the plugs in cylinder order with the contract's keys; an order lost keeps the readings."""
    for n in ("2", "1"):
        ridden.ok("plug", "fit", f"A{n}", "--cylinder", n, "--session", "1", "--state", "new")
        ridden.ok("plug", "read", f"A{n}", "--session", "1", "--ring-mm", "6.2")
    ridden.ok("plug", "pull", "--all", "--session", "1", "--order-lost")

    tray = ridden.ok("plug", "tray", "--session", "1")["tray"]

    assert [row["cylinder"] for row in tray] == [1, 2]
    assert all(row.keys() >= {"plug", "cylinder", "fitted", "pulled", "state", "readings"} for row in tray)
    assert [row["readings"] for row in tray] == [1, 1]
    for cylinder in ridden.ok("compare", "1")["cylinders"]:
        assert cylinder["reading_valid"] is False
        assert "order" in cylinder["invalid_because"]
        assert cylinder["verdict"] == "cannot say"


def test_a_used_plug_never_gives_a_valid_reading(ridden):
    """A plug that went in used is read, kept, and judged not valid (common practice)."""
    ridden.ok("plug", "fit", "OLD", "--cylinder", "1", "--session", "1", "--state", "used")
    ridden.ok("plug", "read", "OLD", "--session", "1", "--ring-mm", "6.0", "--view", "cut")

    one = ridden.ok("compare", "1")["cylinders"][0]

    assert one["reading_valid"] is False
    assert "used" in one["invalid_because"]
    assert one["verdict"] == "cannot say"


def test_ports(sootline):
    """`ports` lists what this machine has, each with the contract's keys."""
    for port in sootline.ok("ports")["ports"]:
        assert port.keys() >= {"device", "description", "serial_number"}


def test_tables_fit_80_columns(ridden):
    """What a person reads fits a terminal of 80 columns."""
    for words in (["sessions"], ["bands", "1"], ["compare", "1"], ["plug", "tray"], ["bike", "list"]):
        answer = ridden(*words)

        assert answer.code == 0
        assert all(len(line) <= 80 for line in answer.out.splitlines()), answer.out


def test_cautions_stand_where_the_verdict_stands(ridden):
    """`compare` carries its cautions in both forms."""
    assert "piston" in " ".join(ridden("compare", "1").out.split())
    assert any("piston" in caution for caution in ridden.ok("compare", "1")["cautions"])


def test_aluminium_goes_before_every_verdict(ridden):
    """Aluminium on a plug is said first, in that cylinder's own statement."""
    ridden.ok("plug", "fit", "A1", "--cylinder", "1", "--session", "1", "--state", "new")
    ridden.ok(
        "plug", "read", "A1", "--session", "1", "--ring-mm", "6.0", "--view", "cut", "--specks", "aluminium"
    )

    one, two = ridden.ok("compare", "1")["cylinders"]

    assert one["statement"].startswith("Aluminium on plug A1: stop")
    assert "Aluminium" not in two["statement"]


def test_a_lean_full_throttle_is_said(sootline, files):
    """A measured lambda over 0.95 at full throttle comes with what else reads lean; a usual one does not."""
    rows = [f"{i / 10:.1f},100,8000,0.880,0.980" for i in range(600)]
    (files / "lean.csv").write_text(
        "t_s,throttle,rpm,lambda_1,lambda_2\n" + "\n".join(rows) + "\n", encoding="utf-8"
    )
    sootline.ok("bike", "add", files / "bike.toml")
    sootline.ok("import", files / "lean.csv", "--bike", "Chalk Pit 400")

    one, two = sootline.ok("compare", "1")["cylinders"]

    assert one["caution"] is None
    assert "leak" in two["caution"]
    assert "0.980" in two["caution"]


def test_a_setup_that_was_carried_over_says_so(ridden, files):
    """A session for which nothing was written shows its set-up as the one before's."""
    ridden.ok(
        "import",
        files / "ride.csv",
        "--again",
        "--bike",
        "Chalk Pit 400",
        "--started",
        "2026-05-15T09:20:00Z",
    )

    assert "carried over" not in ridden("setup", "show", "1").out
    assert "carried over" in " ".join(ridden("setup", "show", "2").out.split())


def test_the_logbook_may_be_named_behind_the_command(ridden):
    """--logbook stands before the command; behind it, it is understood all the same."""
    folder = ridden.folder
    ridden.folder = folder.parent / "nowhere"

    assert ridden("sessions", "--logbook", folder).code == 0
    assert ridden("sessions").code == 2
