"""What a session says of each cylinder: the words, the signature drawing, the numbers, the cautions."""

from dash import dcc, html
from dash.development.base_component import Component

from bridge.agreement import CylinderResult, Difference
from bridge.plug.scale import RingLambda
from dashboard.components import doubts, judged
from dashboard.components.parts import aria, as_sentence, caution, drawing
from dashboard.components.verdicts import headline, measured_mark, nose_of, sentence
from dashboard.components.why import why
from dashboard.figures.nose import nose_svg
from dashboard.pictures import Picture

_STATES = {"new": "fitted new", "cleaned": "fitted cleaned", "used": "fitted used"}
_SCALES = {"guess": "by the guess", "stated": "by your word", "gas": "by gas", "pairs": "by pairs"}
_VIEWS = {"cut": "shell cut away", "magnifier": "through the shell's mouth"}


def section(picture: Picture) -> Component:
    """Return the part that the page is for."""
    comparison = picture.comparison
    cylinders = [_cylinder(result, picture) for result in comparison.cylinders]
    return html.Section(
        [
            html.H2("Ring and sensor", className="aside-heading"),
            html.Div(
                [
                    html.Div(cylinders, className=f"cylinders of-{min(len(cylinders), 4)}"),
                    html.Div(
                        [
                            _key(gas=any(result.gas for result in comparison.cylinders)),
                            caution(comparison.cautions),
                            _ways(picture),
                        ],
                        className="beside",
                    ),
                ],
                className="findings",
            ),
        ],
        className="part part-findings",
    )


def _cylinder(result: CylinderResult, picture: Picture) -> Component:
    nose = nose_of(result)
    return html.Section(
        [
            html.H3([html.Span(_which(result), className="which"), headline(result) + "."]),
            # one cell of the grid that keeps the cylinders' parts on the same lines
            html.Div(
                [
                    html.P(sentence(result), className="statement"),
                    html.P(result.caution, className="caution-line") if result.caution else None,
                ],
            ),
            html.P(_plug(result), className="quiet plug-line"),
            drawing(nose_svg(nose), className="nose-frame") if nose else None,
            _numbers(result, picture.comparison.fuel.stoich_afr),
        ],
        className="cylinder" + ("" if result.validity.valid else " does-not-count"),
    )


def _which(result: CylinderResult) -> str:
    """Return whose column it is: of a plug whose order was lost only the sensor is this cylinder's."""
    if result.life is not None and result.life.fitting.order_lost:
        return f"Sensor of cylinder {result.cylinder}; the plug came from nobody knows where"
    return f"Cylinder {result.cylinder}"


def _plug(result: CylinderResult) -> str:
    life = result.life
    if life is None:
        return "No plug was written down for this cylinder."
    words = [f"Plug {life.fitting.plug}", _STATES[life.fitting.state]]
    if life.fitting.order_lost:
        words.append("order of the tray lost")
    if life.heat_range:
        words.append(
            f"{abs(life.heat_range)} steps {'colder' if life.heat_range > 0 else 'hotter'} than usual"
        )
    if life.reading:
        words.append(_VIEWS[life.reading.view])
    if life.reading and life.reading.corrects:
        words.append("reading corrected")
    return ", ".join(words)


def _numbers(result: CylinderResult, stoich_afr: float) -> Component:
    """The methods and their difference, as lambda and as AFR of the session's own fuel."""
    over, gas = measured_mark(result.measured), result.gas
    name = result.scale.name if result.scale else "guess"
    departed = result.departed if result.departure else None
    rows = [
        _row("ring", "Ring, by its history", *_ring(departed.ring, stoich_afr)) if departed else None,
        _row("ring", f"Ring, {_SCALES[name]}" if departed else "Ring", *_ring(result.ring, stoich_afr)),
        _row(
            "sensor",
            "Measured",
            *(_interval(over.mean, over.low, over.high, stoich_afr) if over else ("—", "—")),
        ),
        doubts.mark(result),
        _row("gas", "Exhaust gas", *_interval(gas.lambda_, gas.low, gas.high, stoich_afr)) if gas else None,
        _row("", "Against its history", *_difference(result.departure)) if result.departure else None,
        _row("", "Absolutely" if result.departure else "Difference", *_difference(result.absolute)),
    ]
    head = html.Tr([html.Td(), html.Th("lambda, 95 %", scope="col"), html.Th("AFR", scope="col")])
    return html.Div(
        [
            why(result),
            html.Table(
                [html.Thead(head), html.Tbody([row for row in rows if row is not None])], className="numbers"
            ),
            html.P(_basis(result), className="quiet basis"),
            html.P(_of_gas(gas.statement), className="basis") if gas else None,
            doubts.fools(result.fooled),
            doubts.budget(result),
            judged.rules(result),
            judged.seen(result),
        ]
    )


