"""How sure a number is, in plain words, and what makes that up: a table that opens."""

from collections.abc import Sequence

from dash import html
from dash.development.base_component import Component

from bridge.budget import Budget
from bridge.budget import Component as Doubt

_STATUS = {"measured": "measured here", "stated": "your own word"}


def opened(budget: Budget, mean: float, *, what: str) -> Component:
    """Return a line that says how sure a number is, and opens to what makes that up.

    Args:
        budget: the doubts about it.
        mean: the number [1].
        what: what it is of, such as "Full throttle"; for the line's own words.
    """
    low, high = (mean + end for end in budget.interval(0.95))
    return html.Details(
        [
            html.Summary(f"{what} {mean:.3f}, give or take {budget.sd:.3f}: what makes that up"),
            html.P(
                f"About two times in three the true value lies within that. With 95 % it lies from {low:.3f} to"
                f" {high:.3f}. The parts add up as squares, so the largest decides.",
                className="quiet",
            ),
            table(budget),
        ],
        className="budget",
    )


def table(budget: Budget) -> Component:
    """Return the doubts one by one, the largest first, and what they come to together."""
    parts = sorted(budget.components, key=lambda part: -part.sd)
    head = html.Tr([html.Th(), html.Th("give or take", scope="col"), html.Th("known by", scope="col")])
    return html.Table(
        [
            html.Thead(head),
            html.Tbody([_row(part, parts[0].sd) for part in parts]),
            html.Tfoot(
                html.Tr([html.Th("together", scope="row"), html.Td(html.Span(f"{budget.sd:.4f}")), html.Td()])
            ),
        ],
        className="doubts",
    )


def _row(part: Doubt, largest: float) -> Component:
    share = part.sd / largest if largest > 0.0 else 0.0
    bar = html.Span(className="bar", style={"width": f"{100.0 * share:.1f}%"})
    return html.Tr(
        [
            html.Th(part.name, scope="row"),
            html.Td([html.Span(small(part.sd)), html.Span(bar, className="bar-way")]),
            html.Td(_STATUS.get(part.status, part.status), className="quiet"),
        ]
    )


def small(sd: float | None) -> str:
    """Return a doubt as words [1]; one that is there is never printed as nothing."""
    if sd is None:
        return "—"
    return "< 0.0001" if 0.0 < sd < 0.00005 else f"{sd:.4f}"


def names(budgets: Sequence[Budget | None]) -> list[str]:
    """Return what the doubts of several numbers are called, in the order in which they come."""
    return list(dict.fromkeys(part.name for budget in budgets if budget for part in budget.components))


def sd_of(budget: Budget | None, name: str) -> float | None:
    """Return one doubt of a number by its name [1]; None where the number has none of it."""
    if budget is None:
        return None
    return next((part.sd for part in budget.components if part.name == name), None)
