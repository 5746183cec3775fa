"""The band map, drawn to the carburettor: rows as high as their share of the slide's travel."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from dashboard.figures.bandcell import COLUMN, Cell, Row, cell_svg
from dashboard.figures.svg import figure, line, rect, tag, text


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


LEFT, TRAVEL, TOP, MIN_ROW = 78.0, 430.0, 8.0, 50.0
APART_ROW, APART_GAP = 48.0, 14.0
_SHARE_BAR = 5.0
_APART = ("idle", "overrun")


@dataclass(frozen=True)
class _Grid:
    """Where rows and columns lie [px]."""

    columns: tuple[tuple[float, float], ...]
    places: Mapping[Row, tuple[float, float]]
    travel_ends: float
    ends: float

    @property
    def right(self) -> float:
        return LEFT + COLUMN * len(self.columns)


def bandmap_svg(bands: BandMap) -> str:
    """Return the map of one cylinder as SVG, rich to the left and lean to the right in each cell."""
    grid = _grid(bands.cells)
    parts = [_frame(grid, TOP, grid.travel_ends)]
    if grid.ends > grid.travel_ends:
        parts.append(_frame(grid, grid.travel_ends + APART_GAP, grid.ends))
    parts += [_row(row, place, grid, bands.cells) for row, place in grid.places.items()]
    parts += _columns(grid)
    for cell in bands.cells:
        number = 0
        if cell.rpm is not None:
            number = round((cell.rpm[0] - grid.columns[0][0]) / (grid.columns[0][1] - grid.columns[0][0]))
        if 0 <= number < len(grid.columns):
            top, tall = grid.places[cell.row]
            parts.append(cell_svg(cell, LEFT + COLUMN * number, top, tall, bands.range_))
    return figure(grid.right + 14.0, grid.ends + 40.0, in_words(bands), *parts, class_="bandmap")


def _grid(cells: Sequence[Cell]) -> _Grid:
    """Lay out the rows, wide open at the top as the slide goes up, and below them the bands apart."""
    openings: list[Row] = [*sorted({c.throttle for c in cells if c.throttle and not c.apart}, reverse=True)]
    apart: list[Row] = [name for name in _APART if any(cell.apart == name for cell in cells)]
    if not openings and (not apart or any(c.throttle is None and not c.apart for c in cells)):
        openings = [None]
    places, travel_ends = heights(openings)
    ends = travel_ends
    for name in apart:
        top = ends + (APART_GAP if ends == travel_ends else 0.0)
        places[name] = (top, APART_ROW)
        ends = top + APART_ROW
    return _Grid(tuple(_steps(cells)), places, travel_ends, ends)


def _steps(cells: Sequence[Cell]) -> list[tuple[float, float]]:
    """Return the speed bands from the lowest ridden to the highest, those between that nobody rode too."""
    ridden = sorted({cell.rpm for cell in cells if cell.rpm is not None and cell.lambda_ is not None})
    if not ridden:
        return [(0.0, 0.0)]
    (low, high), end = ridden[0], ridden[-1][1]
    step = high - low
    return [(low + n * step, low + (n + 1) * step) for n in range(round((end - low) / step))]


def heights(rows: Sequence[Row]) -> tuple[dict[Row, tuple[float, float]], float]:
    """Return each row's top and height, and the bottom of all [px]; a narrow band keeps room for words."""
    places: dict[Row, tuple[float, float]] = {}
    top = TOP
    for row in rows:
        tall = max(TRAVEL * (row[1] - row[0]) / 100.0, MIN_ROW) if isinstance(row, tuple) else 90.0
        places[row] = (top, tall)
        top += tall
    return places, top


def _frame(grid: _Grid, top: float, bottom: float) -> str:
    style: dict[str, str | float] = {"fill": "none", "stroke": "var(--line)", "stroke_width": 1.2}
    return rect(LEFT, top, grid.right - LEFT, bottom - top, **style)


