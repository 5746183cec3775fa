"""What a person reads: the result in plain sentences, and the cautions that stand beside it."""

from collections.abc import Collection, Sequence

from bridge.agreement.verdict import Difference, open_interval
from bridge.model import Bike, PlugLife
from bridge.plug.after_pull import AfterPull
from bridge.plug.evidence import EVIDENCE, evidence_of, stops_leaner
from bridge.plug.exposure import Measured
from bridge.plug.scale import RingLambda, RingScale
from bridge.plug.validity import Validity

LEAN = (
    "A lean engine can seize or hole a piston in seconds: go leaner only in small steps, and never on one"
    " method's word alone."
)
TWO_STROKE = (
    "On a two-stroke the oxygen sensor reads lean by an unknown amount unless calibrated, because fresh charge is"
    " lost into the pipe: trust its changes, not its value."
)
LEAN_STOPPED = (
    "A lean engine can seize or hole a piston in seconds: with what these plugs show, go no leaner at all."
)
COMPETENT = (
    "This is for a competent person to judge; the ring scale is not validated on an engine. Plugs and head"
    " are hot, and the ignition is high voltage."
)


LEAN_AT_FULL = 0.95
"""Leaner than this at full throttle is said to be; common practice, no source (best power is near 0.85 to 0.90)."""


def said_of_pull(after: AfterPull, scale: RingScale | None) -> str:
    """Return what is said of a reading cut at the end of a pull: why it weighs more, or why it does not.

    Args:
        after: the pull.
        scale: what the answer is by.
    """
    pull = f"it was cut at the end of pull {after.number} ({after.rpm_from:.0f} to {after.rpm_to:.0f} rpm)"
    if after.outside:
        return f"{pull}, but {' and '.join(after.outside)}, so it weighs no more than any other reading"
    known = f"{pull}, and pulls were {after.exposure:.0%} of its exposure"
    if scale is None or after.exposure <= 0.0:
        return known
    less, usual = scale.scatter_of(after.pull_share), scale.scatter_of(0.0)
    status = (
        "fitted on the bike's own pairs"
        if scale.name == "pairs"
        else "assumed, until the bike's own pairs tell it"
    )
    return (
        f"{known}: its conditions are the best known, so it weighs more, by a scatter from session to session of"
        f" {less:.4f} lambda instead of {usual:.4f} ({status})"
    )


def caution_on(over: Measured) -> str | None:
    """Return what has to stand beside one cylinder's measured lambda: that it would be lean, and what else reads so."""
    if over.mean is None or over.mean <= LEAN_AT_FULL:
        return None
    return (
        f"The sensor reads lambda {over.mean:.3f} at full throttle, which would be lean: look for an air leak and a"
        " misfire, which read lean too, before a jet is touched, and go no leaner meanwhile."
    )


def caution_on_ring(ring: RingLambda | None, *, leaner: bool = False) -> str | None:
    """Return what has to stand beside a valid ring that speaks against going leaner, whatever the sensor reads.

    Args:
        ring: the ring's lambda by the best scale there is.
        leaner: whether the ring is shown to be leaner than the sensor.
    """
    if ring is None or ring.one_sided == "richer":
        return None
    if ring.one_sided == "leaner":
        said = f"A valid reading without a ring may mean leaner than lambda {ring.bound:.3f}"
        return f"{said}: go no leaner, whatever the sensor reads, and read the plug again first."
    if ring.mean is None:
        return None
    if ring.mean <= LEAN_AT_FULL:
        told = (
            "The ring reads leaner than the sensor: go no leaner on the sensor's word, before it is known which of the"
            " two is wrong."
        )
        return told if leaner else None
    return (
        f"The ring reads lambda {ring.mean:.3f} at full throttle, which would be lean: go no leaner, whatever the"
        " sensor reads, before it is known which of the two is wrong."
    )


def cautions_for(
    bike: Bike | None, lives: Sequence[PlugLife], *, calibrated: bool = False
) -> tuple[str, ...]:
    """Return what has to stand wherever the verdicts stand, the most urgent first.

    Args:
        bike: of the session.
        lives: its plugs.
        calibrated: whether a trapped offset was stated for each of its sensors.
    """
    seen = [one.evidence for life in lives for one in evidence_of(life.reading, life.ran_s)]
    order = [row.key for row in EVIDENCE]
    rows = sorted((row for row in seen if row.direction == "stop"), key=lambda row: order.index(row.key))
    stops = list(dict.fromkeys(row.sentence for row in rows))
    two_stroke = (bike is None or bike.strokes == 2) and not calibrated
    lean = LEAN_STOPPED if stops else LEAN
    return (*stops, lean, *([TWO_STROKE] if two_stroke else []), COMPETENT)


