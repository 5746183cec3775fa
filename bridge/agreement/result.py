"""What a comparison comes to, for programs and for people."""

from dataclasses import dataclass
from typing import Any

from bridge.agreement.verdict import Difference, Verdict
from bridge.agreement.words import caution_on
from bridge.model import PlugLife
from bridge.physics.fuel import Fuel
from bridge.plug.exposure import Measured
from bridge.plug.scale import LinearScale, RingLambda
from bridge.plug.validity import Validity


@dataclass(frozen=True)
class CylinderResult:
    """What one cylinder's two methods say.

    Attributes:
        cylinder: its number, from 1.
        life: the plug and what it lived through; None where no plug is known.
        validity: the judgement on its reading.
        scale: what ring depths stand for on this plug; None where nothing is known to build one on.
        ring: the ring's lambda; None without a ring to turn into one.
        measured: the measured lambda over the plug's own exposure.
        absolute: whether the two methods agree, the sensor's own accuracy counted.
        departure: whether this session departs from the bike's history; None without pairs to tell by.
        notes: what has to be known beside the figures, one sentence each.
        statement: the result in a plain sentence that claims no more than the interval.
    """

    cylinder: int
    life: PlugLife | None
    validity: Validity
    scale: LinearScale | None
    ring: RingLambda | None
    measured: Measured
    absolute: Difference
    departure: Difference | None
    notes: tuple[str, ...]
    statement: str

    @property
    def verdict(self) -> Verdict:
        """The departure's verdict where there is one, else the absolute one."""
        return (self.departure or self.absolute).verdict

    @property
    def caution(self) -> str | None:
        """What has to stand beside this cylinder's own figures."""
        return caution_on(self.measured)

    @property
    def plug(self) -> str | None:
        """The plug's label."""
        return self.life.fitting.plug if self.life else None

    @property
    def ring_depth_mm(self) -> float | None:
        """The ring's depth from the tip, as read [mm]."""
        return self.life.reading.ring_mm if self.life and self.life.reading else None


@dataclass(frozen=True)
class Comparison:
    """A session's answer.

    Attributes:
        session: its number.
        fuel: what AFR is reckoned for.
        margin: what counts as agreement [1].
        cylinders: one for each cylinder of the bike, number one first.
        notes: what has to be known beside the figures.
        cautions: what stands wherever a verdict stands.
    """

    session: int
    fuel: Fuel
    margin: float
    cylinders: tuple[CylinderResult, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...]

    def to_json(self) -> dict[str, Any]:
        """Return the answer as the command line gives it: plain values, ready for ``json.dumps``."""
        return {
            "session": self.session,
            "fuel": self.fuel.name,
            "stoich_afr": self.fuel.stoich_afr,
            "stoich_afr_sd": self.fuel.afr_sd,
            "margin": self.margin,
            "cylinders": [_cylinder_json(result, self.fuel.stoich_afr) for result in self.cylinders],
            "notes": list(self.notes),
            "cautions": list(self.cautions),
        }

    def in_words(self) -> list[str]:
        """Return the answer for a person, a paragraph each: every cylinder's statement, figures and notes."""
        fuel = f"{self.fuel.name}, stoichiometric AFR {self.fuel.stoich_afr:.2f}"
        return [
            f"Session {self.session} ({fuel}); agreement means within ±{self.margin:g} lambda.",
            *(text for result in self.cylinders for text in _cylinder_words(result, self.fuel.stoich_afr)),
            *(f"Note: {note}." for note in self.notes),
            *(f"Caution: {caution}" for caution in self.cautions),
        ]


def _cylinder_words(result: CylinderResult, stoich_afr: float) -> list[str]:
    plug = f", plug {result.plug}" if result.plug else ""
    ring = _figures("Ring", result.ring, stoich_afr)
    measured = _figures("Measured", result.measured, stoich_afr)
    lines = [f"Cylinder {result.cylinder}{plug}: {result.statement}"]
    if ring:
        lines.append(f"{ring}.")
    if measured:
        own = 1.96 * result.measured.sensor_sd
        lines.append(
            f"{measured}, over {result.measured.seconds:.1f} s of full throttle; the sensor's own accuracy of"
            f" ±{own:.3f} comes on top.",
        )
    if result.caution:
        lines.append(f"Caution: {result.caution}")
    return lines + [f"Note: {note}." for note in result.notes]


def _figures(name: str, thing: RingLambda | Measured | None, stoich_afr: float) -> str | None:
    if thing is None or thing.mean is None:
        return None
    afr = thing.mean * stoich_afr
    return f"{name} {thing.mean:.3f} ({thing.low:.3f} to {thing.high:.3f}, 95 % interval), AFR {afr:.2f}"


def _times(value: float | None, stoich_afr: float) -> float | None:
    return None if value is None else value * stoich_afr


def _interval(thing: RingLambda | Measured | None, factor: float = 1.0) -> dict[str, float | None]:
    keys = ("mean", "low", "high")
    return {key: _times(getattr(thing, key), factor) if thing else None for key in keys}


def _difference_json(found: Difference | None, stoich_afr: float) -> dict[str, Any] | None:
    if found is None:
        return None
    return {
        "difference": found.difference,
        "low": found.low,
        "high": found.high,
        "difference_afr": _times(found.difference, stoich_afr),
        "low_afr": _times(found.low, stoich_afr),
        "high_afr": _times(found.high, stoich_afr),
        "verdict": found.verdict,
        "budget": [
            {"doubt": part.name, "sd": part.sd, "status": part.status}
            for part in (found.budget.components if found.budget else ())
        ],
    }


def _cylinder_json(result: CylinderResult, stoich_afr: float) -> dict[str, Any]:
    over = result.measured
    return {
        "cylinder": result.cylinder,
        "plug": result.plug,
        "reading_valid": result.validity.valid,
        "invalid_because": result.validity.because,
        "full_throttle_s": result.validity.full_throttle_s,
        "gap_s": result.validity.gap_s,
        "ring_depth_mm": result.ring_depth_mm,
        "scale": result.scale.name if result.scale else None,
        "ring_lambda": _interval(result.ring) | {"one_sided": result.ring.one_sided if result.ring else None},
        "ring_afr": _interval(result.ring, stoich_afr),
        "measured_lambda": _interval(over)
        | {
            "seconds": over.seconds,
            "effective_n": over.effective_n,
            "sensor_sd_not_in_interval": over.sensor_sd,
            "because": over.because,
        },
        "measured_afr": _interval(over, stoich_afr),
        "absolute": _difference_json(result.absolute, stoich_afr),
        "departure": _difference_json(result.departure, stoich_afr),
        "verdict": result.verdict,
        "causes": [],
        "statement": result.statement,
        "caution": result.caution,
        "notes": list(result.notes),
    }
