"""How answers are printed: tables on 80 characters, and nothing that a terminal obeys."""

import argparse
import json

from hypothesis import given
from hypothesis import strategies as st

from bridge.cli.output import WIDTH, answer, table

HEAD = ("bike", "build", "plug", "nose mm")


def test_a_long_cell_leaves_the_others_alone():
    """One cell of 3000 characters is cut, and every other cell of its row and of the others stays whole."""
    lines = table(HEAD, [("x" * 3000, 1, "short reach", 14.0), ("Teasel 125", 12, None, 8.5)])

    assert all(len(line) <= WIDTH for line in lines)
    assert lines[1].split() == [lines[1].split()[0], "1", "short", "reach", "14.0"]
    assert lines[1].split()[0].endswith("x…")
    assert lines[2].split() == ["Teasel", "125", "12", "-", "8.5"]


def test_two_long_cells_share_what_room_there_is():
    """Two endless columns get the same width, and a short one beside them all of its own."""
    line = table(("a", "b", "c"), [("x" * 500, "y" * 500, "short")])[1]
    x, y, short = line.split()

    assert (len(line), short) == (WIDTH, "short")
    assert abs(len(x) - len(y)) <= 1


def test_what_fits_is_not_cut():
    """A table that has the room is as wide as it wants to be."""
    assert table(HEAD, [("Teasel 125", 1, "short", 14.0)]) == [
        "bike        build  plug   nose mm",
        "Teasel 125      1  short     14.0",
    ]


@given(st.lists(st.tuples(st.text(max_size=200), st.integers(0, 99), st.text(max_size=200)), max_size=4))
def test_every_table_fits_and_can_be_printed(rows):
    """Whatever the cells hold, a line is at most 80 characters, all of them to see, and has its number."""
    lines = table(("words", "count", "more"), rows)

    assert len(lines) == len(rows) + 1
    for line, row in zip(lines[1:], rows, strict=True):
        assert len(line) <= WIDTH
        assert "\n" not in line
        assert "\x1b" not in line
        assert str(row[1]) in line


def test_an_answer_moves_no_terminal(capsys):
    """A person's answer shows escapes; JSON says the same by its own, and reads back as it was."""
    text = "a\x1b[31m\u202e\x9b λ"

    answer(argparse.Namespace(json=False), {}, [text])
    assert capsys.readouterr().out == "a\\x1b[31m\\u202e\\x9b λ\n"
    answer(argparse.Namespace(json=True), {"x": text}, [])
    out = capsys.readouterr().out
    assert out.strip().isprintable()
    assert "λ" in out
    assert json.loads(out) == {"x": text}
