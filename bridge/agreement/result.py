"""What a comparison comes to, for programs and for people."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from bridge.agreement.causes.next_test import NextTest
from bridge.agreement.causes.rank import Ranked
from bridge.agreement.causes.running import Running
from bridge.agreement.collector import Together
from bridge.agreement.departure import Departed
from bridge.agreement.document import comparison_json
from bridge.agreement.statement import said_of_causes, said_of_next_test
from bridge.agreement.verdict import Difference, Verdict
from bridge.agreement.witness import GasFound, GasWitness
from bridge.agreement.words import caution_on, caution_on_ring, every_rule, said_of_evidence, said_of_rules
from bridge.model import PlugLife
from bridge.model.reading_limits import ReadingLimits
from bridge.physics.fooled import Fooled
from bridge.physics.fuel import Fuel
from bridge.plug.after_pull import AfterPull
from bridge.plug.evidence import Seen, evidence_of
from bridge.plug.exposure import Measured
from bridge.plug.scale import LinearScale, RingLambda
from bridge.plug.validity import Validity

TO_TELL = 0.5
"""With less probability than this that nothing is wrong, causes are told to a person though no verdict asks for
them [1]; assumed."""


@dataclass(frozen=True)
class CylinderResult:
    """What one cylinder's two methods say, and a third one beside them.

    Attributes:
        cylinder: its number, from 1.
        life: the plug and what it lived through; None where no plug is known.
        validity: the judgement on its reading.
        scale: what ring depths stand for on this plug; None where nothing is known to build one on.
        ring: the ring's lambda; None without a ring to turn into one.
        measured: the measured lambda over the plug's own exposure.
        absolute: whether the two methods agree, the sensor's own accuracy counted.
        departure: whether this session departs from the bike's history; None without pairs to tell by.
        gas: what the exhaust gas says; None where none was analysed.
        fooled: what can fool this bike's sensor, by how much and which way; the largest first.
        reads: the mark of an uncalibrated two-stroke's measured lambda; None for any other.
        notes: what has to be known beside the figures, one sentence each.
        statement: the result in two or three plain sentences that claim no more than the interval.
        after_pull: the pull at whose end its plug was cut, which gives the reading a weight of its own; None where it
            was cut after anything else.
        departed: what ``departure`` rests on: the scale of the bike's other sessions, and what they differed by.
        running: what ran while the plug was in, in the figures that tell one cause from another.
        causes: why they may differ, the likeliest first and ``not known`` last, with weights that add up to 1 given
            that something is wrong; none where nothing is to be explained.
        sound: how likely it is that nothing is wrong [1]; None where nothing is known to tell it by.
        next_test: the test that would separate the leading causes best; None where nothing is to be explained.
    """

    cylinder: int
    life: PlugLife | None
    validity: Validity
    scale: LinearScale | None
    ring: RingLambda | None
    measured: Measured
    absolute: Difference
    departure: Difference | None
    gas: GasWitness | None
    fooled: tuple[Fooled, ...]
    reads: str | None
    notes: tuple[str, ...]
    statement: str
    after_pull: AfterPull | None = None
    departed: Departed | None = None
    running: Running | None = None
    causes: tuple[Ranked, ...] = ()
    sound: float | None = None
    next_test: NextTest | None = None

    @property
    def verdict(self) -> Verdict:
        """The departure's verdict where there is one, else the absolute one."""
        return (self.departure or self.absolute).verdict

    @property
    def pull_share(self) -> float:
        """Of a reading cut at a pull's end the share of its exposure that was pulls; 0 for any other [1]."""
        return self.after_pull.pull_share if self.after_pull else 0.0

    @property
    def tells_causes(self) -> bool:
        """Whether its causes are worth telling a person: a difference is shown, or something is likely to be wrong."""
        shown = self.verdict in {"ring leaner", "ring richer"} or not self.validity.valid
        return bool(self.causes) and (shown or (self.sound is not None and self.sound < TO_TELL))

    @property
    def caution(self) -> str | None:
        """What has to stand beside this cylinder's own figures: that its sensor, or its valid ring, would be lean."""
        ring = self.departed.ring if self.departed and self.departure else self.ring
        leaner = self.verdict == "ring leaner"
        by_ring = caution_on_ring(ring, leaner=leaner) if self.validity.valid else None
        said = [caution_on(self.measured), by_ring]
        return " ".join(text for text in said if text) or None

    @property
    def evidence(self) -> tuple[Seen, ...]:
        """What the plug shows beside its ring, the most urgent first."""
        return evidence_of(self.life.reading, self.life.ran_s) if self.life else ()

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
        gas: the newest exhaust-gas analysis of each cylinder, and of all together.
        weather: what is to be questioned about the air that was written down.
        notes: what has to be known beside the figures.
        cautions: what stands wherever a verdict stands.
        limits: those of the rules that readings were judged by.
        started: when the session did, in UTC.
        together: all cylinders against the one sensor that they share; None where each has its own.
    """

    session: int
    fuel: Fuel
    margin: float
    cylinders: tuple[CylinderResult, ...]
    gas: tuple[GasFound, ...]
    weather: tuple[str, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...]
    limits: ReadingLimits
    started: datetime | None = None
    together: Together | None = None

    def to_json(self) -> dict[str, Any]:
        """Return the answer as the command line gives it: plain values, ready for ``json.dumps``."""
        return comparison_json(self)

    def in_words(self, *, budget: bool = False, rules: bool = False) -> list[str]:
        """Return the answer for a person, a paragraph each: every cylinder's statement, figures and notes.

        Args:
            budget: with each doubt about the measured lambda, and with what could fool the sensor in full.
            rules: with every rule that a reading is judged by, in place of those that speak against it.
        """
        fuel = f"{self.fuel.name}, stoichiometric AFR {self.fuel.stoich_afr:.2f}"
        shared = _said_of_all([result.notes for result in self.cylinders])
        doubts = _said_of_all([[one.in_full for one in r.validity.doubtful] for r in self.cylinders])
        seen = _said_of_all([said_of_evidence(r.life, every=rules) for r in self.cylinders])
        return [
            f"Session {self.session} ({fuel}); agreement means within ±{self.margin:g} lambda.",
            *(
                text
                for result in self.cylinders
                for text in _cylinder_words(
                    result, self.fuel.stoich_afr, (*shared, *doubts, *seen), budget=budget, rules=rules
                )
            ),
            *([f"All cylinders: {self.together.statement}"] if self.together else []),
            *([] if rules else [f"Doubtful on each plug: {doubt}." for doubt in doubts]),
            *(f"Seen on each plug: {sentence}" for sentence in seen),
            *(f"Air: {as_sentence(said)}" for said in self.weather),
            *(f"Note: {as_sentence(note)}" for note in (*shared, *self.notes)),
            *(f"Caution: {caution}" for caution in self.cautions),
        ]


_TOLD = 0.005
"""What would be printed as nothing is left out of the short line [1]."""


def as_sentence(text: str) -> str:
    """Return a note with its full stop."""
    return text if text.endswith(".") else f"{text}."


def _said_of_all(said: list[Sequence[str]]) -> list[str]:
    """Return what is said of every cylinder, where there are several: once is enough."""
    return [one for one in said[0] if len(said) > 1 and all(one in other for other in said)]


def _cylinder_words(
    result: CylinderResult, stoich_afr: float, shared: Collection[str], *, budget: bool, rules: bool
) -> list[str]:
    plug = f", plug {result.plug}" if result.plug else ""
    lines = [f"Cylinder {result.cylinder}{plug}: {result.statement}"]
    departed = result.departed if result.departure else None
    ring = _figures("Ring", departed.ring if departed else result.ring, stoich_afr)
    if ring and departed:
        ring += f", by a scale of {departed.pairs} pairs of {departed.sessions} other sessions"
    if ring:
        lines.append(f"{ring}.")
    lines += _measured_words(result, stoich_afr, budget=budget)
    if result.tells_causes:
        lines += said_of_causes(result.causes, result.sound)
        lines += said_of_next_test(result.next_test)
    if result.gas:
        gas = result.gas
        lines.append(
            f"Exhaust gas {gas.lambda_:.3f} ({gas.low:.3f} to {gas.high:.3f}, 95 % interval), AFR"
            f" {gas.lambda_ * stoich_afr:.2f}: {gas.statement}.",
        )
    lines += every_rule(result.validity) if rules else said_of_rules(result.validity, shared)
    seen = said_of_evidence(result.life, every=rules)
    lines += [f"Seen: {sentence}" for sentence in seen if sentence not in shared]
    if result.caution:
        lines.append(f"Caution: {result.caution}")
    notes = [note for note in result.notes if note not in shared] + (
        list(result.gas.notes) if result.gas else []
    )
    return lines + [f"Note: {as_sentence(note)}" for note in notes]


def _measured_words(result: CylinderResult, stoich_afr: float, *, budget: bool) -> list[str]:
    over = result.measured
    figures = _figures("Measured", over, stoich_afr)
    if not figures or over.budget is None:
        return []
    own = 1.96 * over.sensor_sd
    mark = f" It {result.reads}." if result.reads else ""
    said = (
        f"{figures}, over {over.seconds:.1f} s of full throttle; the sensor's own accuracy and drift of"
        f" ±{own:.3f} come on top.{mark}"
    )
    lines = [said]
    telling = [one for one in result.fooled if max(abs(one.size_low), abs(one.size_high)) >= _TOLD]
    if telling:
        sizes = "; ".join(f"{one.cause} {one.size_low:+.2f} to {one.size_high:+.2f}" for one in telling)
        lines.append(f"What could fool it (reading less truth, + is lean): {sizes}.")
    if budget:
        lines += [one.sentence for one in result.fooled]
        inside = ", ".join(f"{part.name} {part.sd:.4f}" for part in over.budget.components)
        beside = ", ".join(f"{part.name} {part.sd:.4f} ({part.status})" for part in over.sensor.components)
        lines.append(
            f"Its doubts as standard uncertainties: {inside}; together {over.budget.sd:.4f}. Beside the interval:"
            f" {beside}; together {over.sensor_sd:.4f}."
        )
    return lines


def _figures(name: str, thing: RingLambda | Measured | None, stoich_afr: float) -> str | None:
    if thing is None or thing.mean is None:
        return None
    afr = thing.mean * stoich_afr
    return f"{name} {thing.mean:.3f} ({thing.low:.3f} to {thing.high:.3f}, 95 % interval), AFR {afr:.2f}"
