"""What each method cannot show: the sentences that stand beside its figures."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from bridge.agreement.season.result import Season

FEW_FOR_LIMITS = 40
"""Pairs under which limits of agreement are rough; common practice, no source."""

_CIRCLE = (
    "an error that sensor and scale carry through the whole season, since each ring was judged by a scale that stands"
    " on the same sensor's other sessions"
)
_SHARED = "the scale's own error and the sensor's, which are the same in every session and shift all differences alike"


def cannot_show(found: Season) -> dict[str, tuple[str, ...]]:
    """Return, for each method, what it cannot show in this season.

    Args:
        found: the season.
    """
    circle = () if found.scale is None else (_CIRCLE if found.scale == "pairs" else _SHARED,)
    few = (
        (f"with under {FEW_FOR_LIMITS} pairs the limits are rough: their own intervals tell how rough",)
        if found.bland_altman.lower and found.bland_altman.n < FEW_FOR_LIMITS
        else ()
    )
    return {
        "bland_altman": (*circle, *few, "which of the two methods is right"),
        "deming": (*_span(found), *circle, "which of the two methods is right"),
        "proportional": (*_span(found), "which of the two methods is right"),
        "concordance": (
            "it grows with the range of mixtures that was ridden, so it compares no two seasons",
            *circle,
        ),
        "equivalence": (
            "it is about the average of the season; a single reading may lie as far off as the limits of agreement",
            *circle,
        ),
        "drift": ("what drifts in both methods alike, and which of the two moved",),
    }


def _span(found: Season) -> tuple[str, ...]:
    if not found.points:
        return ()
    measured = [point.measured for point in found.points]
    low, high = min(measured), max(measured)
    return (f"anything of mixtures outside lambda {low:.3f} to {high:.3f}, where no pair lies",)
