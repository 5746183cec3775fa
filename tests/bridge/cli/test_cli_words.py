"""The command line itself: help, words that are wrong, and how fast it answers."""

import subprocess
import sys

import pytest

from bridge.cli.parser import build

COMMANDS = [
    "demo", "serve", "pin", "ports", "emulate", "record", "recover", "import", "export", "sessions", "mark",
    "bike", "setup", "plug", "sensor", "gas", "fuel", "air", "bands", "compare",
    "agreement", "todo", "pulls",
]  # fmt: skip  # a list of words reads best in lines


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_has_help_that_says_what_it_does(sootline, command):
    """Every command answers --help with exit 0 and a sentence of its own."""
    answer = sootline(command, "--help")

    assert answer.code == 0
    assert f"sootline {command}" in answer.out


def test_the_list_of_commands_is_complete():
    """No command is there that the list above does not hold to its help."""
    words = build().format_help()
    there = [line.split()[0] for line in words.splitlines() if line.startswith("    ") and line[4] != " "]

    assert sorted(there) == sorted(COMMANDS)


def test_the_caution_stands_in_the_help(sootline):
    """The help carries the caution on lean engines."""
    assert "seize or hole a piston" in sootline("--help").out.replace("\n", " ").replace("  ", " ")


def test_help_fits_a_terminal_of_80_columns(sootline, monkeypatch):
    """No line of the help is longer than the terminal."""
    monkeypatch.setenv("COLUMNS", "80")

    for words in ([], *([command] for command in COMMANDS), ["plug", "read"]):
        assert all(len(line) <= 80 for line in sootline(*words, "--help").out.splitlines())


def test_help_imports_nothing_heavy():
    """`sootline --help` loads neither polars nor SQL nor the dashboard, so that it answers at once."""
    script = (
        "import sys\nfrom bridge.cli import main\n"
        "try:\n    main(['--help'])\nexcept SystemExit:\n    pass\n"
        "heavy = {'polars', 'numpy', 'sqlalchemy', 'pydantic', 'dash', 'plotly', 'serial', 'alembic'}\n"
        "print('LOADED', sorted(heavy & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)

    assert done.stdout.splitlines()[-1] == "LOADED []"


def test_a_misspelt_command_names_the_nearest(sootline):
    """A misspelt command is refused in one sentence that offers the nearest one."""
    assert "did you mean 'compare'?" in sootline.refused("compar", "1")


def test_no_command_is_refused_in_one_sentence(sootline):
    """Words without a command are refused with where to look."""
    assert "--help" in sootline.refused()


@pytest.mark.parametrize("word", ["one", "-1", "1.5", ""])
def test_a_session_is_a_number(sootline, word):
    """What is no session number is refused as such."""
    assert "session" in sootline.refused("compare", word).lower()


@pytest.mark.parametrize("word", ["nan", "inf", "x"])
def test_a_number_that_is_none_is_refused(sootline, word):
    """Nan and inf are no numbers on the command line."""
    assert "number" in sootline.refused("mark", "1", "--at", word, "--what", "chop")


@pytest.mark.parametrize("word", ["-5,200", "-5", "-.5,50", "-inf,50"])
def test_a_value_below_zero_is_taken_for_a_value(sootline, word):
    """What begins as a number below zero is no option, so that the sentence is about the number."""
    sentence = sootline.refused("bands", "1", "--throttle", word)

    assert "expected one argument" not in sentence
    assert word.split(",", maxsplit=1)[0] in sentence or "logbook" in sentence


@pytest.mark.parametrize("word", ["9" * 20, "1.5", "two", ""])
@pytest.mark.parametrize("option", ["--cylinder", "--heat-range"])
def test_a_count_is_a_whole_number_of_a_few_digits(sootline, option, word):
    """A cylinder or a heat range that no machine counts to is refused in one sentence."""
    words = {"--cylinder": "1", "--heat-range": "0"} | {option: word}
    told = [part for pair in words.items() for part in pair]

    assert "whole number" in sootline.refused("plug", "fit", "A", "--session", "1", "--state", "new", *told)


def test_a_misspelt_word_of_control_characters_moves_no_terminal(sootline):
    """A command that holds an escape character is refused without sending it to the terminal."""
    assert "\\x1b" in sootline.refused("compar\x1b[31m")
