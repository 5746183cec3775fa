"""The list of sessions, as a ledger: one line each, and what each session said."""

import asyncio
import re
from urllib.parse import quote

from dash import MATCH, Dash, Input, Output, dcc, html
from dash.development.base_component import Component

from bridge.agreement import Comparison
from bridge.errors import SootlineError
from bridge.model import Session
from dashboard import ids
from dashboard.components.parts import aria, length, moment
from dashboard.components.verdicts import headline
from dashboard.data import Source
from dashboard.shell import Query, Route

AT_ONCE = 60
"""Verdicts are worked out for so many of the newest sessions; older ones say them on their own page."""


def register(app: Dash, source: Source) -> Route:
    """Put the page and its callbacks into an app."""

    async def layout(_match: "re.Match[str]", _query: Query) -> Component:
        return _page(await asyncio.to_thread(source.sessions))

    one_by_one = asyncio.Semaphore(1)

    # the list stands at once; what takes reckoning comes after it, line by line
    @app.callback(
        Output({"type": ids.LEDGER_VERDICTS, "session": MATCH}, "children"),
        Input({"type": ids.LEDGER_VERDICTS, "session": MATCH}, "id"),
    )
    async def say(place: dict[str, int]) -> Component:
        # one line after another, so that all of them together never hold up the rest of the dashboard
        async with one_by_one:
            return await asyncio.to_thread(_verdicts, source, place["session"])

    return Route(re.compile(r"/"), layout)


def _verdicts(source: Source, number: int) -> Component:
    try:
        return verdict_lines(source.comparison(number))
    except SootlineError as error:
        return html.Span(str(error), className="quiet")


def verdict_lines(comparison: Comparison) -> Component:
    """Return a line for each cylinder, number one first."""
    several = len(comparison.cylinders) > 1
    return html.Ul(
        [
            html.Li(
                [html.Span(f"{result.cylinder} ", className="number") if several else "", headline(result)],
                className=f"verdict-{result.verdict.replace(' ', '-')}",
            )
            for result in comparison.cylinders
        ],
        className="verdict-lines",
    )


def _page(sessions: list[Session]) -> Component:
    if not sessions:
        return html.Section(
            [
                html.H1("An empty logbook"),
                html.P("Nothing has been recorded here yet. Three ways to begin:", className="lede"),
                html.Dl(
                    [
                        html.Dt("Record a session"),
                        html.Dd(
                            [
                                dcc.Link("from the live page", href="/live"),
                                ", or by ",
                                html.Code("sootline record --port DEVICE --bike NAME"),
                            ]
                        ),
                        html.Dt("Bring a log that you have"),
                        html.Dd(html.Code("sootline import FILE --bike NAME")),
                        html.Dt("Look at invented sessions first"),
                        html.Dd(html.Code("sootline demo")),
                    ],
                    className="ways",
                ),
            ],
            className="sheet narrow",
        )
    return html.Section(
        [
            html.H1("Sessions"),
            html.P(_summary(sessions), className="lede"),
            _seasons(sessions),
            html.Ol(
                [_line(session, number < AT_ONCE) for number, session in enumerate(sessions)],
                className="ledger",
            ),
        ],
        className="sheet",
    )


def _summary(sessions: list[Session]) -> str:
    bikes = {session.bike for session in sessions if session.bike}
    on = f" on {len(bikes)} bikes" if len(bikes) > 1 else f" on the {next(iter(bikes))}" if bikes else ""
    count = "One session" if len(sessions) == 1 else f"{len(sessions)} sessions"
    return f"{count}{on}, {length(sum(session.seconds for session in sessions))} of running. Newest first."


def _seasons(sessions: list[Session]) -> Component | None:
    """Return the way to each bike's season, the one ridden last first."""
    bikes = list(dict.fromkeys(session.bike for session in sessions if session.bike))
    if not bikes:
        return None
    return html.Nav(
        [dcc.Link(f"Season of {bike}", href=f"/bike/{quote(bike, safe='')}/season") for bike in bikes],
        className="crumbs",
        **aria(label="Seasons"),
    )


def _where(session: Session) -> str:
    """Return the page of a session: one that is still being recorded is looked at live."""
    return f"/live/{session.id}" if session.state == "recording" else f"/session/{session.id}"


def _line(session: Session, reckoned: bool) -> Component:
    kind = {"dyno": "dynamometer"}.get(session.kind or "", session.kind)
    facts = [session.bike or "no bike named", kind, length(session.seconds)]
    if session.state != "sealed":
        facts.append(
            {"recording": "recording now", "interrupted": "interrupted, not yet sealed"}[session.state]
        )
    place = session.place or "No place written down"
    where = (
        html.Div(id={"type": ids.LEDGER_VERDICTS, "session": session.id}, children="…") if reckoned else None
    )
    return html.Li(
        [
            html.Div(
                [html.Span(f"{session.id}", className="entry-number"), html.Time(moment(session.started))],
                className="entry-when",
            ),
            html.Div(
                [
                    dcc.Link(place, href=_where(session), className="entry-link"),
                    html.P(" · ".join(fact for fact in facts if fact), className="quiet"),
                ],
                className="entry-what",
            ),
            html.Div(where, className="entry-verdict"),
        ],
        className=f"entry state-{session.state}",
    )
