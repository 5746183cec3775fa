"""A bike's ring scale as it grows: the guess, the tuner's statement, and what the bike's own pairs make of it."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from bridge.agreement.bike_history import bike_history
from bridge.agreement.history import Stretch
from bridge.agreement.kept import ENOUGH_PAIRS, ENOUGH_SESSIONS, Kept
from bridge.agreement.statement import percent
from bridge.model import ScaleStatement
from bridge.plug.fitted_scale import UNVALIDATED, FittedScale
from bridge.plug.ring_fit import RingPair
from bridge.plug.scale import LinearScale, RingScale, guess, newest_statement, stated

OFF = 0.2
"""From this probability on sessions are named as off [1]; assumed."""
_STEP_MM = 0.25


@dataclass(frozen=True)
class Curve:
    """A scale as a curve with its band: what lambda a ring at each depth stands for, the reading's doubt left out.

    Attributes:
        name: ``guess``, ``stated`` or ``pairs``.
        depth_mm: from the tip, rising (n,) [mm].
        mean: lambda (n,) [1].
        low: lower end of the 95 % interval (n,) [1].
        high: upper end of it (n,) [1].
        assumptions: what it rests on, one sentence each.
    """

    name: str
    depth_mm: tuple[float, ...]
    mean: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    assumptions: tuple[str, ...]

    def to_json(self) -> dict[str, Any]:
        """Return the curve as plain values."""
        rows = zip(self.depth_mm, self.mean, self.low, self.high, strict=True)
        return {
            "scale": self.name,
            "curve": [{"depth_mm": d, "lambda": m, "low": low, "high": high} for d, m, low, high in rows],
            "assumptions": list(self.assumptions),
        }


@dataclass(frozen=True)
class Layers:
    """What makes a scale, each to be seen by itself.

    Attributes:
        nose_mm: length of the nose that it holds for [mm].
        plug_type: the tuner's name of the plug type.
        build: the engine build.
        curves: the guess, then the statement where there is one, then the fit where there are pairs.
        pairs: what the fit stands on.
        fitted: the scale fitted on all of them; None without any.
        off: sessions among them that are likely off by themselves, so that the fit hardly counts them.
    """

    nose_mm: float
    plug_type: str | None
    build: int | None
    curves: tuple[Curve, ...]
    pairs: tuple[RingPair, ...]
    fitted: FittedScale | None
    off: tuple[Stretch, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """Return the layers as plain values: ``layers``, the ``pairs`` behind the fit and the fit itself."""
        return {
            "layers": [one.to_json() for one in self.curves],
            "pairs": [asdict(pair) for pair in self.pairs],
            "fitted": self.fitted.to_json() if self.fitted else None,
            "off": [asdict(one) for one in self.off],
        }

    def in_words(self) -> list[str]:
        """Return what the pairs make of the scale, and what each layer says of a ring at the same depths."""
        unvalidated = [UNVALIDATED] if self.fitted else []
        return [self.of_pairs(), *self.off_in_words(), *unvalidated, *self._table()]

    def off_in_words(self) -> list[str]:
        """Return which sessions are likely off by themselves, a sentence each."""
        return [
            f"Off by themselves with {percent(one.weight)} probability, and so hardly counted: {one.in_words()}."
            for one in self.off
        ]

    def of_pairs(self) -> str:
        """Return what the bike's own pairs make of the scale."""
        if self.fitted is None:
            return "No valid pair of ring and sensor yet: each one will narrow this scale."
        sessions = len({pair.session for pair in self.pairs})
        count = f"{len(self.pairs)} valid pair{'' if len(self.pairs) == 1 else 's'} of {sessions} session"
        judges = (
            "It judges a session with that session's own pairs left out."
            if len(self.pairs) >= ENOUGH_PAIRS and sessions >= ENOUGH_SESSIONS
            else f"It takes {ENOUGH_PAIRS} pairs of {ENOUGH_SESSIONS} sessions besides the one that is judged."
        )
        return (
            f"The bike's own pairs: {count}{'' if sessions == 1 else 's'} make a millimetre worth"
            f" {1.0 / self.fitted.slope_mm:.3f} lambda, give or take {self.fitted.slope_log_sd:.0%} of it, and"
            f" scatter by {self.fitted.scatter:.3f} lambda from session to session. {self._of_pulls()}{judges} It"
            " stands on the sensor, so it shares the sensor's own error."
        )

    def _of_pulls(self) -> str:
        """Return what those cut at a pull's end weigh; empty without any."""
        number = sum(pair.pull_share > 0.0 for pair in self.pairs)
        if self.fitted is None or number == 0:
            return ""
        scatter = f"{self.fitted.pull_scatter:.3f} lambda where pulls alone printed the ring"
        return (
            f"{number} of them {'was' if number == 1 else 'were'} cut at a pull's end, whose conditions are the best"
            f" known, and count{'s' if number == 1 else ''} with a scatter of {scatter}. "
        )

    def _table(self) -> list[str]:
        shares = (0.2, 0.4, 0.6, 0.8)
        lines = ["What a ring says, by what is held (lambda, 95 % of it):"]
        for one in self.curves:
            at = [int(share * (len(one.depth_mm) - 1)) for share in shares]
            cells = [
                f"{one.depth_mm[i]:g} mm {one.mean[i]:.3f} ({one.low[i]:.3f} to {one.high[i]:.3f})"
                for i in at
            ]
            lines.append(f"{one.name}: {'; '.join(cells)}")
        return lines


def layers(  # noqa: PLR0913  # a scale holds for one plug, nose and build, and is made of all that is held
    kept: Sequence[Kept],
    statements: Sequence[ScaleStatement],
    *,
    plug_type: str | None,
    nose_mm: float,
    build: int | None,
    strokes: int | None,
) -> Layers:
    """Return a scale with all that made it.

    Args:
        kept: the bike's pairs; those of another plug type, nose or build do not count.
        statements: the tuner's own; likewise.
        plug_type: the tuner's name of the plug type.
        nose_mm: length of the nose [mm].
        build: number of the engine build.
        strokes: of the bike, 2 or 4; None where nobody knows.
    """
    statement = newest_statement(statements, plug_type=plug_type, nose_mm=nose_mm, build=build)
    past = bike_history(kept, statements, plug_type=plug_type, nose_mm=nose_mm, build=build, strokes=strokes)
    scales: list[RingScale | LinearScale | FittedScale] = [guess(nose_mm)]
    if statement is not None:
        scales.append(stated(statement))
    fitted: FittedScale | None = None
    off: tuple[Stretch, ...] = ()
    if past is not None:
        fitted, off = past.scale, tuple(one for one in past.stretches if one.sessions and one.weight >= OFF)
        scales.append(fitted)
    curves = tuple(curve(scale, nose_mm) for scale in scales)
    pairs = tuple(one.kept.pair for one in past.past) if past is not None else ()
    return Layers(nose_mm, plug_type, build, curves, pairs, fitted, off)


def curve(scale: RingScale | FittedScale, nose_mm: float) -> Curve:
    """Return a scale along the nose."""
    depths = [float(d) for d in np.arange(_STEP_MM, nose_mm, _STEP_MM)]
    rows = []
    for depth in depths:
        mean, budget = scale.lambda_at(depth)
        low, high = budget.interval(0.95)
        rows.append((mean, mean + low, mean + high))
    means, lows, highs = zip(*rows, strict=True)
    return Curve(scale.name, tuple(depths), means, lows, highs, scale.assumptions)
