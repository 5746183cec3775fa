"""Rules on the plug and on what a person saw of it."""

from bridge.model import PlugLife
from bridge.plug.rules.full_throttle import HOLD
from bridge.plug.rules.result import Case, RuleResult, not_known


def tray_order(case: Case) -> RuleResult:
    """Ask whether it is known which cylinder the plug came from."""
    fitting = case.life.fitting
    if fitting.order_lost:
        return RuleResult(
            "tray order",
            "fail",
            "order lost",
            f"the order of the tray was lost, so nobody knows which cylinder plug {fitting.plug} came from",
            "put each plug into its cylinder's place in the tray as it comes out",
        )
    where = f"cylinder {fitting.cylinder}"
    return RuleResult("tray order", "pass", where, f"plug {fitting.plug} is that of {where}")


def state_when_fitted(case: Case) -> RuleResult:
    """Ask whether the plug could show anything but its past."""
    plug, state = case.life.fitting.plug, case.life.fitting.state
    if state == "used":
        return RuleResult(
            "state when fitted",
            "fail",
            state,
            f"plug {plug} was used when it was fitted, and a plug that was neither new nor cleaned keeps its old"
            " colour",
            "fit a new or cleaned one",
        )
    return RuleResult("state when fitted", "pass", state, f"plug {plug} was {state} when it was fitted")


def reading(case: Case) -> RuleResult:
    """Ask whether somebody saw where the ring is, or that there is none."""
    plug, seen = case.life.fitting.plug, case.life.reading
    if seen is None:
        return RuleResult(
            "reading",
            "fail",
            "not read",
            f"plug {plug} has not been read after this session",
            "read it before it runs again",
        )
    if seen.ring == "not-seen":
        return RuleResult(
            "reading",
            "fail",
            "ring not seen",
            f"nobody could see the ring of plug {plug}",
            "look with more light, or cut the shell away",
        )
    figure = f"{seen.ring_mm:g} mm" if seen.ring_mm is not None else f"ring: {seen.ring}"
    return RuleResult("reading", "pass", figure, f"plug {plug} was read")


def no_ring(case: Case) -> RuleResult | None:
    """Ask whether "no ring" means lean here; None where a ring was seen, and where the log is silent."""
    if case.life.reading is None or case.life.reading.ring != "none" or case.ran.full_throttle_s is None:
        return None
    seconds = case.ran.full_throttle_s
    figure = f"{seconds:.1f} s, {heat_range_in_words(case.life.heat_range)}"
    if seconds < case.limits.no_ring_s:
        return RuleResult(
            "no ring",
            "fail",
            figure,
            f"no ring after {seconds:.1f} s of full throttle may only mean too short a run; it counts as lean from"
            f" {case.limits.no_ring_s:g} s on, on a plug of the usual heat range",
            HOLD,
        )
    if case.life.heat_range != 0:
        return RuleResult(
            "no ring",
            "fail",
            figure,
            "no ring counts as lean only at the usual heat range, and this plug is"
            f" {heat_range_in_words(case.life.heat_range)}",
            "fit the usual one",
        )
    return RuleResult(
        "no ring",
        "pass",
        figure,
        f"{seconds:.1f} s of full throttle would have left a ring on a richer engine",
    )


def specks(case: Case) -> RuleResult | None:
    """Ask whether somebody looked for specks; None for a plug that nobody read."""
    if case.life.reading is None:
        return None
    found = case.life.reading.specks
    if found == "not-looked":
        return RuleResult(
            "specks",
            "doubtful",
            "not looked",
            "nobody looked for specks, so nothing rules out detonation: go no leaner before somebody has",
            "look all over nose and shell with a magnifier for bright beads and for black pepper",
        )
    if found == "aluminium":
        return RuleResult(
            "specks",
            "doubtful",
            found,
            "detonation, which aluminium may mean, heats the nose and drives the ring deeper, so that it looks leaner"
            " than the mixture was",
            "find out why before it runs again",
        )
    return RuleResult("specks", "pass", found, f"specks were looked for: {found}")


def heat_range(case: Case) -> RuleResult:
    """Ask whether the nose sheds its heat as the bike's usual one does."""
    words = heat_range_in_words(case.life.heat_range)
    told = case.life.fitting.heat_range is not None or _in_setup(case.life) is not None
    if case.life.heat_range == 0:
        return RuleResult(
            "heat range", "pass", words if told else f"{words}, as nothing else was told", f"it is {words}"
        )
    side = (
        "nearer the tip, as a richer mixture would"
        if case.life.heat_range > 0
        else "deeper, as a leaner one would"
    )
    return RuleResult(
        "heat range",
        "doubtful",
        words,
        f"this plug is {words} than usual, which moves its ring {side}",
        "compare readings of one heat range only",
    )


def plug_type(case: Case) -> RuleResult:
    """Ask whether the plug is of the type that the bike's ring scale is for."""
    bike = case.life.runs[-1].bike
    usual = bike.plug.type if bike else None
    if case.life.type is None:
        return not_known(
            "plug type", "nobody told the plug's type", "write it down under [plug] of the bike's file"
        )
    if usual is not None and usual != case.life.type:
        return RuleResult(
            "plug type",
            "doubtful",
            case.life.type,
            f"this plug is a '{case.life.type}' and the bike's usual one is a '{usual}', and a"
            " ring scale holds for one type",
            "read plugs of one type, or state where the ring sits on this one",
        )
    return RuleResult("plug type", "pass", case.life.type, "it is of the bike's usual type")


def heat_range_in_words(steps: int) -> str:
    """Return a heat range as ``2 steps colder``."""
    if steps == 0:
        return "the usual heat range"
    return f"{abs(steps)} step{'s' if abs(steps) > 1 else ''} {'colder' if steps > 0 else 'hotter'}"


def _in_setup(life: PlugLife) -> int | None:
    return life.runs[-1].setup.of_cylinder(life.fitting.cylinder).plug_heat_range
