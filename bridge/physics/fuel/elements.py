"""Carbon, hydrogen, oxygen and nitrogen: what a fuel is made of, and the air that burns it.

One air holds for everything that the tool says: dry air of CIPM-2007 (Picard et al. 2008, Metrologia 45:149;
its composition is from memory). Books that take air as O2 + 3.76 N2 give ratios 0.73 % lower for the same
fuel; lambda does not care, since the factor cancels. By mass; moist air takes (1 + humidity ratio) as much.
"""

import re
import unicodedata
from dataclasses import dataclass

from bridge.errors import BadValue

AIR_CIPM = 28.96546 / 0.20939
"""Dry air of CIPM-2007 that brings one kmol of O2 [kg/kmol]: its molar mass over its share of O2."""
AIR_SIMPLE = 31.998 + 3.76 * 28.014
"""O2 + 3.76 N2 [kg/kmol O2], the air of most textbooks; for checks only."""

WEIGHTS = {"C": 12.011, "H": 1.008, "O": 15.999, "N": 14.007}
"""Standard atomic weights [kg/kmol]; published: IUPAC/CIAAW, abridged to five figures."""

SUM_TOLERANCE = 0.005
"""How far shares may miss 1: those of a blend are read off a jug, those of a composition off a sheet."""
MOST_ATOMS = 1000.0


@dataclass(frozen=True)
class Atoms:
    """Atoms of one formula unit, C_c H_h O_o N_n [1]."""

    c: float
    h: float
    o: float = 0.0
    n: float = 0.0

    @property
    def mass(self) -> float:
        """Mass of one formula unit [kg/kmol]."""
        return sum(
            count * weight
            for count, weight in zip((self.c, self.h, self.o, self.n), WEIGHTS.values(), strict=True)
        )

    @property
    def oxygen_need(self) -> float:
        """O2 that it takes to burn to CO2, H2O and N2 [kmol/kmol]; 0 or less for what is no fuel."""
        return self.c + self.h / 4 - self.o / 2


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
    atoms = Atoms(c, h, o, n)
    if not (min(c, h, o, n) >= 0 and atoms.mass > 0 and atoms.oxygen_need > 0):
        raise BadValue(f"C{c:g} H{h:g} O{o:g} N{n:g} takes no oxygen to burn; check the formula of the fuel")
    return atoms.oxygen_need * air / atoms.mass


def parse_formula(text: str) -> Atoms:
    """Return the atoms of a formula.

    Args:
        text: such as ``C8H18``, ``CH3OH`` or ``CH1.87``; an element may stand more than once, and then counts
            together. Small figures under the line are read as figures.

    Raises:
        BadValue: another element, brackets, too many atoms, no carbon and no hydrogen, or nothing that burns.
    """
    plain = unicodedata.normalize("NFKC", text).replace(" ", "")
    parts = re.findall(r"([CHON])([0-9]*\.?[0-9]*)", plain)
    if not plain or "".join(symbol + count for symbol, count in parts) != plain or _lone_dot(parts):
        raise BadValue(
            f"'{text}' is no formula of carbon, hydrogen, oxygen and nitrogen; write it without brackets, as C8H18"
            " or CH3OH"
        )
    counts = dict.fromkeys(WEIGHTS, 0.0)
    for symbol, count in parts:
        counts[symbol] += float(count or 1)
    if max(counts.values()) > MOST_ATOMS:
        raise BadValue(
            f"'{text}' has more than {MOST_ATOMS:g} atoms of a kind; write it for one molecule, as C8H18"
        )
    return _burning(Atoms(*counts.values()), text)


def parse_mass_fractions(text: str) -> Atoms:
    """Return the atoms in one kilogram of a fuel given by the mass of its elements.

    Args:
        text: such as ``C=0.86,H=0.14``; C, H, O and N, which add up to 1 within 0.005 and are then scaled to it.

    Returns:
        Atoms of one kilogram [kmol].

    Raises:
        BadValue: not of that form, an element twice, a share below 0, shares that do not add up, no carbon and
            no hydrogen, or nothing that burns.
    """
    shares: dict[str, float] = {}
    for part in text.split(","):
        symbol, share = _share(part, text)
        if symbol in shares:
            raise BadValue(f"{symbol} stands twice in '{text}'; give each element once")
        shares[symbol] = share
    total = sum(shares.values())
    if abs(total - 1.0) > SUM_TOLERANCE:
        raise BadValue(f"the mass fractions '{text}' add up to {total:g}; they must add up to 1")
    return _burning(
        Atoms(*(shares.get(symbol, 0.0) / total / weight for symbol, weight in WEIGHTS.items())), text
    )


def _share(part: str, text: str) -> tuple[str, float]:
    symbol, _, number = part.partition("=")
    symbol = symbol.strip().upper()
    try:
        share = float(number)
    except ValueError:
        share = float("nan")
    if symbol not in WEIGHTS or not 0 <= share <= 1 + SUM_TOLERANCE:
        raise BadValue(
            f"'{part.strip()}' in '{text}' is not C, H, O or N and its share of the mass from 0 to 1; write it as"
            " C=0.86,H=0.14"
        )
    return symbol, share


def _lone_dot(parts: list[tuple[str, str]]) -> bool:
    return any(count == "." for _, count in parts)


def _burning(atoms: Atoms, text: str) -> Atoms:
    if atoms.c <= 0 and atoms.h <= 0:
        raise BadValue(
            f"'{text}' has no carbon and no hydrogen, so nothing in it burns; check the composition"
        )
    if atoms.oxygen_need <= 0:
        raise BadValue(f"'{text}' takes no oxygen to burn, so it is no fuel; check the composition")
    return atoms
