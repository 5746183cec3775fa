"""Blind bikes: invented, seeded, with their truth, made by laws of their own.

Nothing here comes from the emulator, from the table of causes or from what is tested. A bike has a ring law, jets that
the tuner changes, sensors with errors of their own, and one fault from some session on or none. What a fault does is
drawn from wide ranges by its physics, and so is what the tuner wrote down of it: plugs are told new that were not,
a heat range is left out, no jet is told. ``blind_bikes_trial.py`` beside this file judges them.
"""

import numpy as np

from bridge.model import Bike, PlugSpec
from tests.published.blind_cells import NOSE_MM, BlindBike, Cell, Law, Ride
from tests.published.blind_faults import FAULTS, break_in


def blind_bike(
    seed: int,
    *,
    fault: str | None = "any",
    slope_mm: tuple[float, float] = (45.0, 60.0),
    scatter: float | None = None,
) -> BlindBike:
    """Draw a bike.

    Args:
        seed: of all draws.
        fault: its fault; None for a sound one, ``any`` for half of them sound and the rest by turns.
        slope_mm: steepness of its ring law, from and to [mm for each 1.00 lambda].
        scatter: of the ring's lambda from session to session [1]; None for none mostly, and 0.003 at times.
    """
    rng = np.random.default_rng([20_261_125, 6, seed])
    if fault == "any":
        fault = None if rng.random() < 0.4 else str(rng.choice(FAULTS))
    needs_collector = fault == "collector averaging its cylinders"
    strokes = 2 if rng.random() < (0.8 if fault == "short-circuited charge" else 0.15) else 4
    cylinders = int(rng.choice([1, 2, 2, 4], p=[0.35, 0.3, 0.25, 0.1]))
    if needs_collector and cylinders == 1:
        cylinders = 2
    collector = cylinders > 1 and (needs_collector or rng.random() < 0.15)
    sessions = int(rng.integers(3, 13))
    lambda_ = rng.uniform(0.84, 0.91)
    law = Law(
        float(rng.uniform(5.0, 9.0)),
        float(lambda_),
        float(rng.uniform(*slope_mm)),
        float(rng.uniform(*slope_mm)),
        float(rng.uniform(0.01, 0.06)),
    )
    bike = Bike(
        name=f"Blind {seed}",
        strokes=strokes,
        cylinders=cylinders,
        displacement_cc=float(cylinders * rng.uniform(120, 350)),
        sensor="collector" if collector else "each",
        sensor_distance_mm=float(rng.uniform(300, 1100)),
        pipe_bore_mm=float(rng.uniform(30, 42)),
        plug=PlugSpec(type="short", nose_mm=NOSE_MM),
    )
    spread = rng.uniform(0.015, 0.035)
    jets = [float(lambda_ + rng.uniform(-spread, spread)) for _ in range(sessions)]
    scatter = float(rng.choice([0.0, 0.0, 0.0, 0.003])) if scatter is None else scatter
    idle, part = rng.uniform(0.84, 1.0), rng.uniform(0.86, 1.0)
    apart = [0.0, *(float(rng.normal(0, 0.004)) for _ in range(cylinders - 1))]
    rides = [
        Ride(
            [
                Cell(
                    idle=float(idle + apart[c] + rng.normal(0, 0.006)),
                    part=float(part + apart[c] + 0.3 * (jet - lambda_) + rng.normal(0, 0.006)),
                    full=float(jet + apart[c] + rng.normal(0, 0.003)),
                    specks=str(rng.choice(["none", "not-looked"])),
                    wet=False if rng.random() < 0.6 else None,
                )
                for c in range(cylinders)
            ],
            full_s=float(rng.uniform(18, 50)),
        )
        for jet in jets
    ]
    begins = int(rng.integers(min(3, sessions - 1), sessions)) if fault else sessions
    alone = None if cylinders == 1 and not collector else int(rng.integers(1, cylinders + 1))
    made = BlindBike(
        seed, bike, law, collector, fault, alone, begins, rides,
        _offsets(rng, strokes, cylinders),
        scatter, jets, bool(rng.random() < 0.7), bool(rng.random() < 0.5),
    )  # fmt: skip  # one value a field, in order
    if fault:
        break_in(made, rng)
    return made


def _offsets(rng: np.random.Generator, strokes: int, cylinders: int) -> list[float]:
    """Return what each sensor reads wrongly all season; lost charge makes a two-stroke's read lean."""
    lost = float(rng.uniform(0.04, 0.15)) if strokes == 2 else 0.0
    return [float(rng.normal(0, 0.01)) + lost * float(rng.uniform(0.8, 1.2)) for _ in range(cylinders)]
