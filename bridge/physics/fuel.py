"""Fuels: the stoichiometric air-fuel ratio by element balance, and blends by volume.

One air holds for everything that the tool says: dry air of CIPM-2007 (Picard et al. 2008, Metrologia 45:149;
its composition is from memory). Books that take air as O2 + 3.76 N2 give ratios 0.73 % lower for the same
fuel; lambda does not care, since the factor cancels. By mass; moist air takes (1 + humidity ratio) as much.
"""

from dataclasses import dataclass
from math import sqrt

from bridge.errors import BadValue, UnknownThing, nearest

AIR_CIPM = 28.96546 / 0.20939
"""Dry air of CIPM-2007 that brings one kmol of O2 [kg/kmol]: its molar mass over its share of O2."""
AIR_SIMPLE = 31.998 + 3.76 * 28.014
"""O2 + 3.76 N2 [kg/kmol O2], the air of most textbooks; for checks only."""

# IUPAC abridged standard atomic weights [kg/kmol]; published: IUPAC/CIAAW, abridged to five figures.
_C, _H, _O, _N = 12.011, 1.008, 15.999, 14.007

SUM_TOLERANCE = 0.005
"""How far the shares of a blend may miss 1: they are read off a jug."""


@dataclass(frozen=True)
class Fuel:
    """A fuel as the rest of the program needs it. None is not known."""

    name: str
    stoich_afr: float
    """Stoichiometric air-fuel ratio by mass, in dry air of CIPM-2007 [1]."""
    h_to_c: float | None
    """Atoms of hydrogen for each of carbon [1]."""
    o_to_c: float | None
    """Atoms of oxygen for each of carbon [1]."""
    density_kg_m3: float | None
    """At 15 Cel [kg/m3]."""
    afr_sd: float = 0.0
    """Standard uncertainty of ``stoich_afr`` from not knowing what exactly is in the tank [1]."""


@dataclass(frozen=True)
class Component:
    """What blends are made of: C_c H_h O_o N_n, its density, and how well its AFR is known."""

    c: float
    h: float
    o: float = 0.0
    n: float = 0.0
    density_kg_m3: float = 745.0
    """At 15 Cel [kg/m3]."""
    afr_sd: float = 0.0

    @property
    def molar_mass(self) -> float:
        """Mass of one formula unit [kg/kmol]."""
        return self.c * _C + self.h * _H + self.o * _O + self.n * _N


# Densities at 15 Cel: toluene, n-heptane, ethanol and methanol agree with CoolProp 8 to 1 kg/m3; the rest is
# from memory. Petrol: EN 228 allows 720 to 775 kg/m3 (from memory); CH1.87 is common practice, and pump
# petrols lie between about CH1.80 and CH1.95 (from memory): standard uncertainty 0.04 in H/C, 0.06 in AFR.
COMPONENTS = {
    "petrol": Component(1, 1.87, density_kg_m3=745.0, afr_sd=0.06),
    "alkylate": Component(1, 2.05, density_kg_m3=700.0, afr_sd=0.06),
    "ethanol": Component(2, 6, 1, density_kg_m3=794.0),
    "methanol": Component(1, 4, 1, density_kg_m3=796.0),
    "isooctane": Component(8, 18, density_kg_m3=696.0),
    "n-heptane": Component(7, 16, density_kg_m3=688.0),
    "toluene": Component(7, 8, density_kg_m3=872.0),
    "benzene": Component(6, 6, density_kg_m3=884.0),
    "mtbe": Component(5, 12, 1, density_kg_m3=745.0),
    "etbe": Component(6, 14, 1, density_kg_m3=745.0),
    "nitromethane": Component(1, 3, 2, 1, density_kg_m3=1143.0),
}

# Pump fuels: their nominal share of ethanol by volume, and its standard uncertainty. A pump's label is an
# upper bound: up to 5 % under it are common practice; E85 is seasonal, 51 to 83 % (ASTM D5798, from memory).
# Uniform over w has the standard uncertainty w / sqrt(12).
_PUMP = {
    "e5": (0.05, 0.05 / sqrt(12)),
    "e10": (0.10, 0.05 / sqrt(12)),
    "e20": (0.20, 0.05 / sqrt(12)),
    "e85": (0.85, 0.32 / sqrt(12)),
}

STATED_AFR_SD = 0.03
"""Standard uncertainty of a supplier's figure: it is rounded to one decimal (common practice)."""


def stoich_afr(c: float, h: float, o: float = 0.0, n: float = 0.0, *, air: float = AIR_CIPM) -> float:
    """Return the stoichiometric air-fuel ratio of C_c H_h O_o N_n burning to CO2, H2O and N2.

    Args:
        c: atoms of carbon [1].
        h: atoms of hydrogen [1].
        o: atoms of oxygen [1].
        n: atoms of nitrogen, which leave as N2 and take no oxygen [1].
        air: mass of air that brings one kmol of O2 [kg/kmol].

    Returns:
        Mass of dry air over mass of fuel [1].

    Raises:
        BadValue: such a thing needs no oxygen, or has no mass, so it is no fuel.
    """
    oxygen = c + h / 4 - o / 2
    mass = c * _C + h * _H + o * _O + n * _N
    if min(c, h, o, n) < 0 or mass <= 0 or oxygen <= 0:
        raise BadValue(f"C{c:g} H{h:g} O{o:g} N{n:g} takes no oxygen to burn; check the formula of the fuel")
    return oxygen * air / mass


