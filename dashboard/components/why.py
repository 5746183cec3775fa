"""Why ring and sensor may differ: the causes with what speaks for and against each, and the test to make next."""

from dash import dcc, html
from dash.development.base_component import Component

from bridge.agreement import CylinderResult
from bridge.agreement.causes.rank import Ranked
from bridge.agreement.statement import percent as plain_percent
from dashboard import ids
from dashboard.components.parts import as_sentence

WORTH = 0.05
"""Causes with a smaller share stay in the JSON."""
MOST = 4


def why(result: CylinderResult) -> Component | None:
    """Return the causes of one cylinder; None where nothing is to be explained.

    Args:
        result: the cylinder's.
    """
    if not result.causes or not result.tells_causes:
        return None
    told = [one for one in result.causes[:-1] if one.weight >= WORTH][:MOST]
    last = result.causes[-1]
    rest = sum(one.weight for one in result.causes[:-1]) - sum(one.weight for one in told)
    nothing = (
        html.P(
            f"That ring and sensor differ by chance alone has a probability of {percent(result.sound)}."
            " If it is not chance, the shares are these:",
            className="quiet",
        )
        if result.sound is not None
        else None
    )
    differs = result.verdict in {"ring richer", "ring leaner"}
    return html.Details(
        [
            html.Summary("Why they may differ"),
            nothing,
            html.Ol(
                [
                    *(_cause(one) for one in told),
                    _cause(last),
                    html.Li(f"{percent(rest)} is spread thinly over other causes.")
                    if rest >= WORTH
                    else None,
                ],
                className="causes",
            ),
            _next(result),
        ],
        open=differs,
        className="why",
    )


def percent(share: float) -> str:
    """Return a share as printers set it, never said to be nothing or all."""
    return plain_percent(share).replace("%", " %")


def _cause(one: Ranked) -> Component:
    speaks, against = one.for_, one.against
    return html.Li(
        [
            html.Div(
                [
                    html.Span(percent(one.weight), className="share"),
                    html.Strong(one.cause[:1].upper() + one.cause[1:]),
                ],
                className="cause-head",
            ),
            html.Div(
                html.Div(className="bar", style={"width": f"{100.0 * one.weight:.0f}%"}),
                className="cause-bar",
            ),
            html.P([html.Em("For: "), as_sentence("; ".join(speaks))]) if speaks else None,
            html.P([html.Em("Against: "), as_sentence("; ".join(against))]) if against else None,
            html.P(as_sentence(one.predicts), className="quiet"),
        ]
    )


def _next(result: CylinderResult) -> Component | None:
    test = result.next_test
    if test is None:
        return None
    outcomes = [
        html.Li(f"If {seen}, it is rather {' or '.join(names)}.") for seen, names in test.outcomes if names
    ]
    apart = f"To tell apart: {', '.join(test.separates)}." if test.separates else ""
    because = f"{apart} {test.caution or ''}".strip() or None
    return html.Div(
        [
            html.H4("The test that tells most"),
            html.P(as_sentence(test.how)),
            html.P(test.caution, className="caution-line") if test.caution else None,
            html.Ul(outcomes, className="plain") if outcomes else None,
            dcc.Store(
                id={"type": ids.TASK_TEST_WORDS, "cylinder": result.cylinder},
                data={"cylinder": result.cylinder, "what": test.how, "because": because},
            ),
            html.Button(
                "Write it on the to-do",
                id={"type": ids.TASK_TEST, "cylinder": result.cylinder},
                type="button",
                className="action",
            ),
        ],
        className="next-test",
    )