def warned(life: PlugLife | None, statement: str) -> str:
    """Return a statement with what goes before it where the plug shows what stops all talk of leaner.

    Args:
        life: the plug; None where none is known.
        statement: what ``say`` gave.
    """
    stop = stops_leaner(life.reading, life.ran_s) if life else None
    return statement if stop is None else f"{stop} Nothing said here is a reason to go leaner. {statement}"


def said_of_rules(validity: Validity, elsewhere: Collection[str] = ()) -> list[str]:
    """Return what a person has to know of the rules beside the statement, a paragraph each.

    Args:
        validity: the judgement; its first rule broken stands in the statement already, with its mend.
        elsewhere: doubts that are said for all cylinders at once.
    """
    failed, doubtful = validity.failed, validity.doubtful
    mended = [one for one in doubtful if failed and one.next_time == failed[0].next_time]
    others = [f"{one.rule} ({one.figure})" for one in (*failed[1:], *mended)]
    doubts = [one.in_full for one in doubtful if one not in mended and one.in_full not in elsewhere]
    return [
        *([f"Also against this reading: {', '.join(others)}."] if others else []),
        *(f"Doubtful: {doubt}." for doubt in doubts),
    ]


def every_rule(validity: Validity) -> list[str]:
    """Return each rule's answer with its figure and what to do next time, a paragraph each."""
    return [
        f"Rule {one.rule}: {one.result}, {one.figure}."
        if one.result == "pass"
        else f"Rule {one.rule}: {one.result}, {one.figure}; {one.in_full}."
        for one in validity.rules
    ]


def said_of_evidence(life: PlugLife | None, *, every: bool) -> list[str]:
    """Return what else was seen on a plug, a sentence each.

    What stops all talk of leaner stands in statement and cautions already.

    Args:
        life: the plug; None where none is known.
        every: also what is not worth a sentence of its own.
    """
    return [
        one.sentence
        for one in (evidence_of(life.reading, life.ran_s) if life else ())
        if one.evidence.direction != "stop" and (every or one.evidence.telling)
    ]


def say(
    validity: Validity,
    ring: RingLambda | None,
    over: Measured,
    found: Difference,
    missing: str | None,
) -> str:
    """Return the result as a plain sentence that claims no more than its interval.

    Args:
        validity: the judgement on the reading.
        ring: the ring's lambda.
        over: the measured lambda.
        found: the difference and its verdict.
        missing: what is missing to turn the reading into lambda.
    """
    if not validity.valid:
        return f"Cannot say: {validity.because}."
    if over.mean is None:
        return f"Cannot say: {over.because}."
    if ring is None or found.budget is None:
        return f"Cannot say: {missing}."
    if ring.one_sided is not None:
        return _one_sided(ring, over.mean, found)
    return _two_sided(found)


def _two_sided(found: Difference) -> str:
    assert found.difference is not None
    assert found.low is not None
    assert found.high is not None
    assert found.budget is not None
    difference, low, high = found.difference, found.low, found.high
    if found.verdict == "agree":
        inner_low, inner_high = (difference + end for end in found.budget.interval(0.90))
        return (
            f"They agree: the difference is {difference:+.3f} lambda, and its 90 % interval"
            f" ({inner_low:+.3f} to {inner_high:+.3f}) lies inside ±{found.margin:g}."
        )
    if found.verdict == "cannot say":
        doubt = f"most of that doubt is {found.budget.largest.name}"
        if low < 0.0 < high:
            return (
                f"Cannot say: the ring may be richer than the sensor by {-low:.3f} lambda or leaner by"
                f" {high:.3f} (95 % interval); {doubt}."
            )
        return (
            f"Cannot say: a difference of {difference:+.3f} lambda ({open_interval(found)})"
            f" is neither surely there nor surely inside ±{found.margin:g}; {doubt}."
        )
    side = "leaner" if difference > 0.0 else "richer"
    inner, outer = sorted((abs(low), abs(high)))
    return (
        f"The ring reads {side} than the sensor by {abs(difference):.3f} lambda ({inner:.3f} to {outer:.3f},"
        " 95 % interval)."
    )


def _one_sided(ring: RingLambda, mean: float, found: Difference) -> str:
    what = "no ring" if ring.one_sided == "leaner" else "a nose dark all over"
    edge = found.low if ring.one_sided == "leaner" else found.high
    assert edge is not None
    if found.verdict == "cannot say":
        return (
            f"Cannot say: {what} means only {ring.one_sided} than lambda {ring.bound:.3f}, within"
            f" {ring.sd:.3f} as a standard uncertainty, which does not surely leave out the"
            f" sensor's {mean:.3f}."
        )
    return f"The ring reads {ring.one_sided} than the sensor by at least {abs(edge):.3f} lambda (95 % bound)."
