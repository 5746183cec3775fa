"""Reading the TOML files that a tuner writes. Every complaint is one sentence: file, key, line, mend."""

import re
import tomllib
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from bridge.errors import BadFile, BadValue, nearest
from bridge.model.base import FileModel
from bridge.model.bike import Bike
from bridge.model.bike_channels import check_channel, with_table
from bridge.model.setup import Setup
from bridge.model.weather import check_written

Table = TypeVar("Table", bound=FileModel)


def read_bike(path: Path) -> Bike:
    """Read a bike.toml.

    A channel's table is read from its file, beside the bike's, and kept with the bike.

    Raises:
        BadFile: it or a table cannot be read, is no TOML, has an unknown key or a value out of its range.
    """
    path = Path(path)
    bike = read_toml(path, Bike)
    told = {name: with_table(path, name, how) for name, how in bike.channel.items()}
    if told == bike.channel:
        return bike
    try:
        for name, how in told.items():
            check_channel(name, how, bike.cylinders)
    except BadValue as error:
        raise BadFile(f"{path}: [channel.{name}]: {error}") from None
    return bike.model_copy(update={"channel": told})


def read_setup(path: Path) -> Setup:
    """Read a setup.toml.

    Raises:
        BadFile: it cannot be read, is no TOML, has an unknown key or a value out of its range.
    """
    setup = read_toml(Path(path), Setup)
    check_written(setup.weather, str(path))
    return setup


def read_toml(path: Path, model: type[Table]) -> Table:
    """Read a TOML file as one of our tables.

    Args:
        path: the file.
        model: what it should say.

    Raises:
        BadFile: it cannot be read, is no TOML, has an unknown key or a value out of its range.
    """
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise BadFile(
            f"{path} cannot be read ({error.strerror or error}); look at the name and the rights"
        ) from None
    except UnicodeDecodeError as error:
        raise BadFile(f"{path} is no text in UTF-8 (byte {error.start}); save it as UTF-8") from None
    try:
        document = tomllib.loads(text)
    except RecursionError:
        raise BadFile(
            f"{path} nests its lists or tables too deep to be read; three levels are enough"
        ) from None
    except ValueError as error:  # a number without end is no TOMLDecodeError
        raise BadFile(f"{path} is no TOML: {_lower(str(error))}") from None
    try:
        return model.model_validate(document)
    except ValidationError as error:
        raise BadFile(f"{path}{_sentence(text, model, document, error)}") from None


def _sentence(text: str, model: type[BaseModel], document: dict[str, Any], error: ValidationError) -> str:  # noqa: PLR0911  # one for each kind of complaint
    """Return what is wrong, from the complaint that says most."""
    complaints = [(_keys(found["loc"], document), found) for found in error.errors(include_url=False)]
    keys, worst = max(complaints, key=lambda c: (_weight(model, *c), len(c[0])))
    line = _line(text, keys)
    at = f", line {line}" if line else ""
    name, kind = ".".join(keys), worst["type"]
    if kind == "extra_forbidden":
        return f"{at}: unknown key '{name}'{nearest(keys[-1], _known(model, tuple(keys[:-1])))}"
    if kind == "too_long" or (kind == "missing" and isinstance(worst["loc"][-1], int)):
        return f"{at}: {name} must be a pair of numbers"
    if kind == "missing":
        return f"{at}: the key '{name}' is missing; add it"
    if kind == "value_error":
        return f"{at}: {name}{': ' if name else ''}{worst['ctx']['error']}"
    if worst["loc"][-1] == "[key]":
        return f"{at}: '{name}' must end in a whole number, as in [cylinder.1]"
    both = sorted({other[-1] for other, found in complaints if _is_other_way(model, other, found, keys)})
    if len(both) > 1:
        ways = " and ".join(f"'{name}.{key}'" for key in both)
        return f"{at}: {ways} are two ways to say one thing; leave one of them out"
    if _weight(model, keys, worst) == 0 and sum(other == keys for other, _ in complaints) > 1:
        return f"{at}: {name} = {_given(worst['input'])} is none of the ways to write this key"
    if kind in _BOUNDS:
        return (
            f"{at}: {name} = {_given(worst['input'])} is out of its range: it must be {_range(model, keys)}"
        )
    return f"{at}: {name} = {_given(worst['input'])} {_wish(worst)}"


def _is_other_way(model: type[BaseModel], keys: list[str], complaint: ErrorDetails, table: list[str]) -> bool:
    """Return whether a complaint is of a key of this table that another way of writing the table knows."""
    return (
        keys[:-1] == table and complaint["type"] == "extra_forbidden" and _weight(model, keys, complaint) < 0
    )


_BOUNDS = {"greater_than", "greater_than_equal", "less_than", "less_than_equal"}


def _weight(model: type[BaseModel], keys: list[str], complaint: ErrorDetails) -> int:
    """Return how much a complaint says. Where a key can be written in several ways, each way complains."""
    kind = complaint["type"]
    if kind == "extra_forbidden":
        # a key that another way of writing knows is no unknown key
        return -1 if keys[-1] in _known(model, tuple(keys[:-1])) else 3
    if kind in _BOUNDS or kind in {"literal_error", "value_error", "finite_number"}:
        return 2
    if kind.endswith("_type") and len(_owners(model, tuple(keys[:-1]))) > 1:
        return 2  # a value that was given says more than the keys of the ways that were not taken
    return 1 if kind == "missing" else 0


