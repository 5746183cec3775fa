"""The band table as a person reads it."""

from bridge.bands import Bands
from bridge.bands.uncertainty import spelled_out
from bridge.budget import Budget
from bridge.cli.output import number, table, wrap

HEAD = (
    "cyl",
    "circuit",
    "slide %",
    "rev/min",
    "s",
    "lambda",
    "se",
    "95 % low",
    "high",
    "AFR",
    "EGT C",
    "head C",
)


def band_lines(found: Bands, *, budgets: bool = False) -> list[str]:
    """Return the lines of the table, with what stands beside it.

    Args:
        found: the bands.
        budgets: spell each band's budget out.
    """
    rows = [
        (
            cell["cylinder"],
            _circuit(cell["circuit"]),
            _span(cell["throttle_from"], cell["throttle_to"]),
            _span(cell["rpm_from"], cell["rpm_to"]),
            number(cell["seconds"], 1),
            "too little" if cell["too_little"] else number(cell["lambda_mean"]),
            number(cell["lambda_se"], 4),
            number(cell["lambda_low"]),
            number(cell["lambda_high"]),
            number(cell["afr_mean"], 2),
            number(cell["egt_mean_c"], 0),
            number(cell["cht_mean_c"], 0),
        )
        for cell in found.cells.iter_rows(named=True)
    ]
    lines = [
        _head(found),
        *wrap(f"This sensor {found.reads}.") * (found.reads is not None),
        *table(HEAD, rows),
    ]
    lines += wrap(
        "Too little: under a second of steady running. se is sampling alone; low and high are 95 % by the whole budget,"
        " the sensor's own accuracy in it."
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
