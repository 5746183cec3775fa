"""A bike, as its TOML file says it (docs: README, "bike.toml")."""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from bridge.errors import BadValue
from bridge.model.base import BikeName, FileModel, PlugType
from bridge.model.bike_channels import ChannelFrom, SensorCell, check_channel
from bridge.model.dyno import Brake, PullSettings, Road, Roller
from bridge.model.reading_limits import ReadingLimits
from bridge.model.steady import SteadySettings


class PlugSpec(FileModel):
    """The plug that this bike usually runs."""

    type: PlugType | None = None
    """The tuner's own name of the plug type; a ring scale holds for one type."""
    nose_mm: Annotated[float, Field(gt=2, lt=40)] | None = None
    """Length of the insulator nose, tip to seat [mm]."""


class Bike(FileModel):
    """A bike: its engine, its carburettors, where the oxygen sensor sits."""

    name: BikeName
    strokes: Literal[2, 4]
    cylinders: Annotated[int, Field(ge=1, le=12)]
    displacement_cc: Annotated[float, Field(gt=10, lt=10_000)]
    """Of all cylinders together [cm3]."""
    carburettors: Annotated[int, Field(ge=1, le=12)] | None = None
    carburettor: Literal["slide", "constant-depression"] = "slide"
    sensor: Literal["each", "collector"] = "each"
    """One oxygen sensor in each cylinder's pipe, or one where the pipes have met."""
    sensor_distance_mm: Annotated[float, Field(gt=0, lt=5_000)] | None = None
    """From the exhaust port to the sensor along the pipe [mm]."""
    pipe_bore_mm: Annotated[float, Field(gt=5, lt=200)] | None = None
    """Inner diameter of the pipe [mm]."""
    margin: Annotated[float, Field(gt=0, lt=0.5)] = 0.03
    """Differences within this much lambda count as agreement [1]."""
    plug: PlugSpec = PlugSpec()
    roller: Roller | None = None
    brake: Brake | None = None
    road: Road = Road()
    pulls: PullSettings = PullSettings()
    """What counts as a pull on this bike."""
    channel: dict[str, ChannelFrom] = Field(default_factory=dict)
    """Channels that are worked out from what the logger records, by name."""
    sensor_cell: SensorCell = SensorCell()
    steady: SteadySettings = SteadySettings()
    """What counts as steady running on this bike."""
    reading: ReadingLimits = ReadingLimits()
    """What a plug's reading needs to count on this bike."""

    @model_validator(mode="after")
    def _channels_fit(self) -> Self:
        for name, told in self.channel.items():
            try:
                check_channel(name, told, self.cylinders)
            except BadValue as error:
                raise ValueError(f"[channel.{name}]: {error}") from None
        return self
