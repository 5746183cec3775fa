"""A fuel as a tuner states it, in the set-up or in a file of its own."""

from dataclasses import replace
from typing import Annotated, Self

from pydantic import Field, model_validator

from bridge.errors import BadValue
from bridge.model.base import FileModel, checked
from bridge.model.words import check_words
from bridge.physics.fuel import (
    Fuel,
    fuel_names,
    fuel_of_formula,
    fuel_of_mass,
    parse_blend,
    stated_afr,
    with_density,
    with_stated_afr,
)


def is_built_in(name: str) -> bool:
    """Return whether a name is one of those that every logbook knows."""
    return name.strip().lower() in fuel_names()


def _name(text: str) -> None:
    check_words("fuel's name", text)


def _own_name(text: str) -> None:
    _name(text)
    if is_built_in(text):
        raise BadValue(f"'{text}' is the name of a built-in fuel; give yours another name")


FuelName = Annotated[str, checked(_name)]
OwnName = Annotated[str, checked(_own_name)]


class StatedFuel(FileModel):
    """A fuel by exactly one of blend, formula or mass, or by its AFR alone; AFR and density override what is reckoned.

    ``{ blend = "ethanol=0.10,petrol=0.90", afr = 14.1 }`` is that blend with the supplier's own AFR.
    """

    name: OwnName | None = None
    blend: Annotated[str, checked(parse_blend)] | None = None
    """By volume."""
    formula: Annotated[str, checked(fuel_of_formula)] | None = None
    mass: Annotated[str, checked(fuel_of_mass)] | None = None
    """Mass fractions of C, H, O and N."""
    density_kg_m3: Annotated[float, Field(ge=400, le=2000)] | None = None
    """At 15 Cel [kg/m3]."""
    afr: Annotated[float, Field(gt=1, lt=40)] | None = None
    """The supplier's stoichiometric AFR by mass [1]."""

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        ways = [key for key in ("blend", "formula", "mass") if getattr(self, key) is not None]
        if len(ways) > 1:
            raise ValueError(
                f"'{ways[0]}' and '{ways[1]}' are two ways to say one fuel; leave one of them out"
            )
        if not ways and self.afr is None:
            raise ValueError("a fuel needs one of the keys blend, formula, mass or afr; add one")
        return self

    def fuel(self) -> Fuel:
        """Return it as the rest of the program needs it, under its own name where it has one.

        Raises:
            BadValue: never for what was read from a file, which was checked then.
        """
        composed = self.composed()
        if composed is None:
            assert self.afr is not None  # one of the four is there
            found = stated_afr(self.afr)
        else:
            found = composed if self.afr is None else with_stated_afr(composed, self.afr)
        if self.density_kg_m3 is not None:
            found = with_density(found, self.density_kg_m3)
        return found if self.name is None else replace(found, name=self.name)

    def composed(self) -> Fuel | None:
        """Return it as its composition has it, without the supplier's own figures; None where only AFR is known."""
        if self.blend is not None:
            return parse_blend(self.blend)
        if self.formula is not None:
            return fuel_of_formula(self.formula)
        return None if self.mass is None else fuel_of_mass(self.mass)


class OwnFuel(StatedFuel):
    """A fuel that a tuner adds under a name of its own."""

    name: OwnName
