"""The rules that a reading is judged by, each on its own. All of them are common practice, without a source."""

from collections.abc import Callable

from bridge.plug.rules import engine, full_throttle, seen
from bridge.plug.rules.result import COMMON_PRACTICE, Case, Grade, RuleResult, not_known

Rule = Callable[[Case], RuleResult | None]

RULES: tuple[Rule, ...] = (
    seen.tray_order,
    seen.state_when_fitted,
    seen.reading,
    full_throttle.log,
    full_throttle.full_throttle,
    full_throttle.last_minute,
    full_throttle.gap,
    full_throttle.clean_cut,
    seen.no_ring,
    engine.warm_up,
    engine.head_temperature,
    engine.misfire,
    seen.heat_range,
    seen.plug_type,
    engine.kept_the_same,
    seen.specks,
)
"""In the order in which they are told; the first one that fails is a reading's reason. A rule gives None where it
has nothing to ask."""

__all__ = ["COMMON_PRACTICE", "RULES", "Case", "Grade", "Rule", "RuleResult", "not_known"]
