"""How the delay from charge to reading was found: the fit and its interval, or why there is none."""

from dash import html
from dash.development.base_component import Component

from bridge.align import Delay, DelayFit
from dashboard.components.parts import as_sentence, drawing
from dashboard.figures.delayfit import Profile, Stretch, profile_svg, stretch_svg
from dashboard.pictures import Picture


def section(picture: Picture) -> Component | None:
    """Return the part on the delay; None where there are no bands to use it."""
    if picture.bands is None or picture.bands.delay is None:
        return None
    delay, fit = picture.bands.delay, picture.bands.fit
    return html.Section(
        [
            html.H2("From the charge to the reading"),
            html.P(_found(delay, fit), className="explain"),
            html.P(as_sentence(delay.note), className="quiet explain") if delay.note else None,
            _figures(fit, picture.geometry_s),
            _parts(delay, fit),
        ],
        className="part part-delay",
    )


def _found(delay: Delay, fit: DelayFit | None) -> str:
    said = (
        f"What the sensor says burned {delay.seconds:.3f} s earlier, give or take {delay.sd_s:.3f} s: "
        f"dead time {delay.dead_s:.3f} s and the sensor's own lag {delay.lag_s:.3f} s."
    )
    if delay.from_ == "ride" and fit is not None:
        return (
            f"{said} The ride itself shows it: of all delays, this one lets throttle and speed explain lambda best,"
            f" over {fit.steps} steps of the throttle."
        )
    if fit is not None and delay.note:  # which says that it is by the geometry, and why
        return said
    return f"{said} That is by the geometry of pipe and engine, not by the ride."


def _figures(fit: DelayFit | None, geometry_s: float | None) -> Component | None:
    if fit is None or len(fit.lag_axis_s) < 2:
        return None
    held = fit.refused is None
    profile = Profile(
        fit.lag_axis_s,
        fit.misfit,
        fit.best_s if held else None,
        fit.low_s if held else None,
        fit.high_s if held else None,
        geometry_s,
    )
    drawn = [
        html.Figure(
            [
                html.Figcaption("Every delay tried, and how badly it fits"),
                drawing(profile_svg(profile)),
                html.P(
                    "Tinted: the delay's 95 % interval."
                    if held
                    else "No tint: the ride alone does not settle it.",
                    className="quiet under-figure",
                ),
            ]
        )
    ]
    if fit.example is not None and len(fit.example.t_s) > 1:
        stretch = Stretch(fit.example.t_s, fit.example.seen, fit.example.explained)
        drawn.append(
            html.Figure(
                [
                    html.Figcaption("A stretch of the ride, seen and explained"),
                    drawing(stretch_svg(stretch)),
                    html.P(
                        [
                            html.Span(className="stroke stroke-seen"),
                            "as the sensor said it ",
                            html.Span(className="stroke stroke-explained"),
                            "as throttle and speed explain it",
                        ],
                        className="quiet under-figure",
                    ),
                ]
            )
        )
    return html.Div(drawn, className="bandmaps")


def _parts(delay: Delay, fit: DelayFit | None) -> Component:
    """The same as a table, for those who do not see the figures."""
    rows = [
        ("Dead time", delay.dead_s, delay.dead_sd_s),
        ("The sensor's lag", delay.lag_s, delay.lag_sd_s),
        ("Together", delay.seconds, delay.sd_s),
    ]
    body = [
        html.Tr([html.Th(name, scope="row"), html.Td(f"{value:.3f}"), html.Td(f"{sd:.3f}")])
        for name, value, sd in rows
    ]
    if fit is not None and fit.refused is None:
        body += [
            html.Tr(
                [html.Th(f"By {_sensor(name)} alone", scope="row"), html.Td(f"{value:.3f}"), html.Td("—")]
            )
            for name, value in fit.per_channel.items()
        ]
        body.append(
            html.Tr(
                [
                    html.Th("Likeness of seen and explained, 1 is all", scope="row"),
                    html.Td(f"{fit.explained:.2f}"),
                    html.Td("—"),
                ]
            )
        )
    head = html.Tr([html.Td(), html.Th("seconds", scope="col"), html.Th("give or take", scope="col")])
    table = html.Table([html.Thead(head), html.Tbody(body)], className="table")
    return html.Details(
        [html.Summary("The delay in numbers"), html.Div(table, className="wide", tabIndex="0")]
    )


def _sensor(channel: str) -> str:
    number = channel.rpartition("_")[2]
    return f"sensor {number}" if number.isdigit() else "the sensor"
