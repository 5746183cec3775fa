"""Plugs: where they were fitted, what was seen on them, and what the tuner says of the ring."""

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from bridge.model.session import Run

FittedState = Literal["new", "cleaned", "used"]
Ring = Literal["seen", "none", "all-dark", "not-seen"]
View = Literal["cut", "magnifier"]
Specks = Literal["none", "soot", "aluminium", "not-looked"]
Happened = Literal[
    "new",
    "fitted",
    "swapped",
    "mixed up",
    "read",
    "pulled",
    "order lost",
    "order found",
    "cleaned",
    "scrapped",
    "kept",
]
"""What can happen to a plug, in the order in which it does around one session; "kept" takes a scrapping back."""


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
class PlugEvent:
    """One thing that happened to a plug."""

    what: Happened
    session: int | None
    """Number of the session that it belongs to: from which on it was in, or after which the rest happened."""
    at: datetime
    """UTC: the start of that session, else when it was written down."""
    cylinder: int | None
    """Where it was, as far as anybody knows."""
    words: str
    """The event for a person, without the session."""


@dataclass(frozen=True)
class PlugStory:
    """The whole life of one plug: a plug is its label, through every engine that it was in."""

    label: str
    type: str | None
    """Plug type, that of the bike where nobody told one."""
    nose_mm: float | None
    """Nose length [mm], that of the bike where nobody told one."""
    events: tuple[PlugEvent, ...]
    """Oldest first, in order of the sessions."""
    state: str
    """new, in cylinder N, in the box, or scrapped."""
    hours_s: float | None = None
    """How long an engine ran on it, by the logs [s]; None where nobody worked it out or no log tells."""
    full_throttle_s: float | None = None
    """How much of that was full throttle [s]; None likewise."""
    readings: int = 0
    """How many there are that no later one corrects."""
    bike: str | None = None
    """The bike that it is in, or was in last."""
    sessions: tuple[int, ...] = ()
    """The sealed sessions that it lived through, in any engine, in order of their start."""


RING_SD_MM: dict[View, float] = {"cut": 0.4, "magnifier": 1.0}
"""Standard uncertainty of a ring depth where none is given, by its view; common practice, no source [mm]."""


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

    @property
    def depth_sd_mm(self) -> float:
        """Standard uncertainty of the ring's depth: as given, else that of the view [mm]."""
        return RING_SD_MM[self.view] if self.ring_sd_mm is None else self.ring_sd_mm


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
    ran_s: float | None = None
    """How long an engine ran on it since it was new [s]; None where nobody worked it out or no log tells."""

    @property
    def aluminium(self) -> bool:
        """Whether aluminium was seen on the plug, which goes before every verdict."""
        return self.reading is not None and self.reading.specks == "aluminium"
