"""The command line as a test runs it: in this process, on a logbook of the test's own."""

import json
from dataclasses import dataclass
from pathlib import Path

import pytest

from bridge.cli import main


@dataclass(frozen=True)
class Answer:
    """What one command gave back."""

    code: int
    out: str
    err: str

    @property
    def json(self):
        """The one JSON document on standard output."""
        return json.loads(self.out)


class Sootline:
    """Runs commands on one logbook."""

    def __init__(self, folder: Path, capsys):
        self.folder = folder
        self._capsys = capsys

    def __call__(self, *words) -> Answer:
        """Run one command."""
        self._capsys.readouterr()
        try:
            code = main(["--logbook", str(self.folder), *map(str, words)])
        except SystemExit as stop:
            code = int(stop.code or 0)
        out, err = self._capsys.readouterr()
        return Answer(code, out, err)

    def ok(self, *words):
        """Run one command that must work and return its JSON."""
        answer = self(*words, "--json")
        assert answer.code == 0, answer.err
        return answer.json

    def refused(self, *words) -> str:
        """Run one command that must be refused: exit 2, one sentence, no traceback; return the sentence."""
        answer = self(*words)
        assert answer.code == 2, (answer.code, answer.out, answer.err)
        assert answer.out == ""
        assert answer.err.startswith("sootline: ")
        assert answer.err.count("\n") == 1
        assert "Traceback" not in answer.err
        return answer.err


@pytest.fixture
def sootline(tmp_path, capsys):
    """A command line on an empty logbook."""
    return Sootline(tmp_path / "logbook", capsys)


BIKE = """
name = "Chalk Pit 400"
strokes = 4
cylinders = 2
displacement_cc = 398
sensor = "each"
sensor_distance_mm = 900
pipe_bore_mm = 38
[plug]
type = "short reach"
nose_mm = 14.0
"""

SETUP = """
kind = "practice"
fuel = "e5"
timing_deg = 34.0
[weather]
air_temp_c = 18.0
air_pressure_hpa = 1002.0
humidity_percent = 64.0
[all]
main_jet = 160
pilot_jet = 40
[cylinder.2]
main_jet = 165
"""


@pytest.fixture
def files(tmp_path):
    """A bike and a set-up as a tuner writes them."""
    (tmp_path / "bike.toml").write_text(BIKE, encoding="utf-8")
    (tmp_path / "setup.toml").write_text(SETUP, encoding="utf-8")
    return tmp_path