def fuel_names() -> tuple[str, ...]:
    """Return every name that ``fuel_by_name`` knows, pump fuels first."""
    return ("petrol", *_PUMP, *(name for name in COMPONENTS if name != "petrol"))


def fuel_by_name(name: str) -> Fuel:
    """Return a fuel by its name.

    Args:
        name: one of ``fuel_names()``, in any case.

    Raises:
        UnknownThing: there is no such fuel; the message names the nearest one.
    """
    known = name.strip().lower()
    if known in _PUMP:
        share, sd = _PUMP[known]
        return _mix(known, {"ethanol": share, "petrol": 1.0 - share}, {"ethanol": sd})
    if known in COMPONENTS:
        return _mix(known, {known: 1.0})
    raise UnknownThing(f"unknown fuel '{name}'{nearest(known, fuel_names())}")


def parse_blend(text: str) -> Fuel:
    """Return the fuel of a blend by volume.

    Args:
        text: shares by volume such as ``"ethanol=0.10,petrol=0.90"``; they add up to 1 within 0.005 and are
            then scaled to it.

    Returns:
        The fuel, under the name of the text.

    Raises:
        BadValue: not of that form, a share below 0, a component twice, or shares that do not add up.
        UnknownThing: an unknown component; the message names the nearest one.
    """
    shares: dict[str, float] = {}
    for part in text.split(","):
        name, share = _share(part, text)
        if name in shares:
            raise BadValue(f"'{name}' stands twice in the blend '{text}'; give each component once")
        shares[name] = share
    total = sum(shares.values())
    if abs(total - 1.0) > SUM_TOLERANCE:
        raise BadValue(
            f"the shares of the blend '{text}' add up to {total:g}; by volume they must add up to 1"
        )
    return _mix(text.strip(), {name: share / total for name, share in shares.items() if share > 0})


def stated_afr(afr: float) -> Fuel:
    """Return a fuel of which only the supplier's stoichiometric AFR is known.

    Args:
        afr: as the supplier states it, by mass [1]; 1 to 40.

    Raises:
        BadValue: outside 1 to 40.
    """
    if not 1 < afr < 40:
        raise BadValue(f"a stoichiometric AFR of {afr:g} is outside 1 to 40; petrol has about 14.6")
    return Fuel(f"stated AFR {afr:g}", afr, None, None, None, STATED_AFR_SD)


def _share(part: str, text: str) -> tuple[str, float]:
    name, sign, number = part.partition("=")
    name = name.strip().lower()
    if name and name not in COMPONENTS:
        raise UnknownThing(f"unknown component '{name}' in the blend '{text}'{nearest(name, COMPONENTS)}")
    try:
        share = float(number)
    except ValueError:
        share = float("nan")
    if not (name and sign and 0 <= share <= 1 + SUM_TOLERANCE):
        raise BadValue(
            f"'{part.strip()}' in the blend '{text}' is not a component and its share by volume from 0 to 1;"
            " write it as ethanol=0.10,petrol=0.90",
        )
    return name, share


def _mix(name: str, shares: dict[str, float], share_sd: dict[str, float] | None = None) -> Fuel:
    """Mix components by volume: air per kg of fuel is additive by mass, so the weights are v * density.

    ``share_sd`` gives the standard uncertainty of a share; what it gains, the other component loses.
    """
    parts = {key: COMPONENTS[key] for key in shares}
    afr = {key: stoich_afr(part.c, part.h, part.o, part.n) for key, part in parts.items()}
    density = sum(shares[key] * part.density_kg_m3 for key, part in parts.items())
    mass = {key: shares[key] * part.density_kg_m3 / density for key, part in parts.items()}
    moles = {key: mass[key] / part.molar_mass for key, part in parts.items()}
    carbon = sum(moles[key] * part.c for key, part in parts.items())
    mean = sum(mass[key] * afr[key] for key in parts)
    variance = sum((mass[key] * part.afr_sd) ** 2 for key, part in parts.items())
    for key, sd in (share_sd or {}).items():
        others = (mean - mass[key] * afr[key]) / (1.0 - mass[key])
        per_volume = parts[key].density_kg_m3 / density * (afr[key] - others)
        variance += (per_volume * sd) ** 2
    return Fuel(
        name=name,
        stoich_afr=mean,
        h_to_c=sum(moles[key] * part.h for key, part in parts.items()) / carbon,
        o_to_c=sum(moles[key] * part.o for key, part in parts.items()) / carbon,
        density_kg_m3=density,
        afr_sd=sqrt(variance),
    )
