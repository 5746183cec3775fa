"""What a blind bike is made of: a ring law, cylinders in sessions, and the truth of all that is measured."""

from dataclasses import dataclass

import numpy as np

from bridge.model import Bike

NOSE_MM = 14.0


@dataclass(frozen=True)
class Law:
    """A smooth monotone law from lambda to depth, of a shape that no fit knows: its slope goes over into another."""

    depth_mm: float
    lambda_: float
    rich_mm: float
    """Slope on the rich side [mm for each 1.00 lambda] ..."""
    lean_mm: float
    """... and on the lean side."""
    over: float
    """Lambda over which the one becomes the other [1]."""

    def at(self, lambda_: float) -> float:
        """Return the depth of the ring from the tip [mm]."""
        away = lambda_ - self.lambda_
        middle, half = (self.lean_mm + self.rich_mm) / 2.0, (self.lean_mm - self.rich_mm) / 2.0
        return float(self.depth_mm + middle * away + half * self.over * np.log(np.cosh(away / self.over)))


@dataclass
class Cell:
    """One cylinder in one session: what burned, what the sensor says, what the ring shows. All of it true."""

    idle: float = 0.93
    part: float = 0.92
    full: float = 0.87
    sensor: tuple[float, float, float] = (0.0, 0.0, 0.0)
    """What each reading is off by at idle, part and full throttle [1]."""
    ring: float = 0.0
    """What the ring's lambda is off by [1]."""
    egt_k: float = 0.0
    head_k: float = 0.0
    missed: float = 0.0
    """Share of the cycles at full throttle that are seen to miss [1]."""
    no_ring: bool = False
    state: str = "new"
    heat: int = 0
    wet: bool | None = None
    specks: str = "not-looked"
    note: str | None = None


@dataclass
class Ride:
    """One session."""

    cells: list[Cell]
    full_s: float = 40.0
    idle_after_s: float = 0.0
    roll_after_s: float = 0.0
    faulty: bool = False


@dataclass
class BlindBike:
    """A bike with its truth."""

    seed: int
    bike: Bike
    law: Law
    collector: bool
    fault: str | None
    cylinder: int | None
    """Whose fault it is; None for all."""
    begins: int
    rides: list[Ride]
    offsets: list[float]
    """Of each sensor, all season alike [1]."""
    scatter: float
    jets: list[float]
    """Lambda that the main jet of each session makes [1]."""
    tells_jets: bool
    by_bore: bool

    @property
    def egt_slope(self) -> float:
        """How much hotter its exhaust is for each 1.00 of lambda at full throttle [K]."""
        return float(np.random.default_rng([20_261_125, 8, self.seed]).uniform(250, 650))

    def measured(self, ride: Ride, cylinder: int) -> tuple[float, float, float]:
        """Return what a sensor says at idle, part and full throttle, without noise [1]."""
        if not self.collector:
            return self._own(ride.cells[cylinder - 1], self.offsets[cylinder - 1])
        every = [self._own(cell, self.offsets[0]) for cell in ride.cells]
        return tuple(float(np.mean(column)) for column in zip(*every, strict=True))

    @staticmethod
    def _own(cell: Cell, offset: float) -> tuple[float, float, float]:
        true = (cell.idle, cell.part, cell.full)
        return tuple(value + off + offset for value, off in zip(true, cell.sensor, strict=True))

    def true_difference(self, number: int, cylinder: int, *, constant: bool = False) -> float:
        """Return what ring and sensor of a session (from 0) differ by without noise [1].

        Args:
            number: of the session.
            cylinder: from 1.
            constant: with what the sensor reads wrongly all season, which cancels against the bike's history.
        """
        ride = self.rides[number]
        cell = ride.cells[cylinder - 1]
        cancels = 0.0 if constant else self.offsets[0 if self.collector else cylinder - 1]
        return cell.full + cell.ring - (self.measured(ride, cylinder)[2] - cancels)
