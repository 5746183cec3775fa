"""Plugs: where they were fitted, what was seen on them, and what the tuner says of the ring."""

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from bridge.model.session import Run

FittedState = Literal["new", "cleaned", "used"]
Ring = Literal["seen", "none", "all-dark", "not-seen"]
View = Literal["cut", "magnifier"]
Specks = Literal["none", "soot", "aluminium", "not-looked"]


@dataclass(frozen=True)
class Fitting:
    """One stay of a plug in a cylinder."""

    id: int
    plug: str
    """The label in the tray."""
    cylinder: int
    state: FittedState
    """What it was when it went in."""
    fitted: int
    """Number of the session from which on it was in."""
    pulled: int | None
    """Number of the session after which it came out; None while it is in."""
    order_lost: bool = False
    """It came out, but nobody knows any more of which cylinder."""
    type: str | None = None
    """Plug type where told, else the bike's."""
    nose_mm: float | None = None
    """Nose length where told, else the bike's [mm]."""
    heat_range: int | None = None
    """Steps from the bike's usual where told, else the set-up's: + colder, - hotter."""


@dataclass(frozen=True)
class Reading:
    """What a person saw on one plug after one session. None and "not looked" both mean nobody looked."""

    id: int
    plug: str
    session: int
    written: datetime
    """UTC."""
    ring: Ring
    ring_mm: float | None = None
    """Distance of the ring's middle from the tip of the nose [mm]; only with ring = seen."""
    ring_sd_mm: float | None = None
    """Standard uncertainty of it [mm]."""
    view: View = "magnifier"
    nose_colour: str | None = None
    base_ring: str | None = None
    strap_mark: float | None = None
    """Where the heat mark on the ground strap ends, as a share from its tip (0) to the weld (1)."""
    specks: Specks = "not-looked"
    edge: Literal["sharp", "rounded"] | None = None
    glaze: bool | None = None
    blisters: bool | None = None
    wet: bool | None = None
    gap_mm: float | None = None
    piston_wash: str | None = None
    note: str | None = None
    corrects: int | None = None
    """Number of the reading that this one corrects; that one stays on record."""


@dataclass(frozen=True)
class ScaleStatement:
    """The tuner's own word: with these plugs, this depth is that lambda."""

    depth_mm: float
    sd_mm: float
    lambda_: float
    plug_type: str | None
    nose_mm: float | None
    build: int
    written: datetime


@dataclass(frozen=True)
class PlugLife:
    """One plug in one cylinder, and the running that it lived through up to the session looked at."""

    fitting: Fitting
    reading: Reading | None
    """The latest reading of this plug for that session, or None."""
    type: str | None
    """Plug type, the bike's where the fitting tells none."""
    nose_mm: float | None
    heat_range: int
    """Steps from the bike's usual: + colder, - hotter."""
    runs: tuple[Run, ...]
    """The sessions since it was fitted, oldest first; the last one is the session looked at."""

    @property
    def aluminium(self) -> bool:
        """Whether aluminium was seen on the plug, which goes before every verdict."""
        return self.reading is not None and self.reading.specks == "aluminium"
