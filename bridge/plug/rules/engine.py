"""Rules on the engine that the plug was in: warm, alight, and fed the same all the time."""

from itertools import pairwise

from bridge.bands import session_fuel
from bridge.model import Run, Setup
from bridge.model.fuel import StatedFuel
from bridge.plug.rules.result import Case, RuleResult, not_known

WARM_FIRST = "warm the engine on other plugs, and fit those to be read when it is warm"
_SAME_AFR = 0.005
"""Fuels whose stoichiometric AFR differs by less are one and the same where nobody named them [1]."""
NO_HEAT = "record a head or a coolant temperature"


def warm_up(case: Case) -> RuleResult:
    """Ask that the ring was printed by a warm engine, and that a long warm-up did not soot the nose before."""
    if case.ran.full_throttle_s is None or case.ran.cold_s is None or case.ran.cold_full_s is None:
        return not_known("warm-up", "no temperature in the log tells a warm engine from a cold one", NO_HEAT)
    warm_s = case.ran.full_throttle_s - case.ran.cold_full_s
    figure = f"{case.ran.cold_s:.0f} s cold, {case.ran.cold_full_s:.1f} s of it at full throttle"
    if case.ran.cold_full_s > 0.0 and warm_s < case.limits.full_throttle_s:
        return RuleResult(
            "warm-up",
            "fail",
            figure,
            f"only {warm_s:.1f} s of full throttle were with a warm engine, and a reading needs at least"
            f" {case.limits.full_throttle_s:g} s",
            "warm it up before full throttle",
        )
    if case.ran.cold_full_s > case.limits.cold_full_s:
        return RuleResult(
            "warm-up",
            "doubtful",
            figure,
            f"{case.ran.cold_full_s:.1f} s of full throttle were with a cold engine, whose nose lays down more carbon",
            "warm it up before full throttle",
        )
    if case.ran.cold_s > case.limits.cold_s:
        return RuleResult(
            "warm-up",
            "doubtful",
            figure,
            f"the plug ran for {case.ran.cold_s:.0f} s in a cold engine, and soot of a long warm-up may stay on it",
            WARM_FIRST,
        )
    return RuleResult("warm-up", "pass", figure, "the ring is that of a warm engine")


def head_temperature(case: Case) -> RuleResult:
    """Ask that the head came to the heat that it is raced at."""
    hottest_c = case.ran.hottest_c
    if hottest_c is None:
        return not_known(
            "head temperature", "neither a head nor a coolant temperature is in the log", NO_HEAT
        )
    by_coolant = case.ran.warm_by == "coolant"
    what, needs_c = ("coolant", case.limits.coolant_c) if by_coolant else ("head", case.limits.head_c)
    figure = f"{what} {hottest_c:.0f} Cel"
    if hottest_c < needs_c:
        return RuleResult(
            "head temperature",
            "doubtful",
            figure,
            f"in the last minute the {what} came to {hottest_c:.0f} Cel, and under {needs_c:g} the nose is cooler than"
            " when raced, so that the ring looks richer than the mixture was",
            "ride longer before the cut",
        )
    return RuleResult(
        "head temperature", "pass", figure, f"in the last minute the {what} came to {hottest_c:.0f} Cel"
    )


def misfire(case: Case) -> RuleResult:
    """Ask that the charge burned; a misfire wets and soots the nose, and reads lean at the sensor."""
    if case.ran.missed_s is None or case.ran.full_throttle_s is None:
        return not_known("misfire", "without a lambda reading nothing tells a misfire")
    missed_s, full_s = case.ran.missed_s, case.ran.full_throttle_s
    figure = f"{missed_s:.1f} s suspected"
    says = f"{missed_s:.1f} s of {full_s:.1f} s of full throttle may be misfire, which soots the nose"
    mend = "see to the ignition before the jets"
    if missed_s > 0.0 and missed_s > case.limits.misfire_share * full_s:
        return RuleResult("misfire", "fail", figure, says, mend)
    if missed_s > case.limits.misfire_s:
        return RuleResult("misfire", "doubtful", figure, says, mend)
    return RuleResult("misfire", "pass", figure, "no misfire to speak of is suspected at full throttle")


def kept_the_same(case: Case) -> RuleResult:
    """Ask that fuel, oil ratio and plug were those of today ever since the plug was fitted.

    What ran before a change counts only where it was enough to colour the nose.
    """
    rule = "changed since fitted"
    changes = [
        (number, change)
        for number, (before, after) in enumerate(pairwise(case.life.runs), start=1)
        for change in _changes(before, after, case.life.fitting.cylinder)
    ]
    if not changes:
        if case.life.runs[-1].setup.fuel is None:
            return not_known(rule, "nobody told the fuel", "write the session's set-up down")
        return RuleResult(
            rule, "pass", "nothing", "fuel, oil ratio and plug are what they were when it was fitted"
        )
    last, _ = changes[-1]
    before_s = sum(case.ran.by_session[:last]) if case.ran.by_session is not None else 0.0
    what = " and ".join(dict.fromkeys(change for _, change in changes))
    says = f"{what} while this plug was in, after {before_s:.1f} s of full throttle"
    figure = f"{before_s:.1f} s before the change"
    mend = "fit new or cleaned plugs with every change of fuel, oil or plug"
    if before_s >= case.limits.full_throttle_s:
        return RuleResult(rule, "fail", figure, f"{says}, so its colour is of both", mend)
    return RuleResult(rule, "doubtful", figure, f"{says}, so some of its colour may be older", mend)


def _changes(before: Run, after: Run, cylinder: int) -> list[str]:
    """Return what was set otherwise in the later of two sessions, as clauses; what nobody told is no change."""
    heat = [run.setup.of_cylinder(cylinder).plug_heat_range for run in (before, after)]
    types = [run.bike.plug.type if run.bike else None for run in (before, after)]
    told = (
        ("the fuel", *_fuels(before.setup, after.setup)),
        ("the oil ratio", _oil(before), _oil(after)),
        ("the heat range of the set-up", *(None if steps is None else f"{steps:+d}" for steps in heat)),
        ("the bike's plug type", *types),
    )
    return [
        f"{what} changed from {old} to {new} (session {after.session.id})"
        for what, old, new in told
        if old is not None and new is not None and old != new
    ]


def _fuels(before: Setup, after: Setup) -> tuple[str | None, str | None]:
    """Return the fuels of two set-ups in words that differ where the fuels do; None for one that nobody told.

    Two names are two fuels; a fuel without a name is told from another by its stoichiometric AFR.
    """
    if before.fuel is None or after.fuel is None:
        return None, None
    names = [fuel.name if isinstance(fuel, StatedFuel) else fuel for fuel in (before.fuel, after.fuel)]
    old, new = (session_fuel(setup)[0] for setup in (before, after))
    if None in names and abs(old.stoich_afr - new.stoich_afr) < _SAME_AFR:
        return old.name, old.name
    words = [
        name.strip().lower() if name else fuel.name for name, fuel in zip(names, (old, new), strict=True)
    ]
    return words[0], words[1]


def _oil(run: Run) -> str | None:
    ratio = run.setup.oil_ratio
    return None if ratio is None else f"{ratio:g}:1" if ratio else "none"
