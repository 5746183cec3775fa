"""The band maps of a session, cylinder beside cylinder, with the same numbers as a table."""

from typing import Any

from dash import html
from dash.development.base_component import Component

from bridge.bands import Bands
from bridge.physics.jets import CIRCUITS
from dashboard.components.parts import drawing
from dashboard.data import Picture
from dashboard.figures.bandmap import BandMap, Cell, bandmap_svg, shared_range
from dashboard.figures.lambda_axis import Mark

_NORMAL_95 = 1.96


def section(picture: Picture) -> Component | None:
    """Return the part with the band maps, or the sentence that says why there is none."""
    heading = html.H2("Mixture by slide and revs")
    if picture.bands is None:
        return html.Section([heading, html.P(picture.bands_missing, className="lede")], className="part")
    maps = cylinder_cells(picture.bands)
    if not any(cell.lambda_ for _, cells in maps for cell in cells):
        why = "No band holds enough steady running to give a mean."
        return html.Section([heading, html.P(why, className="lede")], className="part")
    range_ = shared_range([cells for _, cells in maps])
    several = len(maps) > 1
    return html.Section(
        [
            heading,
            html.P(_how_to_read(picture.bands, range_), className="quiet explain"),
            html.Div([_one(name, cells, range_, several) for name, cells in maps], className="bandmaps"),
            _table(picture.bands),
        ],
        className="part part-bands",
    )


def cylinder_cells(bands: Bands) -> list[tuple[str, tuple[Cell, ...]]]:
    """Return each cylinder's name and its bands, number one first."""
    found: dict[object, list[Cell]] = {}
    for row in bands.cells.iter_rows(named=True):
        found.setdefault(row["cylinder"], []).append(_cell(row))
    names = sorted(found, key=lambda number: (number is None, number))
    return [("Engine" if n is None else f"Cylinder {n}", (*found[n], *_not_ridden(found[n]))) for n in names]


def _not_ridden(cells: list[Cell]) -> list[Cell]:
    """Return empty cells for the openings that nobody rode steadily, so that the map is the whole travel."""
    ridden = {cell.throttle for cell in cells}
    if ridden == {None}:
        return []
    named = any(cell.circuit for cell in cells)
    return [
        Cell((part.opens_at, part.until), part.name if named else None, None, 0.0, None)
        for part in CIRCUITS
        if (part.opens_at, part.until) not in ridden
    ]


def _cell(row: dict[str, Any]) -> Cell:
    mean, error = row["lambda_mean"], row["lambda_se"]
    mark = None
    if mean is not None:
        half = _NORMAL_95 * error if error is not None else None
        mark = Mark(
            mean, mean - half if half is not None else None, mean + half if half is not None else None
        )
    return Cell(
        throttle=_edges(row["throttle_from"], row["throttle_to"]),
        circuit=row.get("circuit"),
        rpm=_edges(row["rpm_from"], row["rpm_to"]),
        seconds=row["seconds"],
        lambda_=mark,
    )


def _edges(low: float | None, high: float | None) -> tuple[float, float] | None:
    return None if low is None or high is None else (float(low), float(high))


def _one(name: str, cells: tuple[Cell, ...], range_: tuple[float, float], several: bool) -> Component:
    svg = bandmap_svg(BandMap(name, cells, range_))
    return html.Figure([html.Figcaption(name) if several else None, drawing(svg)])


def _how_to_read(bands: Bands, range_: tuple[float, float]) -> str:
    delay = bands.delay
    source = "the ride itself" if delay.from_ == "ride" else "the pipe's geometry"
    return (
        f"Steady running only, {delay.seconds:.2f} s earlier than the sensor said it (delay from {source})."
        f" Row height is slide travel. In each cell lambda runs from {range_[0]:.2f} at the left, rich, to"
        f" {range_[1]:.2f} at the right, lean; dotted is stoichiometric, the bar is the mean's 95 % interval"
        " by sampling alone. Empty: too little steady running."
    )


def _table(bands: Bands) -> Component:
    head = (
        "Cylinder",
        "Circuit",
        "Throttle, %",
        "rev/min",
        "Seconds",
        "Lambda",
        "± 95 %",
        "10 % to 90 %",
        "AFR",
        "°C",
    )
    rows = [_table_row(row) for row in bands.cells.iter_rows(named=True) if row["lambda_mean"] is not None]
    table = html.Table(
        [
            html.Thead(html.Tr([html.Th(word, scope="col") for word in head])),
            html.Tbody([html.Tr([html.Td(cell) for cell in row]) for row in rows]),
        ],
        className="table",
    )
    return html.Details(
        [html.Summary("The same as a table"), html.Div(table, className="wide", tabIndex="0")]
    )


def _table_row(row: dict[str, Any]) -> tuple[str, ...]:
    return (
        "engine" if row["cylinder"] is None else str(row["cylinder"]),
        row.get("circuit") or "—",
        _span(row["throttle_from"], row["throttle_to"]),
        _span(row["rpm_from"], row["rpm_to"]),
        _number(row["seconds"], 1),
        _number(row["lambda_mean"], 3),
        _number(None if row["lambda_se"] is None else _NORMAL_95 * row["lambda_se"], 3),
        f"{_number(row['lambda_p10'], 3)} to {_number(row['lambda_p90'], 3)}",
        _number(row["afr_mean"], 2),
        _number(row["egt_mean_c"], 0),
    )


def _span(low: float | None, high: float | None) -> str:
    return "—" if low is None or high is None else f"{low:g} to {high:g}"


def _number(value: float | None, decimals: int) -> str:
    return "—" if value is None else f"{value:.{decimals}f}"
