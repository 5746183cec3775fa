"""The band map, drawn to the carburettor: rows as high as their share of the slide's travel."""

from collections.abc import Sequence
from dataclasses import dataclass

from dashboard.figures.lambda_axis import Mark
from dashboard.figures.svg import figure, line, polygon, rect, tag, text
from dashboard.theme import mixture_colour


@dataclass(frozen=True)
class Cell:
    """One band of one cylinder.

    Attributes:
        throttle: lower and upper edge [%]; None where the session has no throttle channel.
        circuit: the carburettor part that governs it; None where not known.
        rpm: lower and upper edge [/min]; None where the session has no engine speed.
        seconds: steady running in it [s].
        lambda_: mean with its 95 % interval (sampling alone); None where there is too little data.
        target: the tuner's own target, or None.
    """

    throttle: tuple[float, float] | None
    circuit: str | None
    rpm: tuple[float, float] | None
    seconds: float
    lambda_: Mark | None
    target: float | None = None


@dataclass(frozen=True)
class BandMap:
    """One cylinder's bands; all cylinders of a page share ``range_`` so that they can be compared.

    Attributes:
        title: such as "Cylinder 1".
        cells: every band that was ridden.
        range_: lambda at the left and the right of each cell's little scale [1].
    """

    title: str
    cells: tuple[Cell, ...]
    range_: tuple[float, float]


LEFT, TRAVEL, TOP, MIN_ROW = 74.0, 430.0, 8.0, 46.0
COLUMN = 58.0


def bandmap_svg(bands: BandMap) -> str:
    """Return the map of one cylinder as SVG, rich to the left and lean to the right in each cell."""
    rows = _rows(bands.cells)
    columns = _steps(bands.cells)
    places, height = _heights(rows)
    width = LEFT + COLUMN * len(columns) + 8.0
    parts = [
        rect(
            LEFT,
            TOP,
            COLUMN * len(columns),
            height - TOP,
            fill="none",
            stroke="var(--line)",
            stroke_width=1.2,
        )
    ]
    parts += [_row(row, places[row], width, bands.cells) for row in rows]
    parts += _columns(columns, height)
    for cell in bands.cells:
        top, tall = places[cell.throttle]
        number = (
            round((cell.rpm[0] - columns[0][0]) / (columns[0][1] - columns[0][0]))
            if cell.rpm is not None
            else 0
        )
        parts.append(_cell(cell, LEFT + COLUMN * number, top, tall, bands.range_))
    return figure(width, height + 40.0, in_words(bands), *parts, class_="bandmap")


def _rows(cells: Sequence[Cell]) -> list[tuple[float, float] | None]:
    """Return the throttle bands, wide open at the top as the slide goes up."""
    known = sorted({cell.throttle for cell in cells if cell.throttle is not None}, reverse=True)
    return [*known] if known else [None]


def _steps(cells: Sequence[Cell]) -> list[tuple[float, float]]:
    """Return the speed bands from the lowest ridden to the highest, those between that nobody rode too."""
    ridden = sorted({cell.rpm for cell in cells if cell.rpm is not None and cell.lambda_ is not None})
    if not ridden:
        return [(0.0, 0.0)]
    (low, high), end = ridden[0], ridden[-1][1]
    step = high - low
    return [(low + n * step, low + (n + 1) * step) for n in range(round((end - low) / step))]


def _heights(
    rows: Sequence[tuple[float, float] | None],
) -> tuple[dict[tuple[float, float] | None, tuple[float, float]], float]:
    """Return each row's top and height, and the bottom of all [px]; a narrow band keeps room for words."""
    places: dict[tuple[float, float] | None, tuple[float, float]] = {}
    top = TOP
    for row in rows:
        tall = 90.0 if row is None else max(TRAVEL * (row[1] - row[0]) / 100.0, MIN_ROW)
        places[row] = (top, tall)
        top += tall
    return places, top


def _row(
    row: tuple[float, float] | None,
    place: tuple[float, float],
    width: float,
    cells: Sequence[Cell],
) -> str:
    top, tall = place
    circuit = next((cell.circuit for cell in cells if cell.throttle == row and cell.circuit), None)
    middle = top + tall / 2.0
    parts = [line(LEFT - 6.0, top, width - 8.0, top, stroke="var(--line)")]
    if row is None:
        parts.append(text(LEFT - 8.0, middle + 4.0, "any throttle", class_="small", text_anchor="end"))
        return tag("g", *parts)
    # "needle (straight)" stands in two lines
    words = [word.strip("()") for word in (circuit or "throttle").split(" ", 1)]
    y = middle - 1.0 - 7.0 * (len(words) - 1)
    parts += [text(LEFT - 8.0, y + 14.0 * n, word, text_anchor="end") for n, word in enumerate(words)]
    span = f"{row[0]:g}–{row[1]:g} %"
    parts.append(text(LEFT - 8.0, y + 14.0 * len(words), span, class_="quiet tiny", text_anchor="end"))
    return tag("g", *parts)


