"""How well verdicts, intervals and causes hold on blind bikes.

    python tests/published/blind_bikes_trial.py --bikes 500 [--first 0] [--flat] [--each]

prints the shares of right and wrong verdicts, of "cannot say", and of causes that were named first.
"""

import argparse
import sys
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

if __name__ == "__main__":
    # another package named tests may stand before this one where no pytest sorts it out
    sys.path.insert(0, str(Path(__file__).parents[2]))

from bridge.agreement.against_history import with_history
from bridge.agreement.compare import compare_alone
from bridge.agreement.pairs import pairs_of
from bridge.agreement.result import CylinderResult
from tests.published.blind_bikes import blind_bike
from tests.published.blind_cells import BlindBike
from tests.published.blind_season import ridden

SIGN_FROM = 0.01
"""A verdict of richer or leaner is right where the true difference has its sign and is over this [1]."""
APART = 1.5
"""Causes within this factor of the leading one's weight are not told apart by the data."""


@dataclass(frozen=True)
class Judged:
    """One reading with its truth."""

    bike: int
    fault: str | None
    faulty: bool
    session: int
    cylinder: int
    affected: bool
    pairs: int
    valid: bool
    verdict: str
    margin: float
    true: float
    inside: bool | None
    causes: tuple[tuple[str, float], ...]
    separates: tuple[str, ...]

    @property
    def right(self) -> bool | None:
        """Whether the verdict is right; None for cannot say."""
        if self.verdict == "cannot say":
            return None
        if self.verdict == "agree":
            return abs(self.true) <= self.margin
        return self.true > SIGN_FROM if self.verdict == "ring leaner" else self.true < -SIGN_FROM

    def place(self, *, tied: bool) -> int | None:
        """Return the true cause's place among those named, from 1; causes that lead together share the first."""
        names = [name for name, _ in self.causes]
        if self.fault not in names:
            return None
        if tied:
            top = self.causes[0][1]
            lead = [name for name, weight in self.causes[:3] if weight * APART >= top]
            if self.fault in lead and (len(lead) == 1 or self.fault in self.separates):
                return 1
        return names.index(self.fault) + 1


def judged(made: BlindBike) -> list[Judged]:
    """Judge every reading of a bike by the pairs of its other sessions."""
    ran = [ridden(made, number) for number in range(len(made.rides))]
    bare = [compare_alone(run, lives) for run, lives in ran]
    pairs = [pair for one in bare for pair in pairs_of(one, 1)[0]]
    found = []
    for number, ((run, _), one) in enumerate(zip(ran, bare, strict=True)):
        whole = with_history(one, run, (), pairs)
        found += [_judged(made, number, result, whole.margin) for result in whole.cylinders]
    return found


def _judged(made: BlindBike, number: int, result: CylinderResult, margin: float) -> Judged:
    ride, cylinder = made.rides[number], result.cylinder
    departure = result.departure
    # the absolute question has the sensor's constant error in it
    true = made.true_difference(number, cylinder, constant=departure is None)
    inside = None
    if departure is not None and departure.low is not None and departure.high is not None:
        inside = departure.low <= true <= departure.high
    return Judged(
        made.seed,
        made.fault,
        ride.faulty,
        number,
        cylinder,
        ride.faulty and made.cylinder in {None, cylinder},
        result.departed.pairs if result.departed else 0,
        result.validity.valid,
        result.verdict,
        margin,
        true,
        inside,
        tuple((one.cause, one.weight) for one in result.causes),
        result.next_test.separates if result.next_test else (),
    )


def telling(found: list[Judged]) -> Judged | None:
    """Return the reading by which a faulty bike's cause is asked: its last one of a faulty cylinder."""
    affected = [one for one in found if one.affected]
    return affected[-1] if affected else None


@dataclass(frozen=True)
class Figures:
    """What the targets ask."""

    readings: int
    wrong_agree: float
    """Of all judged readings [1]."""
    right: float
    """Of the verdicts other than cannot say [1]."""
    silent: float
    """Cannot say among sound readings of sound bikes that have eight valid pairs [1]."""
    inside: float
    """Of the departures' 95 % intervals [1]."""
    first: float
    """True cause first, causes that lead together counted as the first [1]."""
    second: float
    """True cause among the first two, likewise [1]."""
    alone: float
    """True cause first by itself [1]."""


def figures(bikes: list[list[Judged]], enough: int = 8) -> Figures:
    """Return the figures of the targets over some bikes."""
    every = [one for found in bikes for one in found if one.valid]
    said = [one for one in every if one.right is not None]
    sound = [one for one in every if one.fault is None and one.pairs >= enough]
    asked = [last for found in bikes if (last := telling(found)) is not None]
    places = [one.place(tied=True) for one in asked]
    known = [one.inside for one in every if one.inside is not None]
    return Figures(
        len(every),
        _share([one.verdict == "agree" and not one.right for one in every]),
        _share([bool(one.right) for one in said]),
        _share([one.right is None for one in sound]),
        _share([bool(one) for one in known]),
        _share([place == 1 for place in places]),
        _share([place is not None and place <= 2 for place in places]),
        _share([one.place(tied=False) == 1 for one in asked]),
    )


def _share(values: list[bool]) -> float:
    return sum(values) / len(values) if values else float("nan")


def main() -> None:
    """Judge blind bikes and print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--bikes", type=int, default=500)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--flat", action="store_true", help="ring laws of 12 to 40 mm")
    parser.add_argument("--each", action="store_true", help="with every faulty bike's causes")
    parser.add_argument("--fault", default="any", help="this fault alone, or any")
    parser.add_argument("--scatter", type=float, help="of the ring's lambda from session to session")
    args = parser.parse_args()
    slope = (12.0, 40.0) if args.flat else (45.0, 60.0)
    seeds = range(args.first, args.first + args.bikes)
    bikes = [
        judged(blind_bike(seed, fault=args.fault, slope_mm=slope, scatter=args.scatter)) for seed in seeds
    ]
    print(figures(bikes))
    every = [one for found in bikes for one in found if one.valid]
    print("verdicts", Counter((one.verdict, one.right) for one in every))
    print("eight pairs, sound bikes:", len([o for o in every if o.fault is None and o.pairs >= 8]))
    for fault in sorted({found[0].fault for found in bikes if found[0].fault}):
        asked = [last for found in bikes if found[0].fault == fault and (last := telling(found)) is not None]
        places = [one.place(tied=True) for one in asked]
        leads = Counter(one.causes[0][0] if one.causes else "-" for one in asked)
        print(
            f"{fault:36} {len(asked):3} first {_share([p == 1 for p in places]):.2f}"
            f" two {_share([p is not None and p <= 2 for p in places]):.2f}"
            f" alone {_share([o.place(tied=False) == 1 for o in asked]):.2f} led by {dict(leads.most_common(4))}"
        )
    wrong = [one for one in every if one.right is False]
    print("wrong verdicts", Counter((one.fault, one.faulty, one.verdict) for one in wrong).most_common(20))
    if args.each:
        for one in wrong:
            print(
                "wrong",
                one.bike,
                one.session,
                one.cylinder,
                one.fault,
                one.verdict,
                round(one.true, 3),
                one.pairs,
            )
        for found in bikes:
            last = telling(found)
            if last is not None and last.place(tied=True) != 1:
                named = ", ".join(f"{name} {weight:.2f}" for name, weight in last.causes[:4])
                print(last.bike, last.fault, round(last.true, 3), last.pairs, last.verdict, "|", named)


if __name__ == "__main__":
    main()
