"""The set-up of a session, as its TOML file says it (docs: README, "setup.toml")."""

from typing import Annotated, Literal

from pydantic import Field

from bridge.model.base import FileModel, Gearing, NoteText, checked
from bridge.physics.fuel import fuel_by_name, parse_blend

HEAT_STEPS = 10
"""No plug is further from the usual one than this many steps of heat range; common practice, no source."""


class Blend(FileModel):
    """A fuel mixed by volume, written ``"ethanol=0.10,petrol=0.90"``."""

    blend: Annotated[str, checked(parse_blend)]


class StatedFuel(FileModel):
    """A fuel of which only the supplier's stoichiometric AFR is known."""

    afr: Annotated[float, Field(gt=1, lt=40)]


class Weather(FileModel):
    """The air of the day at the intake."""

    air_temp_c: Annotated[float, Field(ge=-40, le=60)] | None = None
    air_pressure_hpa: Annotated[float, Field(ge=500, le=1100)] | None = None
    """Station pressure, not reduced to sea level [hPa]."""
    humidity_percent: Annotated[float, Field(ge=0, le=100)] | None = None


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
    pilot_jet: Annotated[float, Field(gt=0, lt=100_000)] | None = None
    needle_jet_bore_mm: Annotated[float, Field(gt=0, lt=10)] | None = None
    needle: Needle | None = None
    cutaway: Annotated[float, Field(ge=0, lt=100)] | None = None
    air_screw_turns: Annotated[float, Field(ge=0, le=10)] | None = None
    float_level_mm: Annotated[float, Field(gt=-100, lt=100)] | None = None
    plug_heat_range: Annotated[int, Field(ge=-HEAT_STEPS, le=HEAT_STEPS)] | None = None
    """Steps from the bike's usual plug: + colder, - hotter."""


class Setup(FileModel):
    """Everything that was set for one session. A cylinder's own table goes before ``[all]``."""

    kind: Literal["practice", "road", "dyno"] | None = None
    fuel: Annotated[str, checked(fuel_by_name)] | Blend | StatedFuel | None = None
    oil_ratio: Annotated[float, Field(ge=0, le=200)] | None = None
    """Petrol to oil by volume, 32 for 32:1; 0 for none."""
    timing_deg: Annotated[float, Field(ge=-20, le=80)] | None = None
    """Ignition, before top dead centre [deg]."""
    gearing: Gearing | None = None
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
