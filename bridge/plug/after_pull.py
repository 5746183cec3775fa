"""A reading whose plug was cut at the end of a pull: its conditions are the best known of all.

Load, gear and speeds of a pull are those of every other one, the mixture along it is measured, and nothing ran after
it. So such a ring is taken to scatter less from session to session than one after a ride (``PULL_SCATTERS`` of
``bridge.plug.ring_fit``), as far as it was pulls that printed it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import polars as pl

from bridge.model import PullSettings, Run
from bridge.plug.exposure import MEMORY_S, exposed
from bridge.plug.lived import Lived
from bridge.plug.ran import ran
from bridge.plug.validity import LIMITS, Validity
from bridge.pulls.conditions import conditions
from bridge.pulls.course import Piece
from bridge.pulls.find import Findings, find
from bridge.pulls.log import log_of
from bridge.pulls.result import CHOP_WITHIN_S, chop_after

_SHUT_S = 0.3
"""A throttle that was not full for longer than this between a pull and the cut ended the pull for good [s]; on a slow
log two of its rows."""
_PART_S = 0.5
"""Part throttle for longer than a hand takes to shut it is running [s]."""


@dataclass(frozen=True)
class AfterPull:
    """The pull at whose end a plug was cut.

    Attributes:
        number: of the pull in its session, from 1.
        rpm_from: engine speed at its start [1/min].
        rpm_to: and at its end [1/min].
        chop_s: from its end to the marked chop [s]; None where nobody marked one, and the log shows a clean cut.
        exposure: share of what printed the ring that was pulls of this session, the last one up to the cut [1].
        outside: why it counts as any other reading all the same, one clause each.
    """

    number: int
    rpm_from: float
    rpm_to: float
    chop_s: float | None
    exposure: float
    outside: tuple[str, ...] = ()

    @property
    def pull_share(self) -> float:
        """As ``RingPair`` takes it [1]."""
        return 0.0 if self.outside else self.exposure


def pulls_in(run: Run) -> Findings:
    """Return the pulls of a session, as a reading asks for them.

    Args:
        run: the session; it needs ``rpm``.
    """
    return find(log_of(run), run.bike, _settings(run))


def cut_after_pull(run: Run, lived: Lived, validity: Validity, findings: Findings) -> AfterPull | None:
    """Return the pull that a reading was cut at the end of.

    Args:
        run: the session of the reading, the last one that the plug lived through.
        lived: what the logs show of the plug.
        validity: the judgement on its reading.
        findings: the pulls of the session.

    Returns:
        None where the last full throttle on the plug was no pull, or went on for more than 5 s after one; where it was
        not cut at its end (a marked chop within 5 s, or a clean cut that the log shows) or the log shows part throttle
        or an idle after it, whatever was marked; and for a reading that is not valid.
    """
    grades = {rule.rule: rule.result for rule in validity.rules}
    pulls = findings.of("pull")
    if not validity.valid or grades.get("gap") != "pass" or not pulls:
        return None
    last = pulls[-1]
    here = pl.col("run") == lived.sessions - 1
    full_s = lived.frame.filter(pl.col("full") & here & (pl.col("t_s") >= last.end_s))["t_s"]
    chop_s = chop_after(last, run.marks)
    cut = chop_s is not None or grades.get("clean cut") == "pass"
    if not cut or _ran_on(lived, run) or not _same_stretch(full_s, last.end_s, findings.near.longest_step_s):
        return None
    spans = [(one.start_s, one.end_s) for one in pulls[:-1]]
    spans.append((last.start_s, max([last.end_s, *full_s])))
    return AfterPull(
        number=len(pulls),
        rpm_from=last.rpm_from,
        rpm_to=last.rpm_to,
        chop_s=chop_s,
        exposure=_exposure(lived, here, spans, MEMORY_S if run.bike is None else run.bike.reading.memory_s),
        outside=_outside(findings, pulls, run),
    )


def _ran_on(lived: Lived, run: Run) -> bool:
    """Return whether the engine did more after the last full throttle than run down with its throttle shut."""
    after = ran(lived)
    idle_s = LIMITS.idle_sure_s if run.bike is None else run.bike.reading.idle_sure_s
    return (after.part_s or 0.0) > _PART_S or (after.idle_s or 0.0) > idle_s


def _same_stretch(full_s: pl.Series, end_s: float, step_s: float) -> bool:
    """Return whether what was full throttle from a pull's end on [s] goes on without a break, and not for long."""
    moments = [end_s, *full_s.to_list()]
    return moments[-1] - end_s <= CHOP_WITHIN_S and all(
        b - a <= max(_SHUT_S, step_s) for a, b in pairwise(moments)
    )


def _exposure(lived: Lived, here: pl.Expr, spans: Sequence[tuple[float, float]], memory_s: float) -> float:
    """Return the share of what printed the ring that these spans of full throttle were [1]."""
    rows = exposed(lived, memory_s)
    in_one = [pl.col("t_s").is_between(start, end) for start, end in spans]
    weights = rows.select(
        pulls=pl.col("weight").filter(here & pl.any_horizontal(in_one)).sum(), all=pl.col("weight").sum()
    )
    return float(weights["pulls"][0] / weights["all"][0]) if weights["all"][0] else 0.0


def _outside(findings: Findings, pulls: Sequence[Piece], run: Run) -> tuple[str, ...]:
    """Return what of the last pull is outside the bike's stated window."""
    before = pulls[-2].end_s if len(pulls) > 1 else None
    began = conditions(
        findings.near, pulls[-1].start_s, pulls[-1].end_s, before, run.setup.weather, _settings(run)
    )
    return began.outside


def _settings(run: Run) -> PullSettings:
    return PullSettings() if run.bike is None else run.bike.pulls
