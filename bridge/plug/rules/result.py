"""What a rule says of a reading."""

from dataclasses import dataclass
from typing import Literal

from bridge.model import PlugLife
from bridge.model.reading_limits import ReadingLimits
from bridge.plug.ran import Ran

Grade = Literal["pass", "doubtful", "fail", "not known"]
COMMON_PRACTICE = "common practice"
"""Where every rule comes from: tuners keep them, and no published source is known to us."""


@dataclass(frozen=True)
class Case:
    """What a rule is asked about."""

    life: PlugLife
    ran: Ran
    """What the log shows of it."""
    limits: ReadingLimits


@dataclass(frozen=True)
class RuleResult:
    """One rule's answer on one reading.

    Attributes:
        rule: its name.
        result: how the reading stands by it; ``not known`` where the log does not show what it asks for.
        figure: what it looked at, with its unit.
        says: the answer as a clause without full stop.
        next_time: what to do next time, likewise; None where there is nothing to do better.
        status: where the rule comes from.
    """

    rule: str
    result: Grade
    figure: str
    says: str
    next_time: str | None = None
    status: str = COMMON_PRACTICE

    @property
    def in_full(self) -> str:
        """The answer with what to do next time, a clause without full stop."""
        return self.says if self.next_time is None else f"{self.says}; {self.next_time}"


def not_known(rule: str, says: str, next_time: str | None = None) -> RuleResult:
    """Return the answer of a rule that could not be asked.

    Args:
        rule: its name.
        says: why not.
        next_time: what would let it be asked.
    """
    return RuleResult(rule, "not known", "no figure", says, next_time)
