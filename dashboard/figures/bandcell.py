"""One cell of the band map: a little lambda scale with the mean and how sure it is."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from dashboard.figures.lambda_axis import Mark
from dashboard.figures.svg import line, polygon, rect, tag, text, title
from dashboard.theme import mixture_colour

COLUMN = 58.0
_PAD, _BAR, _TALL = 4.0, 11.0, 17.0
_NARROWEST = 3.0
"""An interval is drawn at least so wide [px]."""


@dataclass(frozen=True)
class Cell:
    """One band of one cylinder.

    Attributes:
        throttle: lower and upper edge [%]; None where the session has no throttle channel, and apart.
        circuit: the carburettor part that governs it; None where not known.
        rpm: lower and upper edge [/min]; None where the session has no engine speed.
        seconds: steady running in it [s].
        lambda_: mean with its 95 % interval, all doubts counted; None where there is too little data.
        target: the tuner's own target, or None.
        apart: "idle" or "overrun" for a band of its own beside the slide's travel.
        shares: what share each carburettor part has in it [1]; empty where not known.
        says: the whole of it as a sentence, for a tap and for those who do not see the map.
    """

    throttle: tuple[float, float] | None
    circuit: str | None
    rpm: tuple[float, float] | None
    seconds: float
    lambda_: Mark | None
    target: float | None = None
    apart: str | None = None
    shares: Mapping[str, float] = field(default_factory=dict)
    says: str = ""

    @property
    def row(self) -> "Row":
        """The row of the map that it stands in."""
        return self.apart or self.throttle


Row = tuple[float, float] | str | None
"""Edges of the slide opening [%]; the name of a band apart; None where nobody knows the opening."""


def cell_svg(cell: Cell, left: float, top: float, tall: float, range_: tuple[float, float]) -> str:
    """Return one cell; where there is too little data it says so and shows no number.

    Args:
        cell: the band.
        left: x of the cell [px].
        top: y of it [px].
        tall: its height [px].
        range_: lambda at the left and the right end of the little scale [1].
    """
    mark, y = cell.lambda_, top + tall / 2.0 - 7.0
    if mark is None or mark.mean is None:
        if cell.seconds <= 0.0:
            return ""
        style = {"class_": "quiet tiny", "text_anchor": "middle"}
        parts = [
            text(left + COLUMN / 2.0, y + 6.0, "too", **style),
            text(left + COLUMN / 2.0, y + 17.0, "little", **style),
        ]
    elif not range_[0] <= mark.mean <= range_[1]:
        lean = mark.mean > range_[1]
        parts = [
            *_scale(cell, left, y, range_),
            _beyond(_x(mark.mean, left, range_), y, 1.0 if lean else -1.0),
            _number(mark.mean, left, y),
        ]
    else:
        hair, *lines = _scale(cell, left, y, range_)
        doubt, mean = _mean(mark, left, y, range_)
        parts = [hair, doubt, *lines, mean, _number(mark.mean, left, y)]
    # the whole cell can be tapped, the white of it too
    hit = rect(left, top, COLUMN, tall, fill="transparent", class_="hit")
    return tag(
        "g",
        title(cell.says) if cell.says else "",
        hit,
        *parts,
        class_="band",
        data_says=cell.says or None,
    )


def _x(lambda_: float, left: float, range_: tuple[float, float]) -> float:
    share = min(max((lambda_ - range_[0]) / (range_[1] - range_[0]), 0.0), 1.0)
    return left + _PAD + share * (COLUMN - 2 * _PAD)


def _scale(cell: Cell, left: float, y: float, range_: tuple[float, float]) -> list[str]:
    """A hair line, stoichiometric, and the target where there is one."""
    parts = [line(left + _PAD, y, left + COLUMN - _PAD, y, stroke="var(--line)", stroke_width=1.0)]
    if range_[0] <= 1.0 <= range_[1]:
        x = _x(1.0, left, range_)
        parts.append(line(x, y - 7.0, x, y + 7.0, stroke="var(--quiet)", stroke_dasharray="2 2"))
    if cell.target is not None:
        x = _x(cell.target, left, range_)
        parts.append(line(x, y - 10.0, x, y + 10.0, stroke="var(--ink)", stroke_width=1.6))
    return parts


def _mean(mark: Mark, left: float, y: float, range_: tuple[float, float]) -> tuple[str, str]:
    """The mean's interval as a bar of the mixture's own colour, and the mean as a stroke."""
    assert mark.mean is not None  # the caller has looked
    middle = _x(mark.mean, left, range_)
    bar = ""
    if mark.low is not None and mark.high is not None:
        low, high = _x(mark.low, left, range_), _x(mark.high, left, range_)
        wide = max(high - low, _NARROWEST)
        style: dict[str, str | float] = {"stroke": "var(--sensor)", "stroke_width": 1.1, "rx": 1.5}
        colour = mixture_colour(mark.mean)
        bar = rect(
            (low + high - wide) / 2.0, y - _BAR / 2.0, wide, _BAR, fill=colour, class_="doubt", **style
        )
    return bar, rect(middle - 1.1, y - _TALL / 2.0, 2.2, _TALL, fill="var(--sensor)", class_="mean")


def _number(mean: float, left: float, y: float) -> str:
    return text(left + COLUMN / 2.0, y + 23.0, f"{mean:.3f}", class_="small", text_anchor="middle")


def _beyond(x: float, y: float, way: float) -> str:
    """An arrow at the end of the little scale, for a mean that lies off it."""
    points = [(x + 4.0 * way, y), (x - 5.0 * way, y - 5.5), (x - 5.0 * way, y + 5.5)]
    return polygon(points, fill="var(--sensor)")
