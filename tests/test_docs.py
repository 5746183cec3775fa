"""The documents say what the program does, and what they show works."""

import re
from pathlib import Path

import pytest

from bridge.channels import CATALOGUE
from bridge.cli.parser import build
from bridge.imports import read_map
from bridge.model.files import read_bike, read_setup

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
TOML = re.findall(r"```toml\n(.*?)```", README, re.DOTALL)


def subcommands(parser):
    """Return the words that a parser takes, each with its own parser."""
    actions = [a for a in parser._actions if hasattr(a, "choices") and isinstance(a.choices, dict)]
    return actions[0].choices if actions else {}


def test_every_command_stands_in_the_readme():
    """Each command and each of its own words is in the README's table."""
    for name, parser in subcommands(build()).items():
        row = re.search(rf"^\| `sootline {name}` \|.*$", README, re.MULTILINE)
        assert row, name
        for word in subcommands(parser):
            assert f"`{word}`" in row[0], (name, word)


def test_every_option_that_the_readme_shows_exists():
    """No line of the README's examples uses an option that the program lacks."""
    parsers = subcommands(build())
    for line in re.findall(r"^    sootline (.*)$", README, re.MULTILINE):
        words = line.split()
        parser = parsers[words[0]]
        if subcommands(parser):
            parser = subcommands(parser)[words[1]]
        known = {option for action in parser._actions for option in action.option_strings}
        assert {w for w in words if w.startswith("--")} <= known, line


@pytest.mark.parametrize(("index", "reader"), [(0, read_bike), (1, read_setup), (3, read_map)])
def test_the_files_that_the_readme_shows_are_read(tmp_path, index, reader):
    """The bike, the set-up and the map in the README are taken as they stand."""
    path = tmp_path / "shown.toml"
    path.write_text(TOML[index], encoding="utf-8")

    assert reader(path) is not None


def test_the_tables_for_pulls_belong_into_the_bikes_file(tmp_path):
    """The roller and the road of the README are taken behind the bike that it shows."""
    path = tmp_path / "bike.toml"
    path.write_text(TOML[0] + TOML[2], encoding="utf-8")
    bike = read_bike(path)

    assert bike.roller is not None
    assert bike.road.gear_ratios


def test_every_picture_and_file_that_the_documents_name_is_there():
    """Links in both documents lead to files of this project."""
    for text in (README, DEVELOPERS):
        for target in re.findall(r"\]\(([^)#:]+)\)", text):
            assert (ROOT / target).is_file(), target


def test_every_room_stands_in_the_developers_table():
    """Each package of the bridge has its row in DEVELOPERS.md."""
    for folder in (ROOT / "bridge").iterdir():
        if (folder / "__init__.py").is_file():
            assert f"`bridge/{folder.name}/`" in DEVELOPERS, folder.name


def test_the_glossary_names_the_units_of_the_catalogue():
    """The documents say where the channels stand, and each channel has a unit, a label and limits that rise."""
    assert "bridge/channels/catalogue.py" in DEVELOPERS
    for channel in CATALOGUE.values():
        assert channel.low < channel.high, channel.name
        assert channel.label


def test_the_documents_have_no_gaps_left():
    """No placeholder is left in either document."""
    for text in (README, DEVELOPERS):
        assert not re.search(r"@[A-Z]+@|TODO|TBD", text)
