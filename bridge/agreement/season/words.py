"""A season for a person: a paragraph a method, none of which claims more than its interval."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from bridge.agreement.season.shows import cannot_show
from bridge.agreement.season.statement import without_off
from bridge.agreement.words import COMPETENT, LEAN, LEAN_STOPPED, TWO_STROKE

if TYPE_CHECKING:
    from bridge.agreement.season.points import Absolute
    from bridge.agreement.season.result import Season

_SCALES = {
    "pairs": "each ring by a scale fitted on the other sessions' pairs",
    "stated": "each ring by your own statement of the scale, since too few other sessions have pairs",
    "guess": "each ring by the starting guess of the scale, since too few other sessions have pairs",
    "mixed": "the rings by your own statements and by the starting guess, since too few other sessions have pairs",
}


def season_words(found: Season) -> list[str]:
    """Return a season's paragraphs.

    Args:
        found: the season.
    """
    paragraphs = [_head(found), *figures_in_words(found), *_left_out(found)]
    return paragraphs + [f"Caution: {text}" for text in cautions(found)]


def figures_in_words(found: Season) -> list[str]:
    """Return what each method says, and what none of them can show.

    Args:
        found: the season.
    """
    if not found.points:
        return []
    blind = cannot_show(found)
    shared = [
        text for text in blind["bland_altman"] if all(text in blind[one] for one in ("deming", "equivalence"))
    ]
    return [
        _bias(found),
        *_limits(found),
        *without_off(found),
        *_equivalence(found),
        *(_absolute(one) for one in found.absolute if found.scale == "pairs"),
        _line(found),
        *_proportional(found),
        _concordance(found),
        _drift(found),
        *(f"What this cannot show: {text}." for text in shared),
    ]


def cautions(found: Season) -> tuple[str, ...]:
    """Return the cautions that stand beside a season's figures, what a plug shows first."""
    lean = LEAN_STOPPED if found.stops else LEAN
    two_stroke = (TWO_STROKE,) if found.two_stroke else ()
    return *(stop.sentence for stop in found.stops), lean, *two_stroke, COMPETENT


def _head(found: Season) -> str:
    whose = ", ".join(found.bikes) or "no bike"
    if not found.points:
        return f"{whose}: there is no pair of a valid reading and a measured lambda to compare by."
    n, k = len(found.points), found.bland_altman.sessions
    return (
        f"{whose}: {_count(n, 'pair')} of {_count(k, 'session')}, {_SCALES[found.scale or 'guess']}. Differences are"
        f" ring minus measured: negative is the ring richer. The margin is ±{found.margin:g} lambda."
    )


def _bias(found: Season) -> str:
    limits = found.bland_altman
    low, high = found.bias_interval
    ends = "" if low is None or high is None else f" ({low:+.3f} to {high:+.3f}, 95 % interval)"
    because = f" No interval: {limits.because}." if limits.because and not ends else ""
    return f"On average the difference is {limits.bias:+.3f}{ends}.{because}"


def _limits(found: Season) -> list[str]:
    limits = found.bland_altman
    if limits.lower is None or limits.upper is None:
        return [] if found.bias_interval[0] is None else [f"No limits of agreement: {limits.because}."]
    within = (
        ""
        if limits.within_sd is None
        else f" Of the scatter of {limits.sd:.3f}, {limits.between_sd:.3f} is between sessions and"
        f" {limits.within_sd:.3f} within them."
    )
    inside = limits.lower.low is not None and limits.upper.high is not None
    surely = (
        inside and -found.margin < (limits.lower.low or 0.0) and (limits.upper.high or 0.0) < found.margin
    )
    verdict = (
        "so a single reading surely lies within the margin"
        if surely
        else "so that a single reading lies within the margin is not shown"
    )
    said = (
        f"Limits of agreement: 95 % of single differences lie from {limits.lower.value:+.3f}"
        f" ({limits.lower.low:+.3f} to {limits.lower.high:+.3f}) to {limits.upper.value:+.3f}"
        f" ({limits.upper.low:+.3f} to {limits.upper.high:+.3f}), {verdict}.{within}"
    )
    return [said]


