"""Whether a reading is worth anything, as the log, the tray and the reading itself tell it.

The rules stand in ``bridge.plug.rules``, their limits in ``bridge.model.reading_limits``; all are common practice,
without a published source. A reading that fails stays on record and out of everything that is reckoned.
"""

from dataclasses import dataclass

from bridge.model import PlugLife
from bridge.model.reading_limits import ReadingLimits
from bridge.plug.lived import Lived, live_through
from bridge.plug.ran import ran
from bridge.plug.rules import RULES, Case, RuleResult

LIMITS = ReadingLimits()
"""Those of a bike whose file says nothing else."""


@dataclass(frozen=True)
class Validity:
    """The judgement on one reading.

    Attributes:
        valid: it may be compared: no rule failed.
        because: why not, in one sentence with its figure; None for a valid one.
        full_throttle_s: full throttle on this plug [s]; None where the log cannot show it.
        gap_s: running from the last full throttle to the cut [s]; None where the log cannot show it.
        rules: every rule's answer; none where no plug is known.
    """

    valid: bool
    because: str | None
    full_throttle_s: float | None
    gap_s: float | None
    rules: tuple[RuleResult, ...] = ()

    @property
    def failed(self) -> tuple[RuleResult, ...]:
        """The rules that it broke; ``because`` is the first one's."""
        return tuple(one for one in self.rules if one.result == "fail")

    @property
    def doubtful(self) -> tuple[RuleResult, ...]:
        """The rules that leave a doubt."""
        return tuple(one for one in self.rules if one.result == "doubtful")


def judge(life: PlugLife, lived: Lived | None = None, limits: ReadingLimits | None = None) -> Validity:
    """Judge the reading of a plug.

    Args:
        life: the plug, its reading, and the running it lived through.
        lived: what ``live_through`` gave for the same, where it is at hand.
        limits: the limits of the rules; None for those of the bike's file.

    Returns:
        The judgement; the first rule broken is the one that is named.
    """
    lived = lived or live_through(life.runs, life.fitting.cylinder)
    case = Case(life, ran(lived), limits or limits_of(life))
    answers = tuple(answer for rule in RULES if (answer := rule(case)) is not None)
    failed = next((answer for answer in answers if answer.result == "fail"), None)
    return Validity(
        failed is None, failed.in_full if failed else None, lived.full_throttle_s, lived.gap_s, answers
    )


def limits_of(life: PlugLife) -> ReadingLimits:
    """Return the limits that the bike's file says for a plug's reading."""
    bike = life.runs[-1].bike
    return LIMITS if bike is None else bike.reading
