"""The numbers of the band maps as tables: the means, and how sure each one is."""

from collections.abc import Mapping, Sequence
from typing import Any

from dash import html
from dash.development.base_component import Component

from bridge.bands import Bands
from dashboard.components import budgets

NOTHING = "—"


def as_table(bands: Bands) -> Component:
    """Return every band as a row, those with too little data too."""
    afr = f"AFR of {bands.fuel.name}" if bands.fuel else "AFR"
    head = (
        "Cylinder",
        "Circuit",
        "Throttle, %",
        "rev/min",
        "Seconds",
        "Lambda",
        "Give or take",
        "95 %",
        "10 % to 90 %",
        afr,
        "Exhaust, °C",
        "Head, °C",
        "Shares, %",
    )
    rows = [_row(row) for row in bands.cells.iter_rows(named=True)]
    return _opening("The same as a table", head, rows, "Mixture by slide and revs")


def doubts(bands: Bands) -> Component | None:
    """Return how sure each number is and what makes it up: full throttle first, then band by band."""
    full = [(one, f"cylinder {one.cylinder}" if one.cylinder else "engine") for one in bands.full_throttle]
    held = [
        (row, budget)
        for row, budget in zip(bands.cells.iter_rows(named=True), bands.budgets, strict=True)
        if budget is not None and row["lambda_mean"] is not None
    ]
    if not full and not held:
        return None
    parts = budgets.names([*(one.budget for one, _ in full), *(budget for _, budget in held)])
    head = ("Cylinder", "Where", "rev/min", "Lambda", "Give or take", *parts)
    rows = [
        (
            _cylinder(row),
            _place(row),
            span(row["rpm_from"], row["rpm_to"]),
            number(row["lambda_mean"], 3),
            number(budget.sd, 4),
            *(budgets.small(budgets.sd_of(budget, name)) for name in parts),
        )
        for row, budget in held
    ]
    return html.Div(
        [
            *(
                budgets.opened(one.budget, one.mean, what=f"All steady full throttle, {who}:")
                for one, who in full
            ),
            _opening("How sure each band is, and why", head, rows, "Uncertainty by band"),
        ]
    )


def _opening(summary: str, head: Sequence[str], rows: Sequence[Sequence[str]], caption: str) -> Component:
    head, rows = _told(head, rows)
    table = html.Table(
        [
            html.Caption(caption, className="unseen"),
            html.Thead(html.Tr([html.Th(word, scope="col") for word in head])),
            html.Tbody([html.Tr([html.Td(cell) for cell in row]) for row in rows]),
        ],
        className="table wordy",
    )
    # the table can be pushed sideways by keyboard, so it can be reached by one
    return html.Details([html.Summary(summary), html.Div(table, className="wide", tabIndex="0")])


def _told(head: Sequence[str], rows: Sequence[Sequence[str]]) -> tuple[list[str], list[list[str]]]:
    """Return head and rows without the columns that have nothing to tell."""
    kept = [n for n in range(len(head)) if any(row[n] != NOTHING for row in rows)]
    return [head[n] for n in kept], [[row[n] for n in kept] for row in rows]


def _row(row: dict[str, Any]) -> tuple[str, ...]:
    means = (
        ("too little", *[NOTHING] * 3)
        if row["lambda_mean"] is None
        else (
            number(row["lambda_mean"], 3),
            number(row["sd_budget"], 3),
            f"{number(row['lambda_low'], 3)} to {number(row['lambda_high'], 3)}",
            f"{number(row['lambda_p10'], 3)} to {number(row['lambda_p90'], 3)}",
        )
    )
    return (
        _cylinder(row),
        row["circuit"] or NOTHING,
        span(row["throttle_from"], row["throttle_to"]),
        span(row["rpm_from"], row["rpm_to"]),
        number(row["seconds"], 1),
        *means,
        number(row["afr_mean"], 2),
        number(row["egt_mean_c"], 0),
        number(row["cht_mean_c"], 0),
        shares_in_words(row["shares"]) if row["shares"] else NOTHING,
    )


def _cylinder(row: dict[str, Any]) -> str:
    return "engine" if row["cylinder"] is None else str(row["cylinder"])


def _place(row: dict[str, Any]) -> str:
    return row["circuit"] or (span(row["throttle_from"], row["throttle_to"]) + " %")


def shares_in_words(shares: Mapping[str, float | None]) -> str:
    """Return the shares of the carburettor's parts, the largest first; what is under half a percent is left out."""
    held = sorted(((share, name) for name, share in shares.items() if share and share >= 0.005), reverse=True)
    return ", ".join(f"{name} {100.0 * share:.0f} %" for share, name in held)


def span(low: float | None, high: float | None) -> str:
    """Return two edges as words."""
    return NOTHING if low is None or high is None else f"{low:g} to {high:g}"


def number(value: float | None, decimals: int) -> str:
    """Return a number, or a dash where there is none."""
    return NOTHING if value is None else f"{value:.{decimals}f}"
