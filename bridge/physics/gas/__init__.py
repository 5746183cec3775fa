"""Exhaust-gas analysis: lambda from the gases, its uncertainty, and the gases from lambda."""

from bridge.physics.gas.analysis import GasLambda, gas_lambda
from bridge.physics.gas.formulas import (
    DryExhaust,
    brettschneider,
    dry_exhaust,
    fuels_oxygen,
    hc_c1_percent,
    ppm_hexane,
    spindt_afr,
    spindt_bias,
    spindt_lambda,
)

__all__ = [
    "DryExhaust",
    "GasLambda",
    "brettschneider",
    "dry_exhaust",
    "fuels_oxygen",
    "gas_lambda",
    "hc_c1_percent",
    "ppm_hexane",
    "spindt_afr",
    "spindt_bias",
    "spindt_lambda",
]
