"""Finding pulls: full throttle, revs that rise far enough in one gear, steady; all else told apart and counted."""

from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from bridge.model import Bike, PullSettings
from bridge.pulls.course import KINDS, Kind, Piece, pieces_of
from bridge.pulls.even import laid_out
from bridge.pulls.gears import Gears, gears_of
from bridge.pulls.log import Log, Near
from bridge.pulls.stretches import stretches

_CHANGE_S = 1.2
"""Between two stretches of full throttle a change of gear with a shut throttle is no longer (common practice) [s]."""
_CHANGE_SHARE = 0.06
"""... and leaves the revs lower by at least this share [1]."""
_MENDS = {
    "speed": "wheel_diameter_mm beside them",
    "roller_rpm": "wheel_diameter_mm beside them, and diameter_mm in [roller]",
}
"""What stated ratios need besides, by the channel that tells the wheel."""


@dataclass(frozen=True)
class Findings:
    """What a ride has of pulls."""

    pieces: tuple[Piece, ...]
    """Everything that full throttle was, in order of time."""
    gears: Gears
    notes: tuple[str, ...]
    """What cannot be told, and why, one sentence each without its full stop."""
    near: Near = field(compare=False, repr=False)
    """What was recorded around full throttle."""

    def of(self, *kinds: Kind) -> list[Piece]:
        """Return the pieces of some kinds."""
        return [piece for piece in self.pieces if piece.kind in kinds]

    @property
    def counts(self) -> dict[str, int]:
        """How many there are of each kind."""
        return {kind: len(self.of(kind)) for kind in KINDS}


def find(log: Log, bike: Bike | None, settings: PullSettings) -> Findings:
    """Find the pulls of a ride, and tell apart what is none.

    Works from engine speed and throttle alone; a road channel adds gears and slip.

    Args:
        log: the run.
        bike: whose, for the numbers of its gears.
        settings: what counts as a pull.
    """
    gears = gears_of(log, bike)
    notes = []
    if log.road is None:
        notes.append(
            "there is no speed of the wheel (roller_rpm or speed), so a clutch that slips cannot be told, nor a wheel"
            " that spins unless its revs show it; changes of gear are told by the fall of the revs"
        )
    elif gears.numbers is None and gears.ratios:
        stated = bike is not None and bike.road.gear_ratios
        mend = (
            f"check gear_ratios in [road] and {_MENDS[log.road]}" if stated else "add gear_ratios in [road]"
        )
        notes.append(f"the gear has no number: {gears.told_by}; {mend} of bike.toml")
    elif gears.told_by.startswith("counted"):
        notes.append(
            "gears are counted from the lowest that the ride shows, since the stated gear_ratios do not fit its ratios;"
            f" check them and {_MENDS[log.road]}"
            if bike is not None and bike.road.gear_ratios
            else "gears are counted from the lowest that the ride shows; gear_ratios in [road] make that sure"
        )
    if gears.late_s:
        notes.append(
            f"the wheel's speed is {gears.late_s:.1f} s late by the ride's own ratios, and was laid back"
        )
    found, note = stretches(log, settings.least_rpm)
    notes += [note] if note else []
    top = _top_speed(log)
    near = log.near(found)
    courses = [laid_out(near, start, end, top, gears.late_s) for start, end in found]
    parts = [[] if course is None else pieces_of(course, settings, gears) for course in courses]
    pieces = [piece for part in parts for piece in part]
    pieces += _changes(parts)
    kept = [piece for piece in pieces if piece.kind != "aborted" or _long_enough(piece, found, settings)]
    if not log.has("throttle"):  # nobody can say what else was full throttle
        kept = [piece for piece in kept if piece.kind == "pull"]
    return Findings(tuple(sorted(kept, key=lambda one: (one.start_s, one.end_s))), gears, tuple(notes), near)


def _top_speed(log: Log) -> float:
    if log.road is None:
        return 0.0
    road = log.thinned(log.road, max(1, len(log.t_s) // 100_000))
    known = road[~np.isnan(road)]
    return float(np.quantile(known, 0.999)) if len(known) else 0.0


def _changes(parts: list[list[Piece]]) -> list[Piece]:
    """Return the changes of gear for which the throttle was shut."""
    found = []
    for before, after in pairwise(part for part in parts if part):
        one, two = before[-1], after[0]
        fell = 1.0 - two.rpm_from / one.rpm_to if one.rpm_to > 0.0 else 0.0
        if two.start_s - one.end_s <= _CHANGE_S and fell >= _CHANGE_SHARE:
            why = f"the throttle was shut for it, and the revs were {fell:.0%} lower afterwards"
            found.append(Piece("shift", one.end_s, two.start_s, one.rpm_to, two.rpm_from, two.ratio, why))
    return found


def _long_enough(piece: Piece, found: list[tuple[float, float]], settings: PullSettings) -> bool:
    """Return whether the stretch of an aborted run was more than a blip of the throttle."""
    return any(start <= piece.start_s <= end and end - start >= 0.5 * settings.full_s for start, end in found)
