"""What the values of a data line stand for, as the catalogue has it: one line's way to the sealed units."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, isfinite
from typing import Any, Literal

from bridge.channels import find, label
from bridge.errors import BadValue
from bridge.units import scale
from bridge.wire import ChannelLine

Value = float | None | Literal[False]
"""A value in the catalogue's unit; None for no reading in this line, False for one outside its limits."""


@dataclass(frozen=True)
class Column:
    """One channel of a block, and how its value becomes one in the catalogue's unit."""

    name: str
    index: int
    unit: str
    factor: float = 1.0
    offset: float = 0.0
    low: float = -inf
    high: float = inf
    decimals: int = 3
    role: str = "other"
    cylinder: int | None = None
    readings_per_second: float | None = None
    """Told by a channel that is slower than the lines [1/s]."""

    def read(self, values: Sequence[float | None]) -> Value:
        """Return this channel's value in a line, rounded to one digit more than is shown."""
        raw = values[self.index]
        if raw is None:
            return None
        value = raw * self.factor + self.offset
        return (
            round(value, self.decimals + 1) if isfinite(value) and self.low <= value <= self.high else False
        )

    def to_json(self) -> dict[str, Any]:
        """Return what the page needs of it."""
        return {
            "name": self.name,
            "label": label(self.name),
            "unit": self.unit,
            "decimals": self.decimals,
            "role": self.role,
            "cylinder": self.cylinder,
            "rate": self.readings_per_second,
        }


def columns_of(channels: Sequence[ChannelLine]) -> tuple[Column, ...]:
    """Return the columns of a block, as sealing will have them.

    A second channel of the same name, one named ``t_s`` and one whose unit does not fit are left out; the
    sealed session says so.
    """
    columns: dict[str, Column] = {}
    for line in channels:
        if line.name == "t_s" or line.name in columns:
            continue
        column = _column(line)
        if column is not None:
            columns[line.name] = column
    return tuple(columns.values())


def _column(line: ChannelLine) -> Column | None:
    found = find(line.name)
    if found is None:  # a channel that nobody knows is kept as it came
        return Column(line.name, line.index, line.unit, readings_per_second=line.readings_per_second)
    channel, cylinder = found
    try:
        factor, offset = scale(line.unit, channel.unit)
    except BadValue:
        return None
    return Column(
        line.name,
        line.index,
        channel.unit,
        factor,
        offset,
        channel.low,
        channel.high,
        channel.decimals,
        channel.role,
        cylinder,
        line.readings_per_second,
    )
