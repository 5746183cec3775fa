"""Fuels: what they are made of, the air that they take, how they are mixed, and the oil in them."""

from bridge.physics.fuel.blends import parse_blend
from bridge.physics.fuel.components import COMPONENTS, Component, fuel_names
from bridge.physics.fuel.elements import (
    AIR_CIPM,
    AIR_SIMPLE,
    SUM_TOLERANCE,
    Atoms,
    parse_formula,
    parse_mass_fractions,
    stoich_afr,
)
from bridge.physics.fuel.fuels import (
    STATED_AFR_SD,
    Fuel,
    fuel_by_name,
    fuel_of_formula,
    fuel_of_mass,
    stated_afr,
    with_density,
    with_stated_afr,
)
from bridge.physics.fuel.premix import OIL_DENSITY_KG_M3, RICHEST_RATIO, Premix, premix
from bridge.physics.fuel.ratios import (
    afr_from_lambda,
    convert_afr,
    lambda_from_afr,
    lambda_from_phi,
    phi_from_lambda,
    same_jet_factor,
)

__all__ = [
    "AIR_CIPM",
    "AIR_SIMPLE",
    "COMPONENTS",
    "OIL_DENSITY_KG_M3",
    "RICHEST_RATIO",
    "STATED_AFR_SD",
    "SUM_TOLERANCE",
    "Atoms",
    "Component",
    "Fuel",
    "Premix",
    "afr_from_lambda",
    "convert_afr",
    "fuel_by_name",
    "fuel_names",
    "fuel_of_formula",
    "fuel_of_mass",
    "lambda_from_afr",
    "lambda_from_phi",
    "parse_blend",
    "parse_formula",
    "parse_mass_fractions",
    "phi_from_lambda",
    "premix",
    "same_jet_factor",
    "stated_afr",
    "stoich_afr",
    "with_density",
    "with_stated_afr",
]
