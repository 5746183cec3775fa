"""Power against mixture at one engine speed: the runs, the fitted curve, where it is greatest and how surely."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from dashboard.figures.chart import Frame, across, mixture_strip, trace, upwards
from dashboard.figures.pull_chart import LAMBDA, WIDE, Floats, head
from dashboard.figures.svg import figure, line, rect, tag, text, title

_LEFT = 48.0


@dataclass(frozen=True)
class Tried:
    """One run at the engine speed asked for.

    Attributes:
        session: its number.
        number: of the pull.
        lambda_: measured [1].
        kw: power [kW].
    """

    session: int
    number: int
    lambda_: float
    kw: float


@dataclass(frozen=True)
class Fitted:
    """The curve through them.

    Attributes:
        x: lambda, shape (n,) [1].
        y: power, shape (n,) [kW].
        best: where it is greatest [1]; None where no best is told.
        low: ends of its 95 % interval [1]; None where it is not bounded.
        high: the other end.
        flat: between which lambdas power stays within 1 % of the top [1].
        edge: ``low`` or ``high``, the end beyond which the best may lie; None inside.
    """

    x: Floats
    y: Floats
    best: float | None
    low: float | None
    high: float | None
    flat: tuple[float, float] | None
    edge: str | None

    @property
    def bounded(self) -> tuple[float, float] | None:
        """Both ends of the interval, which the drawing tints; None at the edge, or where an end is not known."""
        if self.edge is not None or self.low is None or self.high is None:
            return None
        return self.low, self.high


def pull_best_svg(
    rpm: float, tried: Sequence[Tried], fitted: Fitted | None, said: Sequence[str], *, width: float = WIDE
) -> str:
    """Return the chart.

    Args:
        rpm: the engine speed [1/min].
        tried: the runs that count, one at least.
        fitted: None where there are too few for a curve.
        said: what has to stand on the figure, such as the correction.
        width: of the drawing's grid [px].
    """
    written, under = head(said, width)
    top = under + 42.0
    bottom = top + 0.22 * width + 130.0
    lambdas = [one.lambda_ for one in tried]
    powers = [one.kw for one in tried] + (
        [] if fitted is None else [float(fitted.y.min()), float(fitted.y.max())]
    )
    wide, room = max(max(lambdas) - min(lambdas), 0.02), max(max(powers) - min(powers), 0.2)
    frame = Frame(
        _LEFT,
        width - 16.0,
        top,
        bottom,
        (min(lambdas) - 0.12 * wide, max(lambdas) + 0.12 * wide),
        (min(powers) - 0.15 * room, max(powers) + 0.2 * room),
    )
    parts = [
        *written,
        *upwards(frame, 1 if room < 8.0 else 0, 5),
        text(_LEFT - 6.0, top - 10.0, "kW", class_="strong", text_anchor="end"),
        *([] if fitted is None else _curve(frame, fitted)),
        *(_point(frame, one) for one in tried),
        *mixture_strip((frame.left, bottom - 7.0, frame.right - frame.left, 6.0), *frame.x_range),
        *across(frame, f"measured {LAMBDA}", 5 if width > 500.0 else 4),
    ]
    return figure(width, bottom + 42.0, _in_words(rpm, tried, fitted, said), *parts, class_="chart pull-best")


def _in_words(rpm: float, tried: Sequence[Tried], fitted: Fitted | None, said: Sequence[str]) -> str:
    words = f"Power against measured lambda at {rpm:.0f} revolutions a minute, {len(tried)} runs."
    if fitted is not None and fitted.edge is not None:
        words += (
            f" The most power is at the {'lean' if fitted.edge == 'high' else 'rich'} edge of what was tried."
        )
    elif fitted is not None and fitted.best is not None and fitted.bounded is not None:
        low, high = fitted.bounded
        words += f" Greatest at lambda {fitted.best:.3f}, {low:.3f} to {high:.3f}."
    return f"{words} {' '.join(said)}".strip()


def _curve(frame: Frame, fitted: Fitted) -> list[str]:
    parts = []
    if fitted.bounded is not None:
        low, high = fitted.bounded
        parts.append(
            rect(
                frame.x(low),
                frame.top,
                max(frame.x(high) - frame.x(low), 1.5),
                frame.bottom - frame.top,
                fill="var(--sensor)",
                opacity=0.16,
            )
        )
    parts.append(trace(frame, fitted.x, fitted.y, stroke="var(--ink)", stroke_width=2.0))
    best = fitted.best
    if fitted.edge is not None:
        return [*parts, *_edge(frame, fitted)]
    if best is not None and fitted.bounded is not None:
        low, high = fitted.bounded
        x = frame.x(best)
        parts += [
            line(
                x,
                frame.top,
                x,
                frame.bottom,
                stroke="var(--sensor)",
                stroke_width=1.8,
                stroke_dasharray="6 4",
            ),
            text(x, frame.top - 24.0, f"best {best:.3f}", class_="strong", text_anchor="middle"),
            text(x, frame.top - 9.0, f"{low:.3f} to {high:.3f}", class_="quiet small", text_anchor="middle"),
        ]
        parts += _flat(frame, fitted)
    return parts


def _flat(frame: Frame, fitted: Fitted) -> list[str]:
    """A bracket under the top: within it power stays within 1 %."""
    if fitted.flat is None:
        return []
    a, b = (frame.x(value) for value in fitted.flat)
    y = frame.bottom - 16.0
    return [
        line(a, y, b, y, stroke="var(--ring)", stroke_width=2.0),
        *(line(x, y - 5.0, x, y + 5.0, stroke="var(--ring)", stroke_width=2.0) for x in (a, b)),
        text((a + b) / 2.0, y - 6.0, "within 1 % of the top", class_="small halo", text_anchor="middle"),
    ]


def _edge(frame: Frame, fitted: Fitted) -> list[str]:
    """An arrow off the edge, since the best may lie beyond it."""
    right = fitted.edge == "high"
    n = int(np.argmax(fitted.y))
    way = 1.0 if right else -1.0
    x, y = frame.x(float(fitted.x[n])), frame.y(float(fitted.y[n])) - 20.0
    words = "at the edge of what was tried: the best may lie beyond"
    return [
        line(x - way * 26.0, y, x, y, stroke="var(--caution)", stroke_width=2.4),
        line(x, y, x - way * 7.0, y - 5.0, stroke="var(--caution)", stroke_width=2.4),
        line(x, y, x - way * 7.0, y + 5.0, stroke="var(--caution)", stroke_width=2.4),
        text(
            frame.right if right else frame.left,
            frame.top - 14.0,
            words,
            class_="small caution",
            text_anchor="end" if right else "start",
        ),
    ]


def _point(frame: Frame, one: Tried) -> str:
    x, y = frame.x(one.lambda_), frame.y(one.kw)
    return tag(
        "g",
        title(f"Session {one.session}, pull {one.number}: lambda {one.lambda_:.3f}, {one.kw:.2f} kW"),
        tag("circle", cx=x, cy=y, r=8.5, fill="var(--ground)", stroke="var(--sensor)", stroke_width=1.5),
        text(x, y + 4.0, str(one.session), class_="tiny", text_anchor="middle"),
    )
