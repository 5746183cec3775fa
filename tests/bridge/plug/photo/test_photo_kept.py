"""Photographs in the logbook: kept stripped, beside the tuner's own reading and never instead of it."""

import argparse
import io
import json

import numpy as np
import pytest
from PIL import Image

from bridge.cli.parser import Parser, group
from bridge.cli.photo import add_photo
from bridge.errors import BadValue, RequestError
from bridge.logbook import Logbook
from bridge.logbook.photos import open_picture
from bridge.model import Bike, PlugSpec
from tests.bridge.logbook.conftest import TWIN, Book
from tests.bridge.plug.photo.photo_scenes import Ring, Scene, render

RENDERED = render(Scene(width=400, height=300, angle=195.0, ring=Ring(6.0)))
SHORT = Bike(
    name="Gorse Hill 250", strokes=2, cylinders=1, displacement_cc=249, plug=PlugSpec(type="long reach")
)


@pytest.fixture
def folder(tmp_path):
    """Where the test's logbook is."""
    return tmp_path / "logbook"


@pytest.fixture
def book(folder):
    """A logbook with one ride and a plug in it."""
    with Logbook.open(folder, write=True) as logbook:
        logbook.add_bike(TWIN)
        own = Book(logbook, folder)
        logbook.fit("A1", cylinder=1, session=own.ride(), state="new")
        yield own


@pytest.fixture
def file(tmp_path):
    """A photograph with a phone's data in it."""
    exif = Image.Exif()
    exif[0x010F] = "a telephone"
    path = tmp_path / "nose.jpg"
    Image.fromarray(RENDERED.pixels).save(path, quality=92, exif=exif)
    return path


def run(folder, *words):
    """Run ``plug photo`` as the command line does, and return its exit code."""
    parser = Parser(prog="sootline")
    parser.add_argument("--logbook")
    commands = parser.add_subparsers(dest="command", parser_class=Parser)
    add_photo(group(commands, "plug", "plugs"))
    args = parser.parse_args(["--logbook", str(folder), "plug", "photo", *map(str, words)])
    assert isinstance(args, argparse.Namespace)
    return args.run(args)


def taps():
    """The words that tell the taps."""
    return [f"--{what}={x:.1f},{y:.1f}" for what, (x, y) in (("tip", RENDERED.tip), ("seat", RENDERED.seat))]


def test_a_photograph_is_kept_with_what_was_read(book):
    """File and row are there, the row names the file by its hash, and nothing was written into the readings."""
    out = io.BytesIO()
    Image.fromarray(RENDERED.pixels).save(out, "PNG")
    picture = open_picture(out.getvalue(), "nose.png")
    answer = {"ring": "seen", "ring_depth_mm": 6.0}
    kept = book.logbook.add_photo(
        "A1", 1, picture, view="cut", nose_mm=14.0, tip=(10.5, 20.0), seat=None, answer=answer
    )

    assert book.logbook.photos(1) == [kept]
    assert (kept.plug, kept.tip, kept.seat, kept.answer) == ("A1", (10.5, 20.0), None, answer)
    assert (book.folder / "photos" / kept.file).read_bytes() == picture.data
    assert kept.sha256 == picture.sha256
    assert book.logbook.readings(1) == []


def test_a_photograph_of_a_plug_that_was_not_in_is_refused(book):
    """A plug that was never fitted has no photograph, and no file is left of the attempt."""
    picture = open_picture(_packed(), "nose.png")

    with pytest.raises(BadValue, match="B7"):
        book.logbook.add_photo(
            "B7", 1, picture, view="cut", nose_mm=14.0, tip=None, seat=None, answer={"ring": "none"}
        )
    assert not (book.folder / "photos").exists()
    assert book.logbook.photos(1) == []


def _packed():
    out = io.BytesIO()
    Image.fromarray(RENDERED.pixels).save(out, "PNG")
    return out.getvalue()


@pytest.mark.usefixtures("book")
def test_the_command_answers_in_json_and_keeps_the_picture_stripped(file, folder, capsys):
    """The contract's keys are there, the depth is right, and the kept file has no word of the phone."""
    assert run(folder, file, "--label", "A1", "--session", 1, "--nose-mm", 14, *taps(), "--json") == 0
    said = json.loads(capsys.readouterr().out)

    assert said["ring"] == "seen"
    assert said["ring_depth_mm"] == pytest.approx(6.0, abs=0.3)
    assert 0.0 < said["ring_depth_sd_mm"] < 0.6
    assert said["confidence"] > 0.9
    assert b"telephone" in file.read_bytes()
    assert b"telephone" not in (folder / said["file"]).read_bytes()


@pytest.mark.usefixtures("book")
def test_the_command_says_limits_and_whose_value_goes_first(file, folder, capsys):
    """In words the answer has its uncertainty, the known limits, and that the tuner's own value goes first."""
    run(folder, file, "--label", "A1", "--session", 1, *taps())
    out = capsys.readouterr().out
    words = " ".join(out.split())

    assert "mm from the tip, standard uncertainty" in words
    assert "found by its lightness alone" in words
    assert "your own eyes always goes first" in words
    assert all(len(line) <= 80 for line in out.splitlines())


@pytest.mark.usefixtures("book")
def test_without_taps_the_tool_proposes_them(file, folder, capsys):
    """Left to itself the command finds the nose and says where it took tip and seat to be."""
    run(folder, file, "--label", "A1", "--session", 1, "--json")
    said = json.loads(capsys.readouterr().out)

    assert said["proposed"]
    assert np.hypot(*np.subtract(said["tip"], RENDERED.tip)) < 12
    assert said["ring_depth_mm"] == pytest.approx(6.0, abs=0.6)


def test_the_nose_length_is_asked_for_where_nobody_knows_it(book, file, folder):
    """A bike without a nose length needs --nose-mm, and nothing is kept before it is given."""
    book.logbook.add_bike(SHORT)
    book.logbook.fit("C1", cylinder=1, session=book.ride(day=2, bike=SHORT.name), state="new")

    with pytest.raises(BadValue, match="give --nose-mm"):
        run(folder, file, "--label", "C1", "--session", 2, *taps())
    assert book.logbook.photos(2) == []


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--tip=5,5", "--seat=9000,10"], "outside the picture"),
        (["--tip=50,50", "--seat=50,50"], "too near"),
        (["--tip=50,50"], "both --tip X,Y and --seat X,Y"),
        (["--nose-mm", "400"], "none of a spark plug's"),
        (["--label", "Z9"], "Z9"),
    ],
)
def test_a_request_that_cannot_be_keeps_nothing(book, file, folder, words, says):
    """Impossible taps, noses and plugs are refused by one sentence, and no picture is kept."""
    with pytest.raises(RequestError, match=says):
        run(folder, file, "--label", "A1", "--session", 1, *words)
    assert book.logbook.photos(1) == []


@pytest.mark.parametrize("text", ["12", "a,b", "1;2", "nan,3", "1,2,3"])
def test_a_place_that_is_none_is_refused_by_the_grammar(folder, file, text, capsys):
    """A tap that is not two numbers parted by a comma is refused with how to write it."""
    with pytest.raises(SystemExit, match="2"):
        run(folder, file, "--label", "A1", "--session", 1, f"--tip={text}", "--seat=3,4")
    assert "write it as X,Y" in capsys.readouterr().err