def _equivalence(found: Season) -> list[str]:
    test = found.equivalence
    if found.scale != "pairs":
        said = "is shown" if found.equivalent else "is not shown"
        return [
            f"That the average lies inside the margin {said}, the scale's and the sensor's own errors counted."
        ]
    if test.because or test.low is None or test.high is None:
        return [f"No test of equivalence: {test.because}."]
    said = (
        "the two agree on average over the season" if test.equivalent else "agreement on average is not shown"
    )
    tested = (
        f"Two one-sided tests at 5 %: the 90 % interval of the average is {test.low:+.3f} to {test.high:+.3f}, so"
        f" {said}. Against the bike's own history that is soon shown, and it says nothing of an error that both share."
    )
    return [tested]


def _absolute(one: Absolute) -> str:
    bias = one.bias
    scale = "your own statement" if one.scale == "stated" else "the starting guess"
    verdict = {
        "agree": "the two methods agree on average",
        "ring richer": "the rings read richer than the sensor",
        "ring leaner": "the rings read leaner than the sensor",
        "cannot say": "that cannot tell whether they agree",
    }[bias.verdict]
    return (
        f"Absolutely, by {scale}, with the scale's and the sensor's own errors counted: {bias.difference:+.3f}"
        f" ({bias.low:+.3f} to {bias.high:+.3f}), {_count(one.pairs, 'pair')} of plug {one.plug_type or 'of no name'},"
        f" engine build {one.build}: {verdict}."
    )


def _line(found: Season) -> str:
    line = found.deming
    if line.slope is None or line.intercept is None:
        return f"No line of both methods: {line.because}."
    ends = (
        f"no interval: {line.because}"
        if line.slope_low is None or line.slope_high is None
        else f"{line.slope_low:.2f} to {line.slope_high:.2f}"
    )
    return (
        f"Line with error in both (Deming, ring's over sensor's error variance {line.ratio:.1f}): ring ="
        f" {line.intercept:.3f} {line.slope:+.3f} measured; slope {ends}. Agreement has slope 1."
    )


def _proportional(found: Season) -> list[str]:
    slope = found.proportional
    if slope.slope is None or slope.low is None or slope.high is None:
        return []
    said = "grows" if slope.slope > 0 else "falls"
    shown = (
        f"The difference {said} with lambda"
        if slope.shown
        else "That the difference changes with lambda is not shown"
    )
    return [f"{shown}: {slope.slope:+.2f} for each 1.00 ({slope.low:+.2f} to {slope.high:+.2f})."]


def _concordance(found: Season) -> str:
    one = found.concordance
    if one.value is None:
        return f"No concordance: {one.because}."
    ends = "" if one.low is None or one.high is None else f" ({one.low:.2f} to {one.high:.2f})"
    return f"Lin's concordance: {one.value:.2f}{ends}; 1 is equality."


def _drift(found: Season) -> str:
    drift, turn = found.drift, found.turn
    if drift.because:
        return f"Drift over time: {drift.because}."
    own = [number for number, one in found.drift_by_cylinder.items() if one.shown]
    alone = f" In cylinder {' and '.join(map(str, own))} alone it shows." if own else ""
    if turn is None or drift.before is None or drift.after is None:
        chance = f"chance alone gives such a cumulative sum in {drift.p:.0%} of seasons"
        return f"No drift over time is shown: {chance}.{alone}"
    points_at = {
        "gradual": "It runs gradually, as where a sensor ages: a free-air check would tell.",
        "jump": "It jumps, as where something was changed: a plug type, the sensor, the fuel.",
        "cannot tell": "A gradual run (an ageing sensor: check it in free air) and a jump (a changed plug, sensor or"
        " fuel) cannot be told apart.",
    }[drift.pattern or "cannot tell"]
    changed = (
        f" Written down as changed there: {'; '.join(turn.changed)}."
        if turn.changed
        else " Nothing is written down as changed there."
    )
    return (
        f"The difference drifts: {drift.before:+.3f} up to session {turn.last}, {drift.after:+.3f} from session"
        f" {turn.first} on, more than chance gives in 95 % of seasons. {points_at}{changed}{alone}"
    )


def _left_out(found: Season) -> list[str]:
    by_why = Counter(one.why for one in found.left_out)
    places: dict[str, list[str]] = {}
    for one in found.left_out:
        where = (
            f"session {one.session}"
            if one.cylinder is None
            else f"session {one.session} cylinder {one.cylinder}"
        )
        places.setdefault(one.why, []).append(where)
    paragraphs = [
        f"Left out ({count}): {', '.join(places[why][:6])}{' and more' if count > 6 else ''}: {why.rstrip('.')}."
        for why, count in by_why.most_common()
    ]
    if found.not_asked:
        paragraphs.append(f"Not asked for: {_count(found.not_asked, 'more pair')}.")
    return paragraphs


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"