def _keys(location: tuple[int | str, ...], document: Any) -> list[str]:  # noqa: ANN401  # TOML holds anything
    """Return the keys of a complaint's place as they stand in the file, without pydantic's own names."""
    keys: list[str] = []
    here = document
    for index, part in enumerate(location):
        last = index == len(location) - 1
        if isinstance(here, dict) and (
            str(part) in here or (last and isinstance(part, str) and not _is_type(part))
        ):
            keys.append(str(part))
            here = here.get(str(part))
        elif isinstance(here, list) and isinstance(part, int) and part < len(here):
            keys.append(str(part))
            here = here[part]
    return keys


def _is_type(part: str) -> bool:
    """Return whether a part of a place is pydantic's name for one way to read a value."""
    return part in {"str", "int", "float", "bool", "[key]"} or part[:1].isupper() or "[" in part


def _line(text: str, keys: list[str]) -> int | None:
    """Return the line on which a key stands, as far as a plain look at the lines can tell."""
    table: list[str] = []
    best: tuple[int, int] | None = None
    for number, line in enumerate(text.splitlines(), start=1):
        header = re.match(r"\s*\[\[?\s*([^\]]+?)\s*\]", line)
        if header:
            table = [part.strip().strip("\"'") for part in header[1].split(".")]
            here = table
        else:
            key = re.match(r"\s*([\w.\"'-]+)\s*=", line)
            if not key:
                continue
            here = table + [part.strip("\"'") for part in key[1].split(".")]
        if here and here == keys[: len(here)] and (best is None or len(here) > best[0]):
            best = (len(here), number)
    return best[1] if best else None


def _known(model: type[BaseModel], path: tuple[str, ...]) -> list[str]:
    """Return the keys that may stand in a table."""
    return [
        field.alias or name for owner in _owners(model, path) for name, field in owner.model_fields.items()
    ]


def _owners(model: type[BaseModel], path: tuple[str, ...]) -> list[type[BaseModel]]:
    """Return the tables that a path may lead to; several where a key can be written in several ways."""
    if not path:
        return [model]
    field = next((f for name, f in model.model_fields.items() if path[0] in {name, f.alias}), None)
    if field is None:
        return []
    rest = path[1:]
    if rest and "dict" in str(field.annotation):  # [cylinder.N]: the number is no field
        rest = rest[1:]
    return [owner for inner in _models(field.annotation) for owner in _owners(inner, rest)]


def _models(annotation: Any) -> list[type[BaseModel]]:  # noqa: ANN401  # a type expression
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [found for part in getattr(annotation, "__args__", ()) for found in _models(part)]


def _given(value: Any) -> str:  # noqa: ANN401  # TOML holds anything
    text = (
        f'"{value}"'
        if isinstance(value, str)
        else str(value).lower()
        if isinstance(value, bool)
        else str(value)
    )
    return text if len(text) <= 60 else text[:57] + "..."


_KINDS = {
    "int": "a whole number",
    "float": "a number",
    "finite": "a finite number",
    "string": "text in quotes",
    "model": "a table",
    "dict": "a table",
    "list": "a list",
    "tuple": "a pair of numbers",
    "bool": "true or false",
}


def _wish(complaint: ErrorDetails) -> str:
    """Return what the value should have been."""
    kind = complaint["type"]
    if kind == "literal_error":
        return f"must be {complaint['ctx']['expected']}"
    word = _KINDS.get(kind.split("_")[0])
    if word and not kind.endswith(("_short", "_long")):
        return f"must be {word}"
    return _lower(complaint["msg"]).replace("string should", "should").replace("input should", "should")


_SIGNS = {"gt": "more than", "ge": "at least", "lt": "less than", "le": "at most"}


def _range(model: type[BaseModel], keys: list[str]) -> str:
    """Return the range of a value in words."""
    fields = [
        field
        for owner in _owners(model, tuple(keys[:-1]))
        for name, field in owner.model_fields.items()
        if keys[-1] in {name, field.alias}
    ]
    bounds = [
        f"{word} {getattr(mark, sign):g}"
        for field in fields
        for mark in (*field.metadata, *_marks(field.annotation))
        for sign, word in _SIGNS.items()
        if hasattr(mark, sign)
    ]
    return " and ".join(dict.fromkeys(bounds))


def _marks(annotation: Any) -> list[Any]:  # noqa: ANN401  # a type expression
    """Return the bounds that stand inside a type, as in ``Annotated[float, Field(gt=0)] | None``."""
    own = [mark for told in getattr(annotation, "__metadata__", ()) for mark in getattr(told, "metadata", ())]
    return own + [mark for part in getattr(annotation, "__args__", ()) for mark in _marks(part)]


def _lower(message: str) -> str:
    return message[:1].lower() + message[1:]
