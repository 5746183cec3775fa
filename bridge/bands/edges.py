"""Where bands begin and end: throttle by the carburettor's circuits, engine speed by steps."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import polars as pl
from numpy.typing import NDArray

from bridge.channels import CATALOGUE
from bridge.errors import BadValue
from bridge.physics.jets import HAND_OVER_PERCENT, circuit_at, governing, mean_shares

DEFAULT_RPM_STEP = 500.0
SMALLEST_RPM_STEP = 1.0
_FEW = 2_000  # with so many bands, blocks of three weeks and steps up to lambda 10 fit in 31 bits

FASTEST_RPM = CATALOGUE["rpm"].high
"""No reading of engine speed is higher [1/min]."""

FULL_PERCENT, NOT_FULL_PERCENT = 95.0, 90.0
"""Full throttle begins at the one and ends under the other [%]."""
SHARE_POINTS = 26
"""Openings within a band at which the circuits' shares are looked at."""
SHUT = ("idle", "overrun")
"""What has bands of its own with the throttle shut: a slow engine, and one that the wheel drives."""


def is_full(throttle: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Return whether the throttle is full: from 95 % on until it falls under 90 %.

    Args:
        throttle: opening [%], shape (n,); between 90 and 95 % the last of the two that was crossed counts.

    Returns:
        Flags, shape (n,); False where there is no reading.
    """
    crossed = np.where(throttle >= FULL_PERCENT, 1, np.where(throttle < NOT_FULL_PERCENT, 0, -1))
    last = np.maximum.accumulate(np.where(crossed >= 0, np.arange(len(crossed)), 0))
    full: NDArray[np.bool_] = (crossed[last] == 1) & ~np.isnan(throttle)
    return full


@dataclass(frozen=True)
class Banding:
    """How a run is divided. A band holds its lower edge, the last throttle band its upper too."""

    throttle_edges: tuple[float, ...] | None
    """Rising openings [%]; None divides by speed alone."""
    rpm_step: float
    """Width of the bands of speed, which begin at 0 [1/min]."""
    circuits: bool = True
    """Whether openings stand for circuits: not on a constant-depression carburettor."""
    shut_percent: float | None = None
    """The throttle is shut up to here [%], and shut it has bands of its own; None without such bands."""
    overrun_rpm: float = 0.0
    """Above this, with the throttle shut, it is an overrun, else idle [1/min]."""

    @property
    def leaves_out(self) -> bool:
        """Whether there are openings outside all bands."""
        edges = self.throttle_edges
        return edges is not None and (edges[0] > 0 or edges[-1] < 100)

    @property
    def places(self) -> int:
        """How many bands of speed there can be."""
        return int(FASTEST_RPM / self.rpm_step) + 1

    @property
    def number(self) -> int:
        """How many bands there can be."""
        return self.places * (self.rows + (0 if self.shut_percent is None else len(SHUT)))

    @property
    def rows(self) -> int:
        """How many bands of throttle there are, idle and overrun not counted."""
        return len(self.throttle_edges) - 1 if self.throttle_edges else 1

    @property
    def key_type(self) -> type[pl.DataType]:
        """The narrowest type for a band's number and what goes with it: half the width is a third faster."""
        return pl.Int32 if self.number <= _FEW else pl.Int64

    def _circuit(self, low: float, high: float) -> str | None:
        """Return the circuit that governs a band: by the hand-over where it spans one circuit, else by its share."""
        if not self.circuits:
            return None
        if (low, high) in pairwise(HAND_OVER_PERCENT):
            return circuit_at(low)
        return governing(mean_shares(np.linspace(low, high, SHARE_POINTS)))

    def inside(self) -> pl.Expr:
        """Return whether a row is in any band; a throttle under 0 or over 100 is at that end."""
        known = pl.col("rpm").is_between(0.0, FASTEST_RPM)
        if self.throttle_edges is None or not self.leaves_out:
            return known
        within = (
            pl.col("throttle").clip(0.0, 100.0).is_between(self.throttle_edges[0], self.throttle_edges[-1])
        )
        return known & (within if self.shut_percent is None else within | self._shut())

    def _shut(self) -> pl.Expr:
        return pl.col("throttle") <= self.shut_percent

    def key(self) -> pl.Expr:
        """Return the number of a row's band, below ``number``, from ``throttle`` [%] and ``rpm`` [1/min]."""
        speed = (pl.col("rpm").cast(pl.Float64) / self.rpm_step).cast(self.key_type)
        inner = self.throttle_edges[1:-1] if self.throttle_edges else ()
        above = ((pl.col("throttle") >= edge).cast(self.key_type) * self.places for edge in inner)
        if self.shut_percent is None:
            return sum(above, start=speed)
        driven = (pl.col("rpm") > self.overrun_rpm).cast(self.key_type) * self.places
        shut = speed + driven + self.rows * self.places
        return pl.when(self._shut()).then(shut).otherwise(sum(above, start=speed))

    def spelled_out(self) -> list[pl.Expr]:
        """Return the columns that say what the column ``band`` (a number by ``key``) means."""
        rpm = (pl.col("band") % self.places).cast(pl.Float64) * self.rpm_step
        speed = [rpm.alias("rpm_from"), (rpm + self.rpm_step).alias("rpm_to")]
        if self.throttle_edges is None:
            nothing = [pl.lit(None, pl.Float64).alias(name) for name in ("throttle_from", "throttle_to")]
            return [pl.lit(None, pl.String).alias("circuit"), *nothing, *speed]
        place = pl.col("band") // self.places
        spans = list(pairwise(self.throttle_edges))
        names: list[str | None] = [self._circuit(low, high) for low, high in spans]
        if self.shut_percent is not None:
            names += SHUT
            spans += [(0.0, self.shut_percent)] * len(SHUT)
        return [
            _looked_up(names, pl.String, place).alias("circuit"),
            _looked_up([low for low, _ in spans], pl.Float64, place).alias("throttle_from"),
            _looked_up([high for _, high in spans], pl.Float64, place).alias("throttle_to"),
            *speed,
        ]


def even_edges(step: float) -> tuple[float, ...]:
    """Return throttle edges by even steps from 0; the last band is the narrower one where 100 is no multiple.

    Args:
        step: width of a band [%].

    Raises:
        BadValue: it is no step from 1 to 100.
    """
    if not 1.0 <= step <= 100.0:
        raise BadValue(f"a throttle step of {step:g} % makes no bands; give 1 to 100, such as 10")
    return (*(float(edge) for edge in np.arange(0.0, 100.0 - 1e-9, step)), 100.0)


def banding(  # noqa: PLR0913  # what divides a run
    throttle_edges: Sequence[float] | None,
    rpm_step: float,
    *,
    has_throttle: bool = True,
    circuits: bool = True,
    shut_percent: float | None = None,
    overrun_rpm: float = 0.0,
) -> Banding:
    """Return how a run is to be divided.

    Args:
        throttle_edges: rising openings from 0 to 100 [%]; None for where the circuits hand over.
        rpm_step: width of the bands of speed [1/min]; 1 or more.
        has_throttle: whether there is a throttle channel; without one, bands of speed alone.
        circuits: whether openings stand for circuits.
        shut_percent: the throttle is shut up to here, where idle and overrun have bands of their own [%].
        overrun_rpm: with the throttle shut, an overrun is faster than this [1/min].

    Raises:
        BadValue: edges that do not rise, fewer than two, outside 0 to 100; a step below 1.
    """
    if not rpm_step >= SMALLEST_RPM_STEP or rpm_step == float("inf"):
        raise BadValue(f"a band of {rpm_step:g} rpm is too narrow; give a step of 1 or more, such as 500")
    edges = tuple(float(edge) for edge in (HAND_OVER_PERCENT if throttle_edges is None else throttle_edges))
    if len(edges) < 2 or any(not 0 <= edge <= 100 for edge in edges):
        raise BadValue(f"throttle edges {_said(edges)}: give two or more from 0 to 100, such as 0,25,50,100")
    if any(low >= high for low, high in pairwise(edges)):
        raise BadValue(f"throttle edges {_said(edges)} do not rise; give each once, the lowest first")
    if not has_throttle:
        return Banding(None, float(rpm_step), circuits)
    return Banding(edges, float(rpm_step), circuits, shut_percent, overrun_rpm)


def _said(edges: Sequence[float]) -> str:
    return ",".join(f"{edge:g}" for edge in edges) or "(none)"


def _looked_up(table: Sequence[object], dtype: type[pl.DataType], place: pl.Expr) -> pl.Expr:
    return pl.lit(pl.Series(table, dtype=dtype)).gather(place)
