"""The faults of blind bikes: what each does by its physics, its size and company drawn from wide ranges."""

from dataclasses import dataclass

import numpy as np

from tests.published.blind_cells import BlindBike


def break_in(made: BlindBike, rng: np.random.Generator) -> None:
    """Put the fault into its sessions."""
    once = made.fault in {
        "coloured on the way in",
        "too few seconds at full throttle",
        "reading error of the person",
    }
    once = once or (made.fault == "old or fouled plug" and rng.random() < 0.7)
    last = made.begins + 1 if once else len(made.rides)
    size, growth = _size(rng), rng.random() < 0.3
    side = 1.0 if rng.random() < 0.5 else -1.0
    draw = {name: rng.random() for name in ("told", "a", "b", "c", "d")}
    for number in range(made.begins, last):
        ride = made.rides[number]
        ride.faulty = True
        share = (number - made.begins + 1) / (last - made.begins)
        for cylinder, cell in enumerate(ride.cells, start=1):
            _FAULTY[made.fault](made, ride, cell, _Drawn(rng, size, side, share, growth, draw, cylinder))
        if made.fault in _WHOLE:
            made.cylinder = None


_WHOLE = {
    "coloured on the way in",
    "too few seconds at full throttle",
    "wrong fuel told to the sensor",
    "engine rebuilt",
}


def _size(rng: np.random.Generator) -> float:
    return float(np.clip(np.exp(rng.normal(np.log(0.06), 0.4)), 0.03, 0.16))


@dataclass
class _Drawn:
    rng: np.random.Generator
    size: float
    side: float
    share: float
    """How far the fault has come in this session, 0 to 1."""
    growth: bool
    draw: dict
    cylinder: int

    def here(self, made: BlindBike) -> bool:
        return made.cylinder is None or made.cylinder == self.cylinder

    def between(self, name: str, low: float, high: float) -> float:
        return low + (high - low) * self.draw[name]


def _old(made, _ride, cell, by):
    everywhere = by.draw["a"] < 0.3
    if everywhere:
        made.cylinder = None
    if by.here(made):
        cell.ring = by.size * (-1.0 if by.draw["b"] < 0.85 else 1.0)
        cell.state = "used" if by.draw["told"] < 0.6 else "new"


def _coloured(_made, ride, cell, by):
    ride.idle_after_s = by.between("a", 0.0, 25.0)
    ride.roll_after_s = by.between("b", 4.0, 25.0)
    cell.ring = -by.size * float(by.rng.uniform(0.7, 1.3))


def _heat(made, _ride, cell, by):
    if by.draw["a"] < 0.75:
        made.cylinder = None
    if by.here(made):
        cell.ring = by.side * by.size
        cell.heat = 0 if by.draw["told"] < 0.5 else -int(by.side)  # colder (+) is as if richer


def _few(_made, ride, cell, by):
    ride.full_s = by.between("a", 3.0, 9.0)
    cell.ring = by.size * float(by.rng.uniform(0.6, 1.3)) * (1.0 if by.draw["b"] < 0.85 else -1.0)
    cell.no_ring = by.draw["c"] < 0.15


def _leak(made, _ride, cell, by):
    if by.here(made):
        grown = by.share if by.growth else 1.0
        full = by.size * grown
        cell.sensor = (full * by.between("a", 1.5, 6.0), full * by.between("b", 1.1, 2.5), full)


def _misfire(made, _ride, cell, by):
    if by.here(made):
        reads = by.size * by.between("a", 0.4, 0.9)
        cell.sensor = (0.0, reads * by.between("b", 0.0, 0.4), reads)
        cell.ring = -(by.size - reads)
        cell.egt_k = -by.between("c", 10.0, 60.0)
        cell.missed = by.between("d", 0.01, 0.2)
        cell.wet = True if by.rng.random() < 0.4 else cell.wet


def _weak(made, _ride, cell, by):
    everywhere = by.draw["told"] < 0.3
    if everywhere:
        made.cylinder = None
    if by.here(made):
        cell.sensor = (0.0, 0.0, by.size)
        cell.ring = -0.2 * by.size
        cell.egt_k = by.between("c", -40.0, 40.0)
        cell.missed = by.between("d", 0.0, 0.08)
        cell.wet = True if by.rng.random() < 0.3 else cell.wet


def _short(made, _ride, cell, by):
    if by.draw["told"] < 0.7:
        made.cylinder = None
    if by.here(made):
        cell.sensor = (by.size * by.between("a", 0.7, 2.5), by.size * by.between("b", 0.9, 2.2), by.size)


def _collector(made, _ride, cell, by):
    own = by.side * by.size
    moved = own if by.cylinder == made.cylinder else -own / (made.bike.cylinders - 1)
    cell.full += moved
    cell.part += moved * by.between("a", 0.2, 1.0)
    cell.idle += moved * by.between("b", 0.0, 1.0)


def _fuel(_made, _ride, cell, by):
    ratio = 1.0 + by.side * by.size
    cell.sensor = tuple(value * (ratio - 1.0) for value in (cell.idle, cell.part, cell.full))


def _aged(made, _ride, cell, by):
    if by.draw["a"] < 0.3 or made.collector:
        made.cylinder = None
    if by.here(made):
        lost = by.between("b", 0.15, 0.6) * by.share
        cell.sensor = tuple((1.0 - value) * lost for value in (cell.idle, cell.part, cell.full))


def _rebuilt(_made, _ride, cell, by):
    cell.ring = by.side * by.size * (1.0 + 0.2 * (by.cylinder % 2))
    cell.egt_k, cell.head_k = by.between("a", -25, 25), by.between("b", -12, 12)


def _jet(made, _ride, cell, by):
    if by.here(made):
        moved = by.size * 1.3 * (1.0 if by.draw["a"] < 0.65 else -1.0)
        cell.full += moved
        cell.part += moved * by.between("b", 0.0, 0.5)


def _level(made, _ride, cell, by):
    if by.here(made):
        cell.full += by.side * by.size
        cell.part += by.side * by.size * by.between("a", 0.6, 1.4)
        cell.idle += by.side * by.size * by.between("b", 0.5, 1.6)


def _oil(made, _ride, cell, by):
    if by.here(made):
        cell.ring = -by.size * (by.share if by.growth else 1.0)
        if by.rng.random() < 0.65:
            cell.wet, cell.note = True, "oily"
        if by.rng.random() < 0.5:
            cell.specks = "soot"


def _misread(made, _ride, cell, by):
    if by.here(made):
        cell.ring = by.side * by.size


_FAULTY = {
    "old or fouled plug": _old,
    "coloured on the way in": _coloured,
    "wrong heat range": _heat,
    "too few seconds at full throttle": _few,
    "air leak before the sensor": _leak,
    "misfire": _misfire,
    "short-circuited charge": _short,
    "collector averaging its cylinders": _collector,
    "wrong fuel told to the sensor": _fuel,
    "aged sensor": _aged,
    "engine rebuilt": _rebuilt,
    "blocked or loose jet": _jet,
    "fuel level": _level,
    "ignition weak": _weak,
    "oil in the chamber": _oil,
    "reading error of the person": _misread,
}
FAULTS = tuple(_FAULTY)
"""What a blind bike may have."""
