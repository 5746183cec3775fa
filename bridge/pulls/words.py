"""What pulls say to a person, sentence by sentence; tables are the command line's."""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.pulls.corrected import NOT_FOR_MIXTURE

if TYPE_CHECKING:
    from bridge.pulls.best import Best
    from bridge.pulls.compare import Comparison
    from bridge.pulls.corrected import Corrected
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
ROAD = (
    "Pulls on the road belong on a closed course: never at such speeds on public roads, and nobody reads a screen while"
    " riding."
)
CAUTIONS = (_LEAN, _ROLLER, ROAD)
"""They stand with every answer."""
HELD = (
    "Held speeds are means over the time that they were held; ± is 95 %: of lambda by its whole budget, of kW by what"
    " noise leaves."
)
"""It stands beside power, torque and mixture of holds."""

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
    return [
        *stop_words(found.stops),
        counted(found),
        *came_about(found),
        *(words for pull in found.pulls for words in of_pull(pull)),
        *of_pulls(found),
        *of_holds(found),
        *_and_more(found.notes),
    ]


def stop_words(stops: tuple[str, ...]) -> list[str]:
    """Return what the plugs say stop by; it stands before everything else."""
    return [f"Stop: {one}" for one in stops]


def counted(found: Pulls) -> str:
    """Return how many pulls there are and what else full throttle was."""
    counts = found.findings.counts
    others = ", ".join(
        f"{counts[kind]} {names[counts[kind] > 1]}" for kind, names in _SAID.items() if counts[kind]
    )
    number = counts["pull"]
    return f"{number} pull{'' if number == 1 else 's'} in session {found.run.session.id}" + (
        f"; told apart from them: {others}." if others else "."
    )


def strongest(found: Pulls) -> str | None:
    """Return the greatest power with its doubt and what it was corrected by; None without power."""
    known = [(pull.peak, pull) for pull in found.pulls if pull.peak is not None]
    if not known:
        return None
    pull = max(known, key=lambda one: one[0][0])[1]
    where = f", at the {pull.along.at}" if pull.along else ""
    return f"The most: {_power(pull, f' in pull {pull.number}{where}')}."


def came_about(found: Pulls) -> list[str]:
    """Return how mixture and power of all pulls were told."""
    texts = []
    if found.pulls and found.delay is not None and any(pull.mixture for pull in found.pulls):
        texts.append(
            f"Lambda stands where its charge burned: the sensor is {found.delay.seconds:.3f} s late (sd"
            f" {found.delay.sd_s:.3f}, from {found.delay.from_})."
        )
    return [*texts, _filter(found)] if any(pull.along for pull in found.pulls) else texts


def of_pulls(found: Pulls) -> list[str]:
    """Return what holds for all power that was corrected."""
    corrected = any(pull.corrected.by and pull.peak for pull in found.pulls)
    held = any(hold.corrected.by and hold.power_kw is not None for hold in found.holds)
    return [f"{NOT_FOR_MIXTURE}."] if corrected or held else []


def of_holds(found: Pulls) -> list[str]:
    """Return how held speeds are told: their place, their correction or why there is none, their doubt."""
    if not found.holds:
        return []
    known = [hold for hold in found.holds if hold.power_kw is not None]
    texts = [
        f"Power of held speeds: at the {at}, {how}."
        for at, how in dict.fromkeys((hold.at, _how(hold.corrected)) for hold in known)
    ]
    return [*texts, HELD]


def _how(corrected: Corrected) -> str:
    by = corrected.by
    if by is not None:
        return f"corrected by {by.name} to {by.reference} (factor {by.factor:.4f})"
    return f"as measured{f', since {corrected.because}' if corrected.because else ''}"


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


def of_pull(pull: Pull) -> list[str]:
    """Return what is said of one pull: its power with its doubt, where it is off its target, its chop, its notes."""
    texts = [] if pull.peak is None else [f"Pull {pull.number}: {_power(pull)}."]
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
            " best-known conditions of all, and where it is valid it weighs more in 'compare' and 'agreement'."
        )
    return [*texts, *(f"Pull {pull.number}: {note}." for note in pull.notes)]


def _power(pull: Pull, where: str = "") -> str:
    assert pull.peak is not None  # as the callers have seen
    (kw, rpm), by = pull.peak, pull.corrected.by
    sd, bias = (peak_doubt(pull, name) for name in ("power_sd_kw", "power_bias_kw"))
    noise = (
        "the noise left by the filter is not known"
        if sd is None
        else f"{sd:.2f} kW of noise left by the filter"
    )
    window = (
        ", what its window makes of it is not known there"
        if bias is None
        else f", its window makes {bias:+.2f} kW of it"
    )
    how = _how(pull.corrected) if by else "as measured"
    return f"{kw:.1f} kW at {rpm:.0f} rpm{where} ({noise}{window}; the greatest of a noisy curve is told high), {how}"


def peak_doubt(pull: Pull, column: str = "power_sd_kw") -> float | None:
    """Return the doubt of a pull's greatest power, None where it is not known.

    Args:
        pull: the pull.
        column: ``power_sd_kw`` for what the filter leaves of the noise [kW], ``power_bias_kw`` for what its window
            makes of the power [kW].
    """
    if pull.peak is None:
        return None
    at = pull.peak[1]
    row = next(row for row in pull.curve.iter_rows(named=True) if row["rpm"] == at)
    found: float | None = row[column]
    return found


def correction_words(name: str | None) -> str:
    """Return what power of several sessions was corrected by."""
    return f"Corrected by {name}." if name else "As measured, in the air of each run: not corrected."


def _by(name: str | None) -> list[str]:
    return [correction_words(name), *([f"{NOT_FOR_MIXTURE}."] if name else [])]


def _and_more(notes: tuple[str, ...]) -> list[str]:
    return [*(f"Note: {note}." for note in notes), *(f"Caution: {one}" for one in CAUTIONS)]


def spread_words(found: Comparison) -> list[str]:
    """Return how far runs scatter, and whether their order tells a trend from the change."""
    texts = []
    if found.spread_percent is not None:
        texts.append(
            f"From run to run it scatters by {found.spread_percent:.2f} % (standard deviation, trends taken out)."
        )
    if found.alternates:
        texts.append("The sides take turns, so the day's own course and the change can be told apart.")
    return texts


def comparison_words(found: Comparison) -> list[str]:
    """Return what a comparison says besides its table."""
    said = [found.statement, *_by(found.corrected_by), *spread_words(found), *_and_more(found.notes)]
    return [*stop_words(found.stops), *said]


def best_words(found: Best) -> list[str]:
    """Return what a best mixture says besides its table."""
    said = [found.statement, *_by(found.corrected_by), *_and_more(found.notes)]
    return [*stop_words(found.stops), *said]
