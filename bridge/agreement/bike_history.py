"""The history of one plug type on one bike: which of its pairs count, and what is held before them."""

import math
from collections.abc import Sequence
from dataclasses import replace

from bridge.agreement.history import SENSORS_APART, History, history
from bridge.agreement.kept import Kept, alike
from bridge.model import ScaleStatement
from bridge.plug.ring_fit import Prior
from bridge.plug.scale import fit_prior, newest_statement

TWO_STROKES_APART = 0.03
"""The same as ``SENSORS_APART`` on a two-stroke, whose cylinders lose unequal shares of their charge; assumed [1]."""
_PLACE_SD_MM = 2.5
"""What a sensor that reads wrongly all season may move the place by besides [mm]; assumed."""
_SCATTER = 0.004
"""Scatter of one bike's ring from session to session before its pairs tell it, as the scale of a half-normal [1]: less
than between bikes, whose load and timing differ more; assumed. Simulated with 4 to 20 pairs, the 95 % intervals of a
scale so made hold 95 % of the time where the scatter is 0.005, and 89 % where it is 0.01."""


def bike_history(  # noqa: PLR0913  # a history is of one plug, nose and build, and leaves a session out
    kept: Sequence[Kept],
    statements: Sequence[ScaleStatement],
    *,
    plug_type: str | None,
    nose_mm: float,
    build: int | None,
    strokes: int | None,
    without: int | None = None,
) -> History | None:
    """Return what a plug of a bike is held against; None where no pair counts.

    Whoever judges a session leaves it out. With few pairs a history judges nothing, see ``History.enough``; it is still
    better than a guess for causes.

    Args:
        kept: pairs of the bike; those of another plug type, nose length or build do not count.
        statements: what the tuner stated of the ring.
        plug_type: the tuner's name of the plug type.
        nose_mm: length of the nose [mm].
        build: number of the engine build.
        strokes: 2 or 4; None where nobody knows.
        without: number of a session that is left out; None for none.
    """
    same = alike(kept, plug_type=plug_type, nose_mm=nose_mm, build=build)
    others = [one for one in same if one.pair.session != without]
    if not others:
        return None
    statement = newest_statement(statements, plug_type=plug_type, nose_mm=nose_mm, build=build)
    apart_sd = TWO_STROKES_APART if strokes == 2 else SENSORS_APART
    return history(others, _in_depth(fit_prior(nose_mm, statement)), nose_mm, apart_sd)


def _in_depth(prior: Prior) -> Prior:
    """Return a prior as unsure of its place, but in depth, so that a place away from it does not speak on the slope.

    A doubt in lambda grows in depth with the slope, and pairs whose place is well known would then favour flat slopes.
    """
    place_sd_mm = math.hypot(prior.place_sd_mm, prior.slope_mm * prior.lambda_sd, _PLACE_SD_MM)
    scatter = min(prior.scatter, _SCATTER)
    return replace(prior, place_sd_mm=place_sd_mm, lambda_sd=0.0, scatter=scatter)
