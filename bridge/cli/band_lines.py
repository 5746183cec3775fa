"""The band table as a person reads it."""

from itertools import groupby
from typing import Any

from bridge.bands import Bands
from bridge.bands.uncertainty import spelled_out
from bridge.budget import Budget
from bridge.cli.output import number, table, wrap

HEAD = ("circuit", "rev/min", "s", "lambda", "95 %", "AFR", "EGT C", "head C")
"""As much as 80 characters hold uncut; the rest stands in the JSON."""


def band_lines(found: Bands, *, budgets: bool = False) -> list[str]:
    """Return the lines of the table, with what stands beside it.

    Args:
        found: the bands.
        budgets: spell each band's budget out.
    """
    cells = list(found.cells.iter_rows(named=True))
    lines = [_head(found), *wrap(f"This sensor {found.reads}.") * (found.reads is not None)]
    for cylinder, own in groupby(cells, key=lambda cell: cell["cylinder"]):
        lines += [
            "The engine:" if cylinder is None else f"Cylinder {cylinder}:",
            *table(HEAD, map(_row, own)),
        ]
    lines += table(HEAD, []) if not cells else []
    slides = {
        _circuit(cell["circuit"]): _span(cell["throttle_from"], cell["throttle_to"])
        for cell in cells
        if cell["circuit"] is not None
    }
    lines += (
        wrap(f"Slide openings: {', '.join(f'{name} {span} %' for name, span in slides.items())}.")
        if slides
        else []
    )
    lines += wrap(
        "Without a lambda there is too little: under a second of steady running. 95 % is by the whole budget, the"
        " sensor's own accuracy in it."
    )
    for value in found.full_throttle:
        who = "engine" if value.cylinder is None else f"cylinder {value.cylinder}"
        lines += wrap(
            f"Full throttle, {who}: lambda {value.mean:.3f}, {value.low:.3f} to {value.high:.3f} (95 %), from"
            f" {value.seconds:.1f} s. {_budget(value.budget)}"
        )
    if budgets:
        lines += _budgets(found)
    lines += [line for note in found.notes for line in wrap(note)]
    lines += [line for one in found.fooled for line in wrap(one.sentence)] if found.reads or budgets else []
    return lines


def _row(cell: dict[str, Any]) -> tuple[object, ...]:
    low, high = cell["lambda_low"], cell["lambda_high"]
    return (
        _circuit(cell["circuit"]) or _span(cell["throttle_from"], cell["throttle_to"]),
        _span(cell["rpm_from"], cell["rpm_to"]),
        number(cell["seconds"], 1),
        "-" if cell["too_little"] else number(cell["lambda_mean"]),
        "-" if cell["too_little"] or low is None else f"{low:.3f}-{high:.3f}",
        "-" if cell["too_little"] else number(cell["afr_mean"], 2),
        number(cell["egt_mean_c"], 0),
        number(cell["cht_mean_c"], 0),
    )


def _head(found: Bands) -> str:
    delay = found.delay
    if delay is None:
        return f"{len(found.sessions)} sessions added up, steady running only"
    return f"session {found.session}: sensor delay {delay.seconds:.3f} s (sd {delay.sd_s:.3f}, from {delay.from_})"


def _budgets(found: Bands) -> list[str]:
    cells = zip(found.cells.iter_rows(named=True), found.budgets, strict=True)
    return [
        line
        for cell, budget in cells
        if budget is not None
        for line in wrap(
            f"{'engine' if cell['cylinder'] is None else cell['cylinder']},"
            f" {_circuit(cell['circuit']) or _span(cell['throttle_from'], cell['throttle_to']) or 'all openings'},"
            f" {_span(cell['rpm_from'], cell['rpm_to'])}: {_budget(budget)}"
        )
    ]


def _budget(budget: Budget) -> str:
    parts = "; ".join(f"{part['what']} {part['sd']:.4f} ({part['status']})" for part in spelled_out(budget))
    return f"Standard uncertainty {budget.sd:.4f}: {parts}."


def _circuit(name: str | None) -> str | None:
    return None if name is None else name.replace(" (", " ").removesuffix(")")


def _span(low: float | None, high: float | None) -> str | None:
    return None if low is None or high is None else f"{low:g}-{high:g}"
