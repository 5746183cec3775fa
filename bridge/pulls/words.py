"""What pulls say to a person, sentence by sentence; tables are the command line's."""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.pulls.corrected import NOT_FOR_MIXTURE

if TYPE_CHECKING:
    from bridge.pulls.best import Best
    from bridge.pulls.compare import Comparison
    from bridge.pulls.result import Pull, Pulls

_LEAN = (
    "Full throttle on a lean mixture can seize or hole a piston within one pull: begin rich, look at the plugs, stop at"
    " knock, at temperatures that rise against their own history, or at aluminium on a plug."
)
_ROLLER = (
    "A roller at speed stores what a fall from a roof does: strap the bike, guard the roller, let nobody stand in line"
    " with wheel, chain or drum, use a tyre that is rated for the speed. Exhaust and head burn; lead the exhaust gas"
    " outdoors, with a CO alarm beside you."
)
_ROAD = (
    "Pulls on the road belong on a closed course: never at such speeds on public roads, and nobody reads a screen while"
    " riding."
)
CAUTIONS = (_LEAN, _ROLLER, _ROAD)
"""They stand with every answer."""

_SAID = {
    "hold": ("hold", "holds"),
    "launch": ("launch", "launches"),
    "shift": ("change of gear", "changes of gear"),
    "wheelspin": ("wheelspin", "wheelspins"),
    "clutch slip": ("slip of the clutch", "slips of the clutch"),
    "aborted": ("aborted run", "aborted runs"),
    "short": ("short run", "short runs"),
    "cut": ("cut with the throttle open", "cuts with the throttle open"),
}


def pulls_words(found: Pulls) -> list[str]:
    """Return what a session's pulls say besides their table."""
    counts = found.findings.counts
    others = ", ".join(
        f"{counts[kind]} {names[counts[kind] > 1]}" for kind, names in _SAID.items() if counts[kind]
    )
    number = counts["pull"]
    texts = [
        f"{number} pull{'' if number == 1 else 's'} in session {found.run.session.id}"
        + (f"; told apart from them: {others}." if others else ".")
    ]
    if found.pulls and found.delay is not None and any(pull.mixture for pull in found.pulls):
        texts.append(
            f"Lambda stands where its charge burned: the sensor is {found.delay.seconds:.3f} s late (sd"
            f" {found.delay.sd_s:.3f}, from {found.delay.from_})."
        )
    texts += [_filter(found)] if any(pull.along for pull in found.pulls) else []
    for pull in found.pulls:
        texts += _of_pull(pull)
    if any(pull.corrected.by and pull.peak for pull in found.pulls):
        texts.append(f"{NOT_FOR_MIXTURE}.")
    texts += [f"Note: {note}." for note in found.notes]
    return [*texts, *(f"Caution: {one}" for one in CAUTIONS)]


def _filter(found: Pulls) -> str:
    along = next(pull.along for pull in found.pulls if pull.along)
    said = (
        f"Power at the {along.at}, differentiated once over {found.settings.window_s:g} s ({along.points} points), the"
        " same for all runs; no power is told within half of that from a pull's ends."
    )
    if found.coasted is not None and along.at == "wheel":
        times = "once" if found.coasted.number == 1 else f"{found.coasted.number} times"
        said += (
            f" The roller ran out {times}; where nobody braked it, that is the driveline's own loss, told beside the"
            " power and not added."
        )
    return said


def _of_pull(pull: Pull) -> list[str]:
    texts = []
    if pull.peak is not None:
        row = _row(pull)
        by = pull.corrected.by
        how = f"corrected by {by.name} to {by.reference} (factor {by.factor:.4f})" if by else "as measured"
        bias = (
            "" if row["power_bias_kw"] is None else f", its window makes {row['power_bias_kw']:+.2f} kW of it"
        )
        texts.append(
            f"Pull {pull.number}: {pull.peak[0]:.1f} kW at {pull.peak[1]:.0f} rpm ({row['power_sd_kw'] or 0.0:.2f} kW"
            f" of noise left by the filter{bias}; the greatest of a noisy curve is told high), {how}."
        )
    for one in pull.leaves:
        who = "the engine" if one.cylinder is None else f"cylinder {one.cylinder}"
        sure = "" if one.surely else ", within the doubt of the sensor"
        texts.append(
            f"Pull {pull.number}, {who}: {one.direction} than the target from {one.rpm_from:.0f} to"
            f" {one.rpm_to:.0f} rpm, as far as lambda {one.farthest:.3f}{sure}."
        )
    if pull.chop_s is not None:
        texts.append(
            f"A chop followed pull {pull.number} after {max(pull.chop_s, 0.0):.1f} s: a plug read then has the"
            " best-known conditions of all."
        )
    return [*texts, *(f"Pull {pull.number}: {note}." for note in pull.notes)]


def _row(pull: Pull) -> dict[str, float | None]:
    assert pull.peak is not None
    at = pull.peak[1]
    return next(row for row in pull.curve.iter_rows(named=True) if row["rpm"] == at)


def _by(name: str | None) -> str:
    return f"Power is corrected by {name}. {NOT_FOR_MIXTURE}." if name else "Power is as measured."


def _and_more(notes: tuple[str, ...]) -> list[str]:
    return [*(f"Note: {note}." for note in notes), *(f"Caution: {one}" for one in CAUTIONS)]


def comparison_words(found: Comparison) -> list[str]:
    """Return what a comparison says besides its table."""
    texts = [found.statement, _by(found.corrected_by)]
    if found.spread_percent is not None:
        texts.append(
            f"From run to run it scatters by {found.spread_percent:.2f} % (standard deviation, trends taken out)."
        )
    return [*texts, *_and_more(found.notes)]


def best_words(found: Best) -> list[str]:
    """Return what a best mixture says besides its table."""
    return [found.statement, _by(found.corrected_by), *_and_more(found.notes)]
