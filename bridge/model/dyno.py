"""What a bike's file says of the dynamometer and the road, and what counts as a pull.

Settings are common practice where no reason is given.
"""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from bridge.model.base import FileModel
from bridge.physics.dyno import STEEL_KG_M3, drum_mass_kg, hollow_drum_kg_m2

Millimetres = Annotated[float, Field(gt=0, lt=10_000)]
Inertia = Annotated[float, Field(gt=0, lt=100_000)]
Seconds = Annotated[float, Field(gt=0, le=60)]
Celsius = Annotated[float, Field(ge=-60, le=1_300)]


class Roller(FileModel):
    """A dynamometer's roller: its inertia, or the dimensions that give it; what turns with it."""

    inertia_kg_m2: Inertia | None = None
    """Moment of inertia about its axle [kg m2]."""
    diameter_mm: Millimetres | None = None
    """Outer diameter [mm]; it also turns road speed into roller speed."""
    inner_diameter_mm: Millimetres | None = None
    """Of a hollow drum [mm]; left out, it is solid."""
    length_mm: Millimetres | None = None
    """Of the drum [mm] ..."""
    density_kg_m3: Annotated[float, Field(ge=500, le=25_000)] = STEEL_KG_M3
    """... and its material's density [kg/m3]; both stand in where the mass is not given."""
    mass_kg: Annotated[float, Field(gt=0, lt=100_000)] | None = None
    """Of the drum [kg]."""
    wheel_inertia_kg_m2: Inertia | None = None
    """The wheel's own, tyre and sprocket on it [kg m2]; it needs both diameters."""
    wheel_diameter_mm: Millimetres | None = None
    """Of the tyre as it rolls [mm]."""
    engine_inertia_kg_m2: Inertia | None = None
    """Crankshaft, flywheel and clutch about the crankshaft [kg m2]."""
    driveline_percent: Annotated[float, Field(ge=0, le=100)] = 0.0
    """What else turns (shafts, chain), as a share of the roller's inertia [%]."""

    @model_validator(mode="after")
    def _can_be_built(self) -> Self:
        inner, outer = self.inner_diameter_mm, self.diameter_mm
        if inner is not None and (outer is None or inner >= outer):
            raise ValueError("inner_diameter_mm must be below diameter_mm, which must be given too")
        if self.wheel_inertia_kg_m2 is not None and (outer is None or self.wheel_diameter_mm is None):
            raise ValueError("wheel_inertia_kg_m2 needs diameter_mm and wheel_diameter_mm beside it")
        return self

    @property
    def own_kg_m2(self) -> float | None:
        """The drum's inertia [kg m2], as stated or by its dimensions; None where neither is told."""
        if self.inertia_kg_m2 is not None:
            return self.inertia_kg_m2
        if self.diameter_mm is None or (self.mass_kg is None and self.length_mm is None):
            return None
        outer, inner = self.diameter_mm / 2e3, (self.inner_diameter_mm or 0.0) / 2e3
        mass = self.mass_kg
        if mass is None:
            mass = drum_mass_kg(outer, inner, (self.length_mm or 0.0) / 1e3, self.density_kg_m3)
        return hollow_drum_kg_m2(mass, outer, inner)


class Brake(FileModel):
    """A brake: its torque is the channel ``torque``, or a load cell's force times an arm."""

    load_cell: Annotated[str, Field(min_length=1)] | None = None
    """The recorded channel that has the load cell's force [N]; ``torque`` goes before it."""
    arm_mm: Millimetres | None = None
    """From the brake's axis to the load cell [mm]."""
    on: Literal["roller", "engine"] = "roller"
    """The shaft that it brakes."""

    @model_validator(mode="after")
    def _both_or_none(self) -> Self:
        if (self.load_cell is None) != (self.arm_mm is None):
            raise ValueError("load_cell and arm_mm belong together: a force needs its arm to be a torque")
        return self


class Road(FileModel):
    """What a bike and its rider need on the road."""

    mass_kg: Annotated[float, Field(gt=10, lt=2_000)] | None = None
    """Of bike and rider, as they ran [kg]."""
    rotating_kg: Annotated[float, Field(ge=0, lt=500)] = 0.0
    """What the turning parts add, as mass at the tyre [kg]."""
    drag_area_m2: Annotated[float, Field(gt=0, lt=5)] | None = None
    """Drag coefficient times frontal area [m2]; a coast-down finds it."""
    rolling_resistance: Annotated[float, Field(ge=0, lt=0.5)] | None = None
    """Over weight [1]; a coast-down finds it."""
    gear_ratios: list[Annotated[float, Field(gt=0.5, lt=100)]] = Field(default_factory=list, max_length=10)
    """The engine's turns for each turn of the wheel, first gear first; without them gears are told by the ride [1]."""
    wheel_diameter_mm: Millimetres | None = None
    """Of the driven wheel as it rolls [mm]; it goes with the ratios."""


class PullSettings(FileModel):
    """What counts as a pull and how it is looked at; every key may be left out."""

    full_s: Seconds = 1.0
    """Full throttle lasts at least so long [s]."""
    least_rpm: Annotated[float, Field(ge=200, le=20_000)] = 2000.0
    """The revs rise through at least this [1/min]."""
    ratio_share: Annotated[float, Field(gt=0, le=0.2)] = 0.02
    """Revs over speed stay within this share of the gear's own [1]."""
    hold_s: Seconds = 2.0
    """Speed kept at full throttle for so long is a steady point [s]."""
    window_s: Annotated[float, Field(ge=0.05, le=5)] = 1.0
    """Window of the one differentiation, the same for all runs [s]."""
    rpm_step: Annotated[float, Field(ge=10, le=2_000)] = 100.0
    """Step of the curves [1/min]."""
    start_low_c: Celsius | None = None
    """A pull that starts colder than this is named, and not compared [Cel] ..."""
    start_high_c: Celsius | None = None
    """... or hotter than this [Cel]: of head or coolant."""
    rest_low_s: Annotated[float, Field(ge=0, le=86_400)] | None = None
    """A pull that starts sooner than this after the one before is named, and not compared [s] ..."""
    rest_high_s: Annotated[float, Field(ge=0, le=86_400)] | None = None
    """... or later than this [s]."""

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        for what in ("start", "rest"):
            unit = "c" if what == "start" else "s"
            low, high = (getattr(self, f"{what}_{end}_{unit}") for end in ("low", "high"))
            if low is not None and high is not None and low >= high:
                raise ValueError(f"{what}_low_{unit} ({low:g}) must be below {what}_high_{unit} ({high:g})")
        return self
