"""What a reading is worth: every rule's answer with its figure and what to do next time, and what else was seen."""

from collections import Counter

from dash import dcc, html
from dash.development.base_component import Component

from bridge.agreement import CylinderResult
from bridge.plug.rules import Grade, RuleResult
from dashboard.components.parts import as_sentence

COMMON_PRACTICE = (
    "Every rule here is common practice: tuners keep them, and no published source is known to us."
)
_ORDER: tuple[Grade, ...] = ("fail", "doubtful", "not known", "pass")
_WORDS: dict[Grade, str] = {
    "fail": "fails",
    "doubtful": "doubtful",
    "not known": "not known",
    "pass": "passes",
}
_COUNTED: tuple[Grade, ...] = ("fail", "doubtful", "pass", "not known")


def rules(result: CylinderResult, *, opened: bool = False) -> Component | None:
    """Return the rules of a reading as a list to unfold; None where no plug is known.

    Args:
        result: of the cylinder.
        opened: whether it begins unfolded.
    """
    answers = asked(result)
    if not answers:
        return None
    told = sorted(answers, key=lambda one: _ORDER.index(one.result))
    return html.Details(
        [
            html.Summary(f"{worth(result)}: {_counts(answers)}"),
            html.Ul([_rule(one) for one in told], className="rules"),
            html.P(COMMON_PRACTICE, className="quiet hint"),
        ],
        className="judged",
        open=opened,
    )


def at_reading(result: CylinderResult | None, session: int) -> Component | None:
    """Return what stands beside the reading form: whether a reading counts by the log, and what was seen.

    Args:
        result: of the plug's place; None where it has none.
        session: that it is read for.
    """
    if result is None or not asked(result):
        return None
    failed = any(one.result == "fail" for one in asked(result))
    return html.Div(
        [
            html.H2("What it is worth"),
            rules(result, opened=failed),
            seen(result),
            dcc.Link(
                "Ring and sensor, on the session's sheet", href=f"/session/{session}", className="action"
            ),
        ],
        className="worth",
    )


def asked(result: CylinderResult) -> tuple[RuleResult, ...]:
    """Return the rules that can be asked: that a plug was read is none before somebody has read it."""
    return tuple(one for one in result.validity.rules if _was_read(result) or one.rule != "reading")


def worth(result: CylinderResult) -> str:
    """Return whether the reading counts, or would count, in a few words."""
    good = not any(one.result == "fail" for one in asked(result))
    if _was_read(result):
        return "The reading counts" if good else "The reading does not count"
    return "A reading would count" if good else "A reading would not count"


def seen(result: CylinderResult) -> Component | None:
    """Return what else was seen on the plug and how carefully it may be taken; None where nothing was."""
    found = result.evidence
    if not found:
        return None
    stops = any(one.evidence.direction == "stop" for one in found)
    rows = [
        html.Li(
            [as_sentence(one.sentence), " ", html.Span(f"({one.evidence.status})", className="quiet")],
            className="stops" if one.evidence.direction == "stop" else None,
        )
        for one in found
    ]
    marks = f"{len(found)} mark{'' if len(found) == 1 else 's'}"
    return html.Details(
        [html.Summary(f"Seen beside the ring: {marks}, and what each may indicate"), html.Ul(rows)],
        className="seen",
        open=stops,
    )


def _was_read(result: CylinderResult) -> bool:
    return result.life is not None and result.life.reading is not None


def _counts(answers: tuple[RuleResult, ...]) -> str:
    counts = Counter(one.result for one in answers)
    words = {
        "fail": "fails" if counts["fail"] == 1 else "fail",
        "pass": "passes" if counts["pass"] == 1 else "pass",
    }
    told = [f"{counts[grade]} {words.get(grade, grade)}" for grade in _COUNTED if counts[grade]]
    return f"of {len(answers)} rules {', '.join(told)}"


def _rule(one: RuleResult) -> Component:
    plain = one.result == "pass"
    return html.Li(
        [
            html.Span(_WORDS[one.result], className="rule-result"),
            html.Div(
                [
                    html.P([html.Strong(one.rule.capitalize()), ", ", html.Span(one.figure)]),
                    None if plain else html.P(as_sentence(one.says), className="quiet"),
                    html.P(
                        [
                            "Next time: ",
                            as_sentence(one.next_time)[:1].lower() + as_sentence(one.next_time)[1:],
                        ]
                    )
                    if one.next_time and not plain
                    else None,
                ]
            ),
        ],
        className=f"rule rule-{one.result.replace(' ', '-')}",
    )
