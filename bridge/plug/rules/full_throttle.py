"""Rules on the full throttle that printed the ring, and on what ran between it and the cut."""

from bridge.plug.ran import Ran
from bridge.plug.rules.result import Case, Grade, RuleResult, not_known

HOLD = "hold full throttle longer, where it is safe (runs on the same plug add up), and cut the ignition at its end"
CUT = "cut the ignition at full throttle with the clutch in, do not start it again, and push it back"
_TOLD_S = 0.5
"""What ran for less is not worth its name: an engine that runs down after its cut turns so long [s]."""
NO_FULL = "there was no full throttle"
SILENT = "the log does not show it"


def log(case: Case) -> RuleResult:
    """Ask that the log shows full throttle at all; what it cannot show is never taken as good."""
    if case.ran.blind is None:
        return RuleResult(
            "log", "pass", "throttle and engine speed", "the log shows throttle and engine speed"
        )
    return RuleResult(
        "log",
        "fail",
        "not known",
        f"{case.ran.blind}, so it cannot show what this plug saw",
        "record or map that channel",
    )


def full_throttle(case: Case) -> RuleResult:
    """Ask for enough full throttle on this plug to show on its nose."""
    seconds = case.ran.full_throttle_s
    if seconds is None:
        return not_known("full throttle", SILENT)
    figure = f"{seconds:.1f} s"
    if seconds < case.limits.full_throttle_s:
        return RuleResult(
            "full throttle",
            "fail",
            figure,
            f"the plug saw {figure} of full throttle, and a reading needs at least {case.limits.full_throttle_s:g} s",
            HOLD,
        )
    if seconds < case.limits.full_throttle_sure_s:
        return RuleResult(
            "full throttle",
            "doubtful",
            figure,
            f"it saw {figure} of full throttle, and under {case.limits.full_throttle_sure_s:g} s its ring may be faint",
            HOLD,
        )
    return RuleResult("full throttle", "pass", figure, f"the plug saw {figure} of full throttle")


def last_minute(case: Case) -> RuleResult:
    """Ask that full throttle be what the nose saw last."""
    seconds = case.ran.last_minute_s
    if seconds is None:
        return not_known("last minute", SILENT)
    figure = f"{seconds:.1f} s"
    says = f"of the last minute of running before the cut {figure} were at full throttle"
    if seconds < case.limits.last_minute_s:
        return RuleResult(
            "last minute",
            "fail",
            figure,
            f"{says}, and under {case.limits.last_minute_s:g} s the nose shows other running",
            HOLD,
        )
    if seconds < case.limits.last_minute_sure_s:
        return RuleResult(
            "last minute",
            "doubtful",
            figure,
            f"{says}, and under {case.limits.last_minute_sure_s:g} s it may show other running too",
            HOLD,
        )
    return RuleResult("last minute", "pass", figure, says)


def gap(case: Case) -> RuleResult:
    """Ask that nothing that ran after the last full throttle coloured the nose; an idle colours it soonest."""
    if case.ran.gap_s is None or case.ran.idle_s is None:
        return not_known("gap", SILENT)
    if case.ran.full_throttle_s == 0.0:
        return not_known("gap", NO_FULL, HOLD)
    idle_s, gap_s = case.ran.idle_s, case.ran.gap_s
    what = _what_ran(case.ran)
    figure = f"{gap_s:.1f} s{f': {what}' if what else ''}"
    ran_for = f"the engine ran for {gap_s:.0f} s between the last full throttle and the cut"
    ran_for += f" ({what})" if what else ""
    limits = case.limits
    graded: tuple[tuple[bool, Grade, str], ...] = (
        (gap_s > limits.gap_s, "fail", f"over {limits.gap_s:g} s may have coloured the nose on the way in"),
        (idle_s > limits.idle_s, "fail", f"over {limits.idle_s:g} s of idle colour the nose"),
        (gap_s > limits.gap_sure_s, "doubtful", f"over {limits.gap_sure_s:g} s may begin to colour the nose"),
        (
            idle_s > limits.idle_sure_s,
            "doubtful",
            f"over {limits.idle_sure_s:g} s of idle may begin to colour the nose",
        ),
    )
    for holds, result, why in graded:
        if holds:
            return RuleResult("gap", result, figure, f"{ran_for}, and {why}", CUT)
    return RuleResult("gap", "pass", figure, f"between the last full throttle and the cut lie {gap_s:.1f} s")


def clean_cut(case: Case) -> RuleResult:
    """Ask that the ignition was cut at full throttle; a longer gap is the matter of ``gap``."""
    if case.ran.gap_s is None or case.ran.stands is None:
        return not_known("clean cut", SILENT)
    if case.ran.full_throttle_s == 0.0:
        return not_known("clean cut", NO_FULL, HOLD)
    figure = f"{case.ran.gap_s:.1f} s after full throttle"
    if not case.ran.stands:
        return RuleResult(
            "clean cut",
            "doubtful",
            "engine running at the log's end",
            "the log ends with the engine running, so nobody knows how it was cut and what ran until then",
            "let the logger run until the engine stands",
        )
    if case.ran.gap_s > case.limits.clean_cut_s:
        says = f"full throttle ended {case.ran.gap_s:.1f} s before the engine stood, so the cut was not a clean one"
        return RuleResult("clean cut", "doubtful", figure, says, CUT)
    return RuleResult("clean cut", "pass", figure, "the ignition was cut at full throttle")


def _what_ran(ran: Ran) -> str:
    """Return what ran in the gap, each with its seconds; empty where there was next to none."""
    parts = (
        (ran.overrun_s, "overrun"),
        (ran.part_s, "part throttle"),
        (ran.idle_s, "idle"),
    )
    return ", ".join(
        f"{seconds:.1f} s {name}" for seconds, name in parts if seconds is not None and seconds >= _TOLD_S
    )
