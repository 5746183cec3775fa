"""How a bike's channels are got from what its logger records (docs: README, "bike.toml")."""

from pathlib import Path
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from bridge.channels import CATALOGUE, find
from bridge.channels.calibrate import TABLE_BEYOND, Calibration
from bridge.channels.catalogue import is_plain
from bridge.channels.points import Points, ordered
from bridge.errors import BadFile, BadValue, nearest
from bridge.model.base import FileModel
from bridge.model.sensor_table import read_points

LEANEST_RICH = 3.0
"""A lambda table without a value below this is none: it was written in AFR; common practice, no source [1]."""


class ChannelFrom(FileModel):
    """Where one channel comes from: ``[channel.NAME]``.

    A name without a number holds for each numbered source too: ``lambda`` from ``pump_current`` makes
    ``lambda_1`` of ``pump_current_1``.
    """

    from_: Annotated[str, Field(alias="from", min_length=1)]
    """The recorded channel, in the unit that the catalogue keeps it in; any unit for one that is not there."""
    # TOML has lists and no pairs
    points: list[Annotated[tuple[float, float], Field(strict=False)]] | None = None
    """Points (reading, value), such as volts and percent; straight lines between them."""
    table: str | None = None
    """A file of two columns, reading and value, such as the sensor's data sheet gives; beside the bike's own
    file. Its points are kept with the bike."""
    type: Literal["K"] | None = None
    """The recorded channel is the voltage of a thermocouple of this type [mV]."""
    cold_junction: Annotated[str, Field(min_length=1)] | None = None
    """The recorded channel with the temperature of the thermocouple's terminals; ``cold_junction`` if left out."""
    cold_junction_c: Annotated[float, Field(ge=-60, le=150)] | None = None
    """... or their temperature where nobody records it [Cel]."""
    instead: bool = False
    """Where the channel itself is recorded too: whether this one stands instead."""

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        if (self.points is None and self.table is None) == (self.type is None):
            raise ValueError(
                "say how the value comes from the reading, one way of three: points = [[0.52, 0.0], [4.31, 100.0]],"
                ' table = "sensor.csv" or type = "K"'
            )
        if self.type is None and (self.cold_junction is not None or self.cold_junction_c is not None):
            raise ValueError('a cold junction belongs to a thermocouple; say type = "K" too')
        if self.cold_junction is not None and self.cold_junction_c is not None:
            raise ValueError(
                "cold_junction and cold_junction_c are two ways to say one thing; leave one of them out"
            )
        if self.points is not None:
            try:
                ordered(self.points)
            except BadValue as error:
                raise ValueError(f"points: {error}") from None
        return self

    def calibration(self, name: str) -> Calibration:
        """Return how a channel of this name is worked out."""
        found = find(name)
        bounded = self.table is not None or (found is not None and found[0].name == "lambda")
        cold = (
            self.cold_junction_c
            if self.cold_junction_c is not None
            else self.cold_junction or "cold_junction"
        )
        return Calibration(
            source=self.from_,
            points=ordered(self.points) if self.points is not None else None,
            beyond=TABLE_BEYOND if bounded else float("inf"),
            thermocouple=self.type,
            cold_junction=cold if self.type is not None else None,
            instead=self.instead,
            table=self.table,
        )


class SensorCell(FileModel):
    """What the user knows of the oxygen sensors' cells: ``[sensor_cell]``."""

    pressure_share: Annotated[float, Field(ge=0, le=10)] | None = None
    """How far the gas diffuses into the cell as through fine pores, whose current follows the pressure: the ratio of
    its bulk diffusivity to that of the pores, 0 for none [1]. Without it the exhaust pressure corrects nothing."""
    accuracy: Annotated[float, Field(gt=0, le=0.2)] | None = None
    """The sensor's own standard uncertainty, where the user knows it [1 of lambda]."""
    drift_per_year: Annotated[float, Field(ge=0, le=0.2)] | None = None
    """How much that grows in a year without a check [1 of lambda]."""


def check_channel(name: str, told: ChannelFrom, cylinders: int) -> None:
    """Refuse a channel that cannot be got so.

    Args:
        name: of the channel, as in ``[channel.NAME]``.
        told: what stands there.
        cylinders: of the bike.

    Raises:
        BadValue: the name is not in the channel list, the bike has no such cylinder, the source does not fit, or
            no value of the points can be one of the channel.
    """
    found = find(name)
    if found is None:
        raise BadValue(f"there is no channel '{name}' in the channel list{nearest(name, CATALOGUE)}")
    channel, cylinder = found
    if cylinder is not None and cylinder > cylinders:
        raise BadValue(
            f"the bike has no cylinder {cylinder}; its cylinders are numbered from 1 to {cylinders}"
        )
    if not is_plain(told.from_) or told.from_ == "t_s":
        raise BadValue(f"'{told.from_}' is no recorded channel; name the one with the sensor's readings")
    if told.from_ == name and not told.instead:
        raise BadValue("it comes from itself; say instead = true if its recorded values are readings")
    source = find(told.from_)
    if told.type is not None and channel.unit != "Cel":
        raise BadValue(
            f'type = "{told.type}" gives a temperature, and {name} is none; leave it out, or see the name'
        )
    if told.type is not None and source is not None and source[0].unit != "mV":
        raise BadValue(
            f"a thermocouple's voltage is in mV, and {told.from_} is kept in {source[0].unit}; record it as egt_emf"
        )
    if told.points is None:
        return
    values = [value for _, value in told.points]
    if channel.name == "lambda" and min(values) > LEANEST_RICH:
        raise BadValue(
            f"its values, {min(values):g} to {max(values):g}, are no lambda; divide an air-fuel ratio by the"
            " stoichiometric one that it was written for"
        )
    if max(values) < channel.low or min(values) > channel.high:
        raise BadValue(
            f"its values, {min(values):g} to {max(values):g}, are all outside what {channel.name} can be,"
            f" {channel.low:g} to {channel.high:g} {channel.unit}; see the unit, and that reading stands before value"
        )


def with_table(path: Path, name: str, told: ChannelFrom) -> ChannelFrom:
    """Return a channel with the points of its table.

    Args:
        path: the bike's file; a table's name is taken from its folder.
        name: of the channel.
        told: what stands in the file.

    Raises:
        BadFile: points are there too, or the table cannot be read.
    """
    if told.table is None:
        return told
    if told.points is not None:
        raise BadFile(
            f"{path}: 'channel.{name}.points' and 'channel.{name}.table' are two ways to say one thing; leave one"
            " of them out"
        )
    points: Points = read_points(path.parent / told.table)
    return told.model_copy(update={"points": list(points)})
