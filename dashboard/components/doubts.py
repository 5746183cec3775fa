"""What stands beside a measured number: what fools it, by how much and which way, and how sure it is."""

from collections.abc import Sequence

from dash import html
from dash.development.base_component import Component

from bridge.agreement import CylinderResult
from bridge.physics.fooled import Fooled
from dashboard.components import budgets
from dashboard.components.parts import as_sentence
from dashboard.components.verdicts import doubts_of

_WAYS = {"lean": "leaner", "rich": "richer", "either": "either way"}


def mark(result: CylinderResult) -> Component | None:
    """Return the row under the measured number that says how it must not be read; None where it may be."""
    if result.reads is None or result.measured.mean is None:
        return None
    return html.Tr(html.Td(as_sentence(result.reads), colSpan=3, className="caution-line"), className="reads")


def fools(found: Sequence[Fooled]) -> Component | None:
    """Return what can fool the sensor of this bike: which way it then reads, and by how much."""
    if not found:
        return None
    body = [
        html.Tr(
            [
                html.Th(one.cause, scope="row"),
                html.Td(_WAYS[one.direction]),
                html.Td(_size(one.size_low, one.size_high)),
            ]
        )
        for one in found
    ]
    head = html.Tr(
        [html.Th("What would fool the sensor", scope="col"), html.Th("reads"), html.Th("by", scope="col")]
    )
    return html.Div(
        [
            html.Table([html.Thead(head), html.Tbody(body)], className="fools"),
            html.Details(
                [
                    html.Summary("What that means, and what to do"),
                    html.Ul([html.Li(as_sentence(one.sentence)) for one in found]),
                ]
            ),
        ]
    )


def _size(low: float, high: float) -> str:
    low, high = sorted((abs(low), abs(high)))
    if high < 0.005:
        return "under 0.01"
    return f"up to {high:.2f}" if low < 0.005 else f"{low:.2f} to {high:.2f}"


def budget(result: CylinderResult) -> Component | None:
    """Return how sure the measured number is, with the sensor's own doubts counted; None without a number."""
    over, whole = result.measured, doubts_of(result.measured)
    return budgets.opened(whole, over.mean, what="Measured") if whole and over.mean is not None else None
