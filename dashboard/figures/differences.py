"""Ring minus measured over their mean: single pairs, bias and limits of agreement with their intervals, the margin.

The plot of Bland and Altman (1986, published).
"""

from collections.abc import Sequence
from dataclasses import dataclass

from dashboard.figures.chart import Frame, across, upwards, whose
from dashboard.figures.svg import figure, line, rect, tag, text, title

WIDTH, HEIGHT = 430.0, 400.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 44.0, 312.0, 22.0, 344.0


@dataclass(frozen=True)
class Pair:
    """One pair.

    Attributes:
        session: its number.
        cylinder: from 1; 0 where one sensor stands for all.
        average: half way between the two methods [1].
        difference: ring minus measured [1].
        low: lower end of its 95 % interval [1].
        high: upper end of it [1].
    """

    session: int
    cylinder: int
    average: float
    difference: float
    low: float
    high: float


@dataclass(frozen=True)
class Level:
    """A level of the difference with its 95 % interval; None where it has none."""

    words: str
    value: float
    low: float | None
    high: float | None


def differences_svg(pairs: Sequence[Pair], bias: Level | None, limits: Sequence[Level], margin: float) -> str:
    """Return the plot.

    Args:
        pairs: one at least.
        bias: the mean difference.
        limits: the limits of agreement, none where there are too few sessions.
        margin: what counts as agreement [1].
    """
    frame = _frame(pairs, bias, limits, margin)
    parts = [
        rect(
            _LEFT,
            frame.y(margin),
            _RIGHT - _LEFT,
            frame.y(-margin) - frame.y(margin),
            fill="var(--tone-2)",
            opacity=0.28,
        ),
        *upwards(frame, 2, 6),
        *across(frame, "mean of ring and measured lambda", 5),
        line(_LEFT, frame.y(0.0), _RIGHT, frame.y(0.0), stroke="var(--ink)", stroke_width=1.0),
        text(_LEFT + 4.0, _TOP - 6.0, "ring leaner than sensor", class_="quiet small"),
        text(_LEFT + 4.0, _BOTTOM - 6.0, "ring richer than sensor", class_="quiet small"),
    ]
    levels = [*limits, *([bias] if bias else [])]
    parts += [part for level in levels for part in _level(frame, level, dashed=level is not bias)]
    parts += _labels(frame, levels, margin)
    parts += [_pair(frame, pair) for pair in pairs]
    told = "; ".join(f"{level.words} {level.value:+.3f}" for level in levels)
    words = f"Differences of ring and measured lambda, {len(pairs)} pairs: {told or 'no bias yet'}."
    return figure(WIDTH, HEIGHT, words, *parts, class_="chart differences")


def _frame(pairs: Sequence[Pair], bias: Level | None, limits: Sequence[Level], margin: float) -> Frame:
    lambdas = [pair.average for pair in pairs]
    middle, half = (min(lambdas) + max(lambdas)) / 2, max((max(lambdas) - min(lambdas)) * 0.58, 0.02)
    ends = (
        [abs(end) for pair in pairs for end in (pair.low, pair.high)]
        + [abs(one.value) for one in limits]
        + [margin]
    )
    ends += [abs(bias.value)] if bias else []
    reach = 1.18 * max(ends)
    return Frame(_LEFT, _RIGHT, _TOP, _BOTTOM, (middle - half, middle + half), (-reach, reach))


def _level(frame: Frame, level: Level, *, dashed: bool) -> list[str]:
    y = frame.y(level.value)
    parts = [
        line(
            _LEFT,
            y,
            _RIGHT,
            y,
            stroke="var(--ring)",
            stroke_width=1.8,
            stroke_dasharray="7 5" if dashed else None,
        )
    ]
    if level.low is None or level.high is None:
        return parts
    if not dashed:
        top, bottom = frame.y(level.high), frame.y(level.low)
        return [rect(_LEFT, top, _RIGHT - _LEFT, bottom - top, fill="var(--ring)", opacity=0.16), *parts]
    # how sure a limit is, as a bar at the edge: as tinted ground it would hide the pairs
    x = _RIGHT - (6.0 if level.value > 0.0 else 12.0)
    parts.append(line(x, frame.y(level.low), x, frame.y(level.high), stroke="var(--ring)", stroke_width=3.0))
    return parts


def _labels(frame: Frame, levels: Sequence[Level], margin: float) -> list[str]:
    """Words at the right, moved apart where they would lie on each other."""
    wanted = sorted(
        [(frame.y(level.value), f"{level.words} {level.value:+.3f}", "small") for level in levels]
        + [(frame.y(margin), f"margin {margin:g}", "quiet small")]
    )
    parts, last = [], _TOP - 20.0
    for y, words, look in wanted:
        last = max(y + 4.0, last + 15.0)
        parts.append(text(_RIGHT + 8.0, last, words.replace("-", "\N{MINUS SIGN}"), class_=look))
    return parts


def _pair(frame: Frame, pair: Pair) -> str:
    x, y = frame.x(pair.average), frame.y(pair.difference)
    words = f"Session {pair.session}, {whose(pair.cylinder)}: {pair.difference:+.3f}"
    return tag(
        "g",
        title(words),
        line(
            x,
            frame.y(pair.low),
            x,
            frame.y(pair.high),
            stroke="var(--sensor)",
            stroke_width=1.0,
            opacity=0.45,
        ),
        tag("circle", cx=x, cy=y, r=9.0, fill="var(--ground)", stroke="var(--sensor)", stroke_width=1.6),
        text(x, y + 4.0, str(pair.cylinder or ""), class_="small", text_anchor="middle"),
    )
