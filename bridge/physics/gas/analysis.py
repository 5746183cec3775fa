"""One exhaust-gas analysis by hand: lambda twice, its uncertainty, and what the gases themselves say."""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from bridge.budget import Budget, Component
from bridge.errors import BadValue
from bridge.physics.fuel import Fuel, fuel_by_name
from bridge.physics.gas.formulas import brettschneider, fuels_oxygen, hc_c1_percent, spindt_lambda
from bridge.physics.water_gas import FROZEN_K, INERT_TO_OXYGEN, oxygen_need


@dataclass(frozen=True)
class GasLambda:
    """What an exhaust-gas analysis says of the mixture.

    Attributes:
        brettschneider: lambda by Brettschneider with the fuel's own H/C and O/C, and with the water of the intake
            air where that is known [1].
        dry_air: the same by the published formula alone, as if the intake air were dry [1]; never lower.
        spindt: lambda by Spindt [1]; None where the fuel brings more than a twentieth of the oxygen itself, which
            he does not know of.
        budget: the doubts about the first, in lambda.
        notes: what is to be known beside the numbers, one sentence each.
    """

    brettschneider: float
    dry_air: float
    spindt: float | None
    budget: Budget
    notes: tuple[str, ...]

    @property
    def sd(self) -> float:
        """Standard uncertainty of ``brettschneider`` [1]."""
        return self.budget.sd


@dataclass(frozen=True)
class _State:
    """All that lambda hangs on; gases in percent."""

    co2: float
    co: float
    o2: float
    hc_ppm: float
    no: float
    h_to_c: float
    o_to_c: float
    k: float = FROZEN_K
    humidity_ratio: float = 0.0
    hc_factor: float = 1.0

    @property
    def hc_c1(self) -> float:
        return float(hc_c1_percent(self.hc_ppm, self.hc_factor))

    @property
    def lambda_(self) -> float:
        return float(
            brettschneider(
                self.co2,
                self.co,
                self.o2,
                self.hc_c1,
                self.no,
                self.h_to_c,
                self.o_to_c,
                k=self.k,
                humidity_ratio=self.humidity_ratio,
            )
        )


# What a workshop analyser may err, the larger of percent (ppm for HC) and share of the reading, uniform. Common
# practice; the figures are those of class I in OIML R 99 (from memory).
_MAY_ERR = {"co2": 0.5, "co": 0.06, "o2": 0.1, "hc_ppm": 12.0}
_MAY_ERR_SHARE = 0.05
_GAS = {"co2": "reading of CO2", "co": "reading of CO", "o2": "reading of O2", "hc_ppm": "reading of HC"}
NO_SHARE = 0.05
"""An NO reading's standard uncertainty, as a share of it; common practice, no source."""
NO_UNSEEN = 0.15
"""Standard uncertainty of nitrogen monoxide that the analyser does not show [%]; assumed: engines give 0 to 0.4."""
K_SD = 0.5
"""Standard uncertainty of the water-gas constant; assumed: K = 2.6 to 4.4 where the gas froze at 1500 to 2000 K."""
HC_FACTOR_SD = 0.6
"""Standard uncertainty of what an infrared analyser makes of unburnt fuel as hexane; assumed: factors 1 to 2."""
HUMIDITY_UNSEEN = 0.008
"""Standard uncertainty of the intake air's humidity ratio where nobody gave it [kg/kg]; assumed."""
_H_TO_C_SD = {True: 0.04, False: 0.3}
_O_TO_C_SD = {True: 0.01, False: 0.1}
# by whether the composition is known; assumed: pump petrols, and petrol to half ethanol

MOST_FUEL_OXYGEN = 0.05
"""Above this share of oxygen from the fuel Spindt is not said: at lambda 0.8 he would be 0.01 off."""
BOTH_PERCENT = 1.5
"""Oxygen and carbon monoxide both above this did not come from one even burning; common practice, no source."""
_SEEN_PERCENT = 0.5
_TOLD = 0.005
_LEANEST, _RICHEST = 1.6, 0.6


