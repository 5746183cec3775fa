"""The to-do by the command line: written, ticked off, listed with what came of a promise."""

import pytest

NAME = "Chalk Pit 400"


def ride(sootline, files, day, level):
    """Import a session that ends at steady full throttle."""
    lines = ["t_s,throttle,rpm,lambda_1,lambda_2"]
    for i in range(600):
        t, throttle, rpm = (i / 10, 45.0, 5000.0) if i < 250 else (i / 10, 100.0, 8000.0)
        lines.append(f"{t:.1f},{throttle},{rpm},{level + 0.002 * (i % 3):.3f},{level:.3f}")
    path = files / f"ride{day}.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    sootline.ok(
        "import", path, "--bike", NAME, "--place", "Weir", "--started", f"2026-05-{day:02d}T09:20:00Z"
    )


@pytest.fixture
def twice(sootline, files):
    """A twin that was ridden twice, the second time richer by 0.05."""
    sootline.ok("bike", "add", files / "bike.toml")
    ride(sootline, files, 1, 0.91)
    ride(sootline, files, 2, 0.86)
    return sootline


def test_a_change_is_promised_and_answered(twice):
    """Added with its promise, listed with what came, then ticked off with what was found."""
    task = twice.ok(
        "todo", "add", 1, "main jet 155 to 158", "--cylinder", 1, "--promise", "-0.05", "--because", "lean"
    )["task"]
    waiting = twice.ok("todo", "list", "--bike", NAME)["promises"]
    done = twice.ok("todo", "done", task["id"], "--note", "done in the pit")["task"]
    listed = twice.ok("todo", "list", "--bike", NAME)

    assert (task["promise"], task["done"]) == (-0.05, None)
    assert "not ticked off" in waiting[0]["says"]
    assert done["note"] == "done in the pit"
    assert [one["id"] for one in listed["tasks"]] == [task["id"]]
    (came,) = listed["promises"]
    assert (came["after"], came["how"]) == (2, "as promised")
    assert came["low"] < -0.05 < came["high"]
    assert twice.ok("todo", "list", "--session", 2)["tasks"] == []


def test_what_is_wrong_is_said_in_a_sentence(twice):
    """A mixture in place of a change, and a task that is not there."""
    assert "give the change" in twice.refused("todo", "add", 1, "richer", "--promise", "0.86")
    assert "there is no task 9" in twice.refused("todo", "done", 9)
