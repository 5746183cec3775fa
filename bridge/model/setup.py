"""The set-up of a session, as its TOML file says it (docs: README, "setup.toml")."""

from typing import Annotated, Literal

from pydantic import Field

from bridge.model.base import FileModel, Gearing, NoteText
from bridge.model.fuel import FuelName, StatedFuel
from bridge.model.weather import Weather

HEAT_STEPS = 10
"""No plug is further from the usual one than this many steps of heat range; common practice, no source."""


class Needle(FileModel):
    """A jet needle and where it hangs."""

    straight_mm: Annotated[float, Field(gt=0, lt=10)]
    """Diameter of the straight part [mm]."""
    taper_start_mm: Annotated[float, Field(ge=0, lt=100)]
    """Lift at which the taper comes into the needle jet, at the clip position given [mm]."""
    taper_deg: Annotated[float, Field(ge=0, lt=20)]
    """Included angle of the taper [deg]."""
    clip: Annotated[int, Field(ge=1, le=20)] | None = None
    """Clip position, counted from the top; a higher number hangs the needle higher, which is richer."""
    clip_step_mm: Annotated[float, Field(gt=0, lt=5)] = 1.0


class CylinderSetup(FileModel):
    """Carburettor and plug of one cylinder."""

    main_jet: Annotated[float, Field(gt=0, lt=100_000)] | None = None
    """In the jet box's own numbering."""
    main_jet_bore_mm: Annotated[float, Field(gt=0, lt=10)] | None = None
    """Measured bore of the main jet; together with the needle and ``slide_travel_mm`` it gives the circuits' shares."""
    pilot_jet: Annotated[float, Field(gt=0, lt=100_000)] | None = None
    needle_jet_bore_mm: Annotated[float, Field(gt=0, lt=10)] | None = None
    needle: Needle | None = None
    slide_travel_mm: Annotated[float, Field(gt=0, lt=100)] | None = None
    """Lift of the slide at full opening [mm]."""
    cutaway: Annotated[float, Field(ge=0, lt=100)] | None = None
    air_screw_turns: Annotated[float, Field(ge=0, le=10)] | None = None
    float_level_mm: Annotated[float, Field(gt=-100, lt=100)] | None = None
    plug_heat_range: Annotated[int, Field(ge=-HEAT_STEPS, le=HEAT_STEPS)] | None = None
    """Steps from the bike's usual plug: + colder, - hotter."""


class Setup(FileModel):
    """Everything that was set for one session. A cylinder's own table goes before ``[all]``."""

    kind: Literal["practice", "road", "dyno"] | None = None
    fuel: FuelName | StatedFuel | None = None
    """A built-in name or one that the tuner added (the logbook puts its definition in its place), or a table."""
    oil_ratio: Annotated[float, Field(ge=0, le=200)] | None = None
    """Petrol to oil by volume, 32 for 32:1; 0 for none."""
    oil_density_kg_m3: Annotated[float, Field(ge=700, le=1200)] | None = None
    oil_burns: bool | None = None
    """Whether the oil of the premix is taken to burn; without it, not."""
    timing_deg: Annotated[float, Field(ge=-20, le=80)] | None = None
    """Ignition, before top dead centre [deg]."""
    gearing: Gearing | None = None
    slope_percent: Annotated[float, Field(ge=-30, le=30)] | None = None
    """Of the road that pulls were ridden on, uphill above 0 [%]; without it level."""
    note: NoteText | None = None
    weather: Weather = Weather()
    all: CylinderSetup = CylinderSetup()
    # TOML writes each key as text, also a number
    cylinder: dict[Annotated[int, Field(strict=False)], CylinderSetup] = Field(default_factory=dict)

    def of_cylinder(self, number: int) -> CylinderSetup:
        """Return what holds for one cylinder: its own keys, and ``[all]`` for the rest.

        Args:
            number: the cylinder, from 1.
        """
        own = self.cylinder.get(number, CylinderSetup())
        return CylinderSetup.model_validate(
            self.all.model_dump(exclude_none=True) | own.model_dump(exclude_none=True),
        )