def _row(row: Row, place: tuple[float, float], grid: _Grid, cells: Sequence[Cell]) -> str:
    top, tall = place
    mine = [cell for cell in cells if cell.row == row]
    middle = top + tall / 2.0
    parts = [line(LEFT - 6.0, top, grid.right, top, stroke="var(--line)")]
    if not isinstance(row, tuple):
        name, under = (
            (row, {"idle": "no load", "overrun": "throttle shut"}[row]) if row else ("any", "throttle")
        )
        parts.append(text(LEFT - 8.0, middle - 1.0, name, text_anchor="end"))
        parts.append(text(LEFT - 8.0, middle + 13.0, under, class_="quiet tiny", text_anchor="end"))
        return tag("g", *parts)
    circuit = next((cell.circuit for cell in mine if cell.circuit), None)
    # "needle (straight)" stands in two lines
    words = [word.strip("()") for word in (circuit or "throttle").split(" ", 1)]
    shares = row_shares(mine)
    y = middle + 1.0 - 7.0 * (len(words) - 1) - (5.0 if shares else 0.0)
    parts += [text(LEFT - 8.0, y + 14.0 * n, word, text_anchor="end") for n, word in enumerate(words)]
    span = f"{row[0]:g}–{row[1]:g} %"
    y += 14.0 * len(words) - 1.0
    parts.append(text(LEFT - 8.0, y, span, class_="quiet tiny", text_anchor="end"))
    parts += share_bar(shares, 4.0, y + 5.0, LEFT - 12.0, _SHARE_BAR)
    return tag("g", *parts)


CIRCUIT_TONES: Mapping[str, str] = {
    "pilot": "var(--tone-1)",
    "cutaway": "var(--tone-2)",
    "needle (straight)": "var(--tone-3)",
    "needle (taper)": "var(--tone-4)",
    "main": "var(--tone-5)",
}
"""The carburettor's parts from pilot to main, lighter to darker."""


def row_shares(cells: Sequence[Cell]) -> dict[str, float]:
    """Return what share each circuit has in a row: its cells' own shares by their seconds [1]."""
    told = [cell for cell in cells if cell.shares]
    whole = sum(max(cell.seconds, 1e-9) for cell in told)
    return {
        name: sum(cell.shares.get(name, 0.0) * max(cell.seconds, 1e-9) for cell in told) / whole
        for name in dict.fromkeys(name for cell in told for name in cell.shares)
    }


def share_bar(shares: Mapping[str, float], x: float, y: float, wide: float, tall: float) -> list[str]:
    """Return the shares of the carburettor's parts as one bar, always in the order pilot to main."""
    order = [*CIRCUIT_TONES, *(name for name in shares if name not in CIRCUIT_TONES)]
    parts, at = [], x
    for name in order:
        width = wide * shares.get(name, 0.0)
        if width > 0.0:
            tone = CIRCUIT_TONES.get(name, "var(--line)")
            parts.append(rect(at, y, width, tall, fill=tone, class_="share"))
        at += width
    if parts:
        parts.append(rect(x, y, wide, tall, fill="none", stroke="var(--quiet)", stroke_width=0.6))
    return parts


def _columns(grid: _Grid) -> list[str]:
    if grid.columns == ((0.0, 0.0),):
        return []
    parts = []
    ways = [(TOP, grid.travel_ends)]
    if grid.ends > grid.travel_ends:
        ways.append((grid.travel_ends + APART_GAP, grid.ends))
    edges = [low for low, _ in grid.columns] + [grid.columns[-1][1]]
    for number, edge in enumerate(edges):
        x = LEFT + COLUMN * number
        if 0 < number < len(grid.columns):
            parts += [line(x, top, x, bottom, stroke="var(--line)") for top, bottom in ways]
        label = f"{edge:,.0f}".replace(",", " ")
        parts.append(text(x, grid.ends + 15.0, label, class_="quiet small", text_anchor="middle"))
    middle = (LEFT + grid.right) / 2.0
    title = "engine speed, rev/min"
    parts.append(text(middle, grid.ends + 32.0, title, class_="quiet small", text_anchor="middle"))
    return parts


def shared_range(maps: Sequence[Sequence[Cell]], targets: Sequence[float] = ()) -> tuple[float, float]:
    """Return one lambda range for all little scales of a page: the means and their intervals, in steps of 0.05 [1].

    It stays within 0.70 and 1.15, so that one wild cylinder does not hide what the others do; what lies off it
    is drawn as an arrow.
    """
    marks = [cell.lambda_ for cells in maps for cell in cells if cell.lambda_ is not None]
    ends = [end for mark in marks for end in (mark.low, mark.mean, mark.high) if end is not None]
    seen = [*ends, *targets] or [0.9]
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
    if cell.apart is not None:
        parts.append(f"on {cell.apart}" if cell.apart == "overrun" else "at idle")
    elif cell.throttle is not None:
        parts.append(f"at {cell.throttle[0]:g} to {cell.throttle[1]:g} % throttle")
    if cell.rpm is not None:
        parts.append(f"from {cell.rpm[0]:.0f} to {cell.rpm[1]:.0f} rev/min")
    return ", ".join(parts) or "over all"
