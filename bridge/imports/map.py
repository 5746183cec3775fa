"""A map: what the columns of a delimited log mean."""

from pathlib import Path
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, field_validator, model_validator

from bridge.channels import CATALOGUE, find
from bridge.channels.catalogue import is_plain
from bridge.channels.points import ordered
from bridge.errors import BadFile, BadValue, nearest, printable
from bridge.model.base import FileModel
from bridge.model.files import read_toml
from bridge.units import scale, unit


class TimeColumn(FileModel):
    """A column that counts time."""

    column: str
    unit: str = "s"


class TimeStamps(FileModel):
    """A column of moments in ISO 8601."""

    column: str
    format: Literal["iso"]


class TimeSteps(FileModel):
    """Rows without a time, evenly apart."""

    step_s: Annotated[float, Field(gt=0, le=3600)]


class ColumnMap(FileModel):
    """Where one channel comes from, and how its readings become its values."""

    column: str
    unit: str | None = None
    """UCUM code of the values; the catalogue's where left out."""
    as_: Annotated[Literal["afr", "phi"] | None, Field(alias="as")] = None
    """What stands in a lambda channel's column: an air-fuel ratio, or a fuel-air equivalence ratio
    (1/lambda)."""
    stoich: Annotated[float, Field(gt=1, lt=40)] | None = None
    """The stoichiometric AFR that the column's AFR was written for."""
    # TOML has lists and no pairs
    volts: list[Annotated[tuple[float, float], Field(strict=False)]] | None = None
    """Points (reading, value) of a sensor; straight lines between them, and on beyond the outer two."""

    @model_validator(mode="after")
    def _whole(self) -> "ColumnMap":
        if (self.as_ == "afr") != (self.stoich is not None):
            raise ValueError(
                'as = "afr" and stoich go together: the AFR of a stoichiometric mixture, such as 14.7'
            )
        if self.as_ is not None and (self.unit not in (None, "1") or self.volts is not None):
            raise ValueError("a column that is read as afr or phi has neither unit nor volts")
        if self.volts is not None:
            try:
                ordered(self.volts)
            except BadValue as error:
                raise ValueError(f"volts: {error}") from None
        return self


_WAYS = tuple(tuple(way.model_fields) for way in (TimeColumn, TimeStamps, TimeSteps))


def _channel_name(name: str) -> str:
    if not name.strip() or not is_plain(name):
        raise ValueError(
            f"'{printable(name)}' is no name for a channel; give it characters to see, and no control character"
        )
    return name


class LogMap(FileModel):
    """What the columns of a log mean."""

    delimiter: Literal[",", ";", "\t"] | None = None
    decimal: Literal[".", ","] | None = None
    time: TimeColumn | TimeStamps | TimeSteps | None = None
    channels: dict[Annotated[str, AfterValidator(_channel_name)], ColumnMap] = Field(default_factory=dict)

    @field_validator("time", mode="before")
    @classmethod
    def _one_way(cls, given: object) -> object:
        if isinstance(given, dict) and not any(set(given) <= set(way) for way in _WAYS):
            known = {key for way in _WAYS for key in way}
            if set(given) <= known:  # an unknown key is told with the nearest one
                raise ValueError(
                    'write { column = "ms", unit = "ms" }, or { column = "stamp", format = "iso" }, or'
                    f" {{ step_s = 0.1 }}; {' and '.join(given)} do not go together"
                )
        return given


def read_map(path: Path) -> LogMap:
    """Read a map.

    Args:
        path: the TOML file.

    Raises:
        BadFile: it cannot be read, is no TOML, or has an unknown key or a value out of its range.
        BadValue: a unit is unknown or does not fit its channel.
    """
    found = read_toml(Path(path), LogMap)
    if isinstance(found.time, TimeColumn):
        _fits(path, "time", found.time.unit, "s")
    for name, column in found.channels.items():
        known = find(name)
        if name == "t_s":
            raise BadFile(
                f'{path}: t_s is the time, not a channel; say time = {{ column = "{column.column}" }}'
            )
        if column.as_ is not None and (known is None or known[0].name != "lambda"):
            raise BadFile(
                f'{path}: as = "{column.as_}" is for lambda channels, and {name} is none{_hint(name)}'
            )
        if column.unit is not None and known is not None:
            _fits(path, f"channel {name}", column.unit, known[0].unit)
    return found


def unknown_channels(log_map: LogMap) -> list[str]:
    """Return a note for each channel of a map that is not in the catalogue: it is kept as it came."""
    return [
        f"{name} is not in the channel list and was kept as it came{_hint(name)}"
        for name in log_map.channels
        if find(name) is None
    ]


def _hint(name: str) -> str:
    if find(name) is not None:
        return ""
    hint = nearest(name, [*CATALOGUE, "lambda_1", "lambda_2", "egt_1", "egt_2"])
    return hint if "did you mean" in hint else ""


def _fits(path: Path, what: str, code: str, wanted: str) -> None:
    try:
        unit(code)
        scale(code, wanted)
    except BadValue as error:
        raise BadValue(f"{path}: {what}: {error}") from None