def gas_lambda(  # noqa: PLR0913, PLR0917  # the gases of one analysis
    co2_percent: float,
    co_percent: float,
    o2_percent: float,
    hc_ppm: float,
    no_ppm: float | None,
    fuel: Fuel,
    *,
    humidity_ratio: float | None = None,
    instrument_factor: float = 1.0,
) -> GasLambda:
    """Return what an analysis of dry exhaust gas says of the mixture.

    Args:
        co2_percent: carbon dioxide [%].
        co_percent: carbon monoxide [%].
        o2_percent: oxygen [%].
        hc_ppm: unburnt fuel as hexane [ppm].
        no_ppm: nitrogen monoxide [ppm]; None where the analyser does not show it: it then counts as none, with a
            doubt.
        fuel: of the session. Where its H/C is not known, petrol's composition stands in, with a note and a doubt.
        humidity_ratio: water in the intake air [kg/kg]; None for the dry formula, with a doubt.
        instrument_factor: what the analyser fails to see of the unburnt fuel, see ``hc_c1_percent`` [1].

    Returns:
        Lambda by Brettschneider and by Spindt, with the budget and the notes.

    Raises:
        BadValue: a gas below zero or no number, more than 100 % together, or neither CO2 nor CO.
    """
    _check(co2_percent, co_percent, o2_percent, hc_ppm, no_ppm)
    known = fuel.h_to_c is not None and fuel.o_to_c is not None
    petrol = fuel_by_name("petrol")
    burned = fuel if known else petrol
    assert burned.h_to_c is not None  # petrol's are known
    assert burned.o_to_c is not None
    state = _State(
        co2_percent,
        co_percent,
        o2_percent,
        hc_ppm,
        (no_ppm or 0.0) / 1e4,
        burned.h_to_c,
        burned.o_to_c,
        humidity_ratio=humidity_ratio or 0.0,
        hc_factor=instrument_factor,
    )
    notes = _notes(state)
    if not known:
        notes = (f"the composition of {fuel.name} is not known: petrol's H/C of 1.87 stands in", *notes)
    spindt = _spindt(state)
    if spindt is None:
        notes = (*notes, _no_spindt(state, burned))
    budget = _budget(state, no_seen=no_ppm is not None, humid=humidity_ratio is not None, known=known)
    return GasLambda(state.lambda_, replace(state, humidity_ratio=0.0).lambda_, spindt, budget, notes)


def _check(co2: float, co: float, o2: float, hc_ppm: float, no_ppm: float | None) -> None:
    gases = {"CO2": co2, "CO": co, "O2": o2, "HC": hc_ppm / 1e4, "NO": (no_ppm or 0.0) / 1e4}
    for name, percent in gases.items():
        if not (math.isfinite(percent) and percent >= 0.0):
            raise BadValue(
                f"{name} must be a number of 0 or more; set the analyser's zero and read it off again"
            )
    total = sum(gases.values())
    if total > 100.0:
        raise BadValue(
            f"the gases add up to {total:.4g} percent, over 100; CO2, CO and O2 are percent, HC and NO ppm"
        )
    if co2 + co <= 0.0:
        raise BadValue(
            "neither CO2 nor CO was found, so this is air and no exhaust; put the probe deep into the pipe and"
            " measure again"
        )


def _spindt(state: _State) -> float | None:
    if state.co2 <= 0.0 or fuels_oxygen(state.h_to_c, state.o_to_c) > MOST_FUEL_OXYGEN:
        return None
    return float(spindt_lambda(state.co2, state.co, state.o2, state.hc_c1, state.h_to_c))