def _columns(columns: Sequence[tuple[float, float]], bottom: float) -> list[str]:
    if columns == [(0.0, 0.0)]:
        return []
    parts = [line(LEFT, bottom, LEFT + COLUMN * len(columns), bottom, stroke="var(--line)")]
    for number, (low, high) in enumerate(columns):
        x = LEFT + COLUMN * number
        if number:
            parts.append(line(x, TOP, x, bottom, stroke="var(--line)"))
        parts.append(
            text(
                x, bottom + 15.0, f"{low:,.0f}".replace(",", " "), class_="quiet small", text_anchor="middle"
            )
        )
        if number == len(columns) - 1:
            label = f"{high:,.0f}".replace(",", " ")
            parts.append(text(x + COLUMN, bottom + 15.0, label, class_="quiet small", text_anchor="middle"))
    middle = LEFT + COLUMN * len(columns) / 2.0
    parts.append(
        text(middle, bottom + 32.0, "engine speed, rev/min", class_="quiet small", text_anchor="middle")
    )
    return parts


def _cell(cell: Cell, left: float, top: float, tall: float, range_: tuple[float, float]) -> str:
    """One little scale: a hair line, the target, stoichiometric, and the mean with its interval."""
    mark = cell.lambda_
    if mark is None or mark.mean is None:
        return ""
    pad, y = 7.0, top + tall / 2.0 - 7.0
    low, high = range_

    def x(lambda_: float) -> float:
        share = min(max((lambda_ - low) / (high - low), 0.0), 1.0)
        return left + pad + share * (COLUMN - 2 * pad)

    parts = [line(left + pad, y, left + COLUMN - pad, y, stroke="var(--line)", stroke_width=1.0)]
    if low <= 1.0 <= high:
        parts.append(line(x(1.0), y - 7.0, x(1.0), y + 7.0, stroke="var(--quiet)", stroke_dasharray="2 2"))
    if cell.target is not None:
        parts.append(
            line(x(cell.target), y - 9.0, x(cell.target), y + 9.0, stroke="var(--ink)", stroke_width=1.6)
        )
    if not low <= mark.mean <= high:
        parts.append(_beyond(x(mark.mean), y, 1.0 if mark.mean > high else -1.0))
        parts.append(_number(mark.mean, left, y))
        return tag("g", *parts)
    if mark.low is not None and mark.high is not None:
        parts.append(line(x(mark.low), y, x(mark.high), y, stroke="var(--sensor)", stroke_width=3.0))
    parts.append(
        tag(
            "circle",
            cx=x(mark.mean),
            cy=y,
            r=5.6,
            fill=mixture_colour(mark.mean),
            stroke="var(--sensor)",
            stroke_width=1.8,
        )
    )
    parts.append(_number(mark.mean, left, y))
    return tag("g", *parts)


def _number(mean: float, left: float, y: float) -> str:
    return text(left + COLUMN / 2.0, y + 22.0, f"{mean:.3f}", class_="small", text_anchor="middle")


def _beyond(x: float, y: float, way: float) -> str:
    """An arrow at the end of the little scale, for a mean that lies off it."""
    points = [(x + 4.0 * way, y), (x - 5.0 * way, y - 5.5), (x - 5.0 * way, y + 5.5)]
    return polygon(points, fill="var(--sensor)")


def shared_range(maps: Sequence[Sequence[Cell]], targets: Sequence[float] = ()) -> tuple[float, float]:
    """Return one lambda range for all little scales of a page: what was measured, in steps of 0.05 [1].

    It stays within 0.70 and 1.15, so that one wild cylinder does not hide what the others do; what lies off it
    is drawn as an arrow.
    """
    means = [
        cell.lambda_.mean
        for cells in maps
        for cell in cells
        if cell.lambda_ and cell.lambda_.mean is not None
    ]
    seen = [*means, *targets] or [0.9]
    low = min(0.80, int((min(seen) - 0.005) * 20) / 20)
    high = max(1.00, -int(-(max(seen) + 0.005) * 20) / 20 + 0.05)
    return max(low, 0.70), min(high, 1.15)


def in_words(bands: BandMap) -> str:
    """Return what the map shows, for those who do not see it."""
    held = [cell for cell in bands.cells if cell.lambda_ is not None and cell.lambda_.mean is not None]
    if not held:
        return f"{bands.title}: no band holds enough steady running."
    means = [(cell.lambda_.mean, cell) for cell in held if cell.lambda_ and cell.lambda_.mean is not None]
    (rich, at_rich), (lean, at_lean) = min(means, key=lambda m: m[0]), max(means, key=lambda m: m[0])
    return (
        f"{bands.title}: {len(held)} bands with enough steady running. Richest {rich:.3f} {_where(at_rich)},"
        f" leanest {lean:.3f} {_where(at_lean)}."
    )


def _where(cell: Cell) -> str:
    parts = []
    if cell.throttle is not None:
        parts.append(f"at {cell.throttle[0]:g} to {cell.throttle[1]:g} % throttle")
    if cell.rpm is not None:
        parts.append(f"from {cell.rpm[0]:.0f} to {cell.rpm[1]:.0f} rev/min")
    return ", ".join(parts) or "over all"