def _of_gas(statement: str) -> str:
    """Return what the exhaust gas says with its name in front; its own words begin with "it"."""
    return as_sentence(f"the exhaust gas {statement[3:]}" if statement.startswith("it ") else statement)


def _row(mark: str, name: str, lambda_: str, afr: str) -> Component:
    return html.Tr(
        [
            html.Th([html.Span(className=f"mark mark-{mark}"), name], scope="row"),
            html.Td(lambda_, colSpan=1 if afr else 2),
            html.Td(afr) if afr else None,
        ]
    )


def _interval(mean: float | None, low: float | None, high: float | None, afr: float) -> tuple[str, str]:
    if mean is None:
        return "—", "—"
    if low is None or high is None:
        return f"{mean:.3f}", f"{mean * afr:.2f}"
    return f"{mean:.3f} ({low:.3f} to {high:.3f})", f"{mean * afr:.2f}"


def _ring(ring: RingLambda | None, afr: float) -> tuple[str, str]:
    if ring is None:
        return "—", "—"
    if ring.one_sided is None:
        return _interval(ring.mean, ring.low, ring.high, afr)
    edge = ring.low if ring.one_sided == "leaner" else ring.high
    assert edge is not None  # a one-sided ring has the end that it is about
    return (
        f"{ring.one_sided} than {edge:.3f}",
        f"{'over' if ring.one_sided == 'leaner' else 'under'} {edge * afr:.2f}",
    )


def _difference(found: Difference) -> tuple[str, str]:
    if found.difference is not None and found.low is not None and found.high is not None:
        return f"{_signed(found.difference)} ({_signed(found.low)} to {_signed(found.high)})", ""
    if found.low is not None:
        return f"over {_signed(found.low)}", ""
    return (f"under {_signed(found.high)}", "") if found.high is not None else ("—", "")


def _signed(value: float) -> str:
    """Return a difference with its sign, the minus as printers set it."""
    return f"{value:+.3f}".replace("-", "−")


def _basis(result: CylinderResult) -> str:
    """What the numbers rest on: seconds at full throttle, where the scale comes from, the margin."""
    words, over = [], result.measured
    if over.mean is not None:
        words.append(
            f"Measured over {over.seconds:.0f} s of steady full throttle on this plug, each second weighted by"
            f" exp(−age/{over.memory_s:g} s) before the cut"
        )
        if over.low is not None and over.high is not None:
            half = (over.high - over.low) / 2.0
            words.append(f"of its interval ±{half:.3f} is sampling and delay, the rest the sensor's own")
    if result.scale is not None:
        scale = {"guess": "a starting guess, wide on purpose", "stated": "the tuner's own word"}
        if result.departure and result.departed:
            known = result.departed
            words.append(
                f"its history is {known.pairs} pairs of {known.sessions} other sessions, where constant errors of the"
                " sensor cancel; absolutely they count"
            )
        words.append(f"ring scale: {scale.get(result.scale.name, result.scale.name)}")
    words.append(f"agreement means within ±{result.absolute.margin:g}")
    text = "; ".join(words) + "."
    return text[:1].upper() + text[1:]


def _key(*, gas: bool) -> Component:
    """What the marks of the drawing are."""
    marks = [
        ("ring", "read from the ring"),
        ("sensor", "measured by the sensor, and how it was spread"),
        *([("gas", "by exhaust-gas analysis")] if gas else []),
        ("bar", "95 % interval"),
        ("stoich", "stoichiometric, lambda 1"),
    ]
    return html.Ul(
        [html.Li([html.Span(className=f"mark mark-{mark}"), words]) for mark, words in marks],
        className="key",
        **aria(label="Key to the drawings"),
    )


def _ways(picture: Picture) -> Component:
    number = picture.run.session.id
    return html.Div(
        [
            dcc.Link("Plugs: fit, pull, read", href=f"/session/{number}/plugs", className="action"),
            dcc.Link("Sensor check, exhaust gas", href=f"/session/{number}/sensor", className="action"),
            dcc.Link("Pulls: power and mixture", href=f"/session/{number}/pulls", className="action"),
        ],
        className="ways-on",
    )