def _no_spindt(state: _State, fuel: Fuel) -> str:
    if state.co2 <= 0.0:
        return "no lambda by Spindt: it needs some CO2"
    share = 100.0 * fuels_oxygen(state.h_to_c, state.o_to_c)
    return f"no lambda by Spindt: {fuel.name} brings {share:.0f} % of the oxygen itself, which he does not know of"


def _budget(state: _State, *, no_seen: bool, humid: bool, known: bool) -> Budget:
    """Move each thing by its own standard uncertainty and see what lambda does."""
    middle = state.lambda_

    def doubt(name: str, moved: _State, status: str) -> Component:
        return Component(name, abs(moved.lambda_ - middle), status)

    def gas(field: str) -> Component:
        value: float = getattr(state, field)
        sd = max(_MAY_ERR[field], _MAY_ERR_SHARE * value) / math.sqrt(3.0)
        return doubt(_GAS[field], replace(state, **{field: value + sd}), "common practice")

    no_sd = NO_SHARE * state.no if no_seen else NO_UNSEEN
    humidity = replace(state, humidity_ratio=state.humidity_ratio + (0.0 if humid else HUMIDITY_UNSEEN))
    hydrogen = replace(state, h_to_c=state.h_to_c + _H_TO_C_SD[known])
    oxygen = replace(state, o_to_c=state.o_to_c + _O_TO_C_SD[known])
    return Budget(
        (
            *(gas(field) for field in _GAS),
            doubt(
                "reading of NO" if no_seen else "NO not shown",
                replace(state, no=state.no + no_sd),
                "common practice" if no_seen else "assumed",
            ),
            doubt(
                "response to unburnt fuel",
                replace(state, hc_factor=state.hc_factor + HC_FACTOR_SD),
                "assumed",
            ),
            doubt("water-gas constant", replace(state, k=state.k + K_SD), "assumed"),
            doubt("humidity of the intake air", humidity, "assumed"),
            doubt("fuel's hydrogen", hydrogen, "assumed"),
            doubt("fuel's oxygen", oxygen, "assumed"),
        )
    )


def _notes(state: _State) -> tuple[str, ...]:
    return tuple(note for ask in _ASKED for note in [ask(state)] if note is not None)


def _mixed(state: _State) -> str | None:
    """Oxygen beside carbon monoxide: not one even burning. Diluting with air scales all gases but oxygen alike."""
    if min(state.o2, state.co) <= BOTH_PERCENT:
        return None
    without = replace(state, o2=0.0).lambda_
    return (
        f"{state.o2:g} % O2 beside {state.co:g} % CO does not come from one even burning: charge left unburnt (short"
        " circuit, misfire), air came into the pipe or to the probe, or cylinders differ; were all of it such air,"
        f" lambda would be {without:.3f}"
    )


def _unseen_fuel(state: _State) -> str | None:
    doubled = replace(state, hc_factor=2.0 * state.hc_factor).lambda_
    if state.lambda_ - doubled < _TOLD:
        return None
    return (
        "an infrared analyser set with hexane sees about half of petrol's unburnt fuel; were it so here, lambda"
        f" would be {doubled:.3f}"
    )


def _too_much_co2(state: _State) -> str | None:
    most = 100.0 / (1.0 + INERT_TO_OXYGEN * oxygen_need(state.h_to_c, state.o_to_c))
    if state.co2 <= most + _SEEN_PERCENT:
        return None
    return (
        f"{state.co2:g} % CO2 is more than this fuel gives at most ({most:.1f} %); see to the analyser's setting and"
        " to the fuel of the set-up"
    )


def _far_off(state: _State) -> str | None:
    if _RICHEST <= state.lambda_ <= _LEANEST:
        return None
    return (
        f"lambda {state.lambda_:.2f} is outside {_RICHEST:g} to {_LEANEST:g}, where engines run; look for air at the"
        " probe, and at the numbers"
    )


_ASKED: tuple[Callable[[_State], str | None], ...] = (_mixed, _unseen_fuel, _too_much_co2, _far_off)
