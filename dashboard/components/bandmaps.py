"""The band maps of a session, cylinder beside cylinder, with the words that say how to read them."""

from typing import Any

from dash import html
from dash.development.base_component import Component

from bridge.bands import Bands
from bridge.physics.jets import CIRCUITS
from dashboard.components import bandtables
from dashboard.components.bandtables import number, shares_in_words, span
from dashboard.components.parts import aria, drawing
from dashboard.figures.bandcell import Cell
from dashboard.figures.bandmap import CIRCUIT_TONES, BandMap, bandmap_svg, shared_range
from dashboard.figures.lambda_axis import Mark
from dashboard.pictures import Picture

APART = ("idle", "overrun")
"""Circuits of `Bands.cells` that are no part of the slide's travel."""


def section(picture: Picture) -> Component:
    """Return the part with the band maps, or the sentence that says why there is none."""
    heading = html.H2("Mixture by slide and revs")
    if picture.bands is None:
        return html.Section([heading, html.P(picture.bands_missing, className="lede")], className="part")
    bands = picture.bands
    maps = cylinder_cells(bands)
    if not any(cell.lambda_ for _, cells in maps for cell in cells):
        why = "No band holds enough steady running to give a mean."
        return html.Section([heading, html.P(why, className="lede")], className="part")
    range_ = shared_range([cells for _, cells in maps])
    several = len(maps) > 1
    return html.Section(
        [
            heading,
            html.P(_how_to_read(bands, range_), className="quiet explain"),
            html.P(f"Every number here {bands.reads}.", className="caution-line") if bands.reads else None,
            _key(maps),
            html.Div([_one(name, cells, range_, several) for name, cells in maps], className="bandmaps"),
            bandtables.as_table(bands),
            bandtables.doubts(bands),
        ],
        className="part part-bands",
    )


def cylinder_cells(bands: Bands) -> list[tuple[str, tuple[Cell, ...]]]:
    """Return each cylinder's name and its bands, number one first."""
    found: dict[object, list[Cell]] = {}
    fuel = bands.fuel.name if bands.fuel else None
    for row in bands.cells.iter_rows(named=True):
        found.setdefault(row["cylinder"], []).append(_cell(row, fuel))
    names = sorted(found, key=lambda n: (n is None, n))
    return [("Engine" if n is None else f"Cylinder {n}", (*found[n], *_not_ridden(found[n]))) for n in names]


def _not_ridden(cells: list[Cell]) -> list[Cell]:
    """Return empty cells for the openings that nobody rode steadily, so that the map is the whole travel."""
    ridden = sorted({cell.throttle for cell in cells if cell.throttle is not None})
    if not ridden:
        return []
    usual = {(part.opens_at, part.until): part.name for part in CIRCUITS}
    if set(ridden) <= set(usual):
        missing: dict[tuple[float, float], str | None] = {k: n for k, n in usual.items() if k not in ridden}
    else:  # edges of another division: what lies between those that were ridden
        ends = [0.0, *(high for _, high in ridden)], [*(low for low, _ in ridden), 100.0]
        missing = {(low, high): None for low, high in zip(*ends, strict=True) if high > low}
    return [Cell(edges, name, None, 0.0, None) for edges, name in missing.items()]


def _cell(row: dict[str, Any], fuel: str | None) -> Cell:
    mean, apart = row["lambda_mean"], row["circuit"] if row["circuit"] in APART else None
    return Cell(
        throttle=None if apart else _edges(row["throttle_from"], row["throttle_to"]),
        circuit=row["circuit"],
        rpm=_edges(row["rpm_from"], row["rpm_to"]),
        seconds=row["seconds"],
        lambda_=None if mean is None else Mark(mean, row["lambda_low"], row["lambda_high"]),
        apart=apart,
        shares={name: share for name, share in (row["shares"] or {}).items() if share},
        says=_says(row, fuel),
    )


def _edges(low: float | None, high: float | None) -> tuple[float, float] | None:
    return None if low is None or high is None else (float(low), float(high))


def _says(row: dict[str, Any], fuel: str | None) -> str:
    """Return all that is known of a band, as a sentence."""
    where = [row["circuit"].capitalize()] if row["circuit"] else []
    if row["circuit"] not in APART and row["throttle_from"] is not None:
        where.append(f"{span(row['throttle_from'], row['throttle_to'])} % throttle")
    where.append(f"{span(row['rpm_from'], row['rpm_to'])} rev/min")
    place = ", ".join(where)
    if row["lambda_mean"] is None:
        return f"{place}: {row['seconds']:.1f} s of steady running are too little for a mean."
    mean = (
        f"lambda {row['lambda_mean']:.3f}, give or take {number(row['sd_budget'], 3)}"
        f" ({number(row['lambda_low'], 3)} to {number(row['lambda_high'], 3)} at 95 %)"
        f" over {row['seconds']:.1f} s"
    )
    parts = [mean]
    if row["afr_mean"] is not None:
        parts.append(f"AFR {row['afr_mean']:.2f}" + (f" of {fuel}" if fuel else ""))
    if row["egt_mean_c"] is not None:
        parts.append(f"exhaust gas {row['egt_mean_c']:.0f} °C")
    if row["cht_mean_c"] is not None:
        parts.append(f"head {row['cht_mean_c']:.0f} °C")
    if row["shares"]:
        parts.append(f"shares {shares_in_words(row['shares'])}")
    return f"{place}: {'; '.join(parts)}."


def _one(name: str, cells: tuple[Cell, ...], range_: tuple[float, float], several: bool) -> Component:
    svg = bandmap_svg(BandMap(name, cells, range_))
    told = aria(label=f"{name}: arrow keys go from band to band; the sentence below says what stands there")
    return html.Figure(
        [
            html.Figcaption(name) if several else None,
            drawing(svg, className="bands-to-tap", tabIndex="0", role="group", **told),
            html.P(
                "Tap a band, or go there by arrow keys, for all that is known of it.",
                className="quiet band-says",
                **aria(live="polite"),
            ),
        ]
    )


def _key(maps: list[tuple[str, tuple[Cell, ...]]]) -> Component | None:
    """What the little bars under the rows' names are."""
    known = {name for _, cells in maps for cell in cells for name in cell.shares}
    if not known:
        return None
    tones = [(name, tone) for name, tone in CIRCUIT_TONES.items() if name in known]
    items = [html.Li([html.Span(className="tone", style={"background": tone}), name]) for name, tone in tones]
    return html.Ul(
        [html.Li("Bar under a row's name, who has what share there:", className="key-lead"), *items],
        className="key tones",
        **aria(label="Shares of the carburettor's parts"),
    )


def _how_to_read(bands: Bands, range_: tuple[float, float]) -> str:
    when = ""
    if bands.delay is not None:
        source = "the ride itself" if bands.delay.from_ == "ride" else "the pipe's geometry"
        when = f", {bands.delay.seconds:.2f} s earlier than the sensor said it (delay from {source})"
    return (
        f"Steady running only{when}. Row height is slide travel; idle and overrun stand apart. Each cell is a scale"
        f" of lambda, {range_[0]:.2f} at the left, rich, to {range_[1]:.2f} at the right, lean; dotted is"
        " stoichiometric. The stroke is the mean, the bar its 95 % interval, every doubt counted. Most of the doubt"
        " is the sensor's own and the same everywhere, so smaller differences between bands can still be told."
    )
