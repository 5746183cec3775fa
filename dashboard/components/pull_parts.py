"""What the pages of pulls say in words and tables."""

from collections.abc import Sequence
from typing import Any, Final
from urllib.parse import urlencode

import dash_mantine_components as dmc
from dash import html
from dash.development.base_component import Component

from bridge.pulls import Pull, Pulls, words
from bridge.pulls.compare import Entry
from bridge.pulls.corrected import NOT_FOR_MIXTURE, STANDARDS
from dashboard.components.parts import aria, as_sentence

CORRECTIONS: Final = {
    "iso_1585": "ISO 1585 (motorcycles: ISO 4106)",
    "sae_j1349": "SAE J1349 (form of June 1990)",
    "din_70020": "DIN 70020 (withdrawn)",
    "none": "none, as measured",
}
"""What a correction is called where one is chosen."""


def correction_field(key: str, value: str) -> Component:
    """Return the choice of the correction."""
    field: Component = dmc.Select(
        id=key,
        label="Correction of power",
        data=[{"value": name, "label": label} for name, label in CORRECTIONS.items()],
        value=value,
        allowDeselect=False,
        size="md",
    )
    return field


def asked_row(key: str, correct: str | None, *fields: Component) -> Component:
    """Return the row of what can be asked for, with the button that prints the sheet.

    Args:
        key: of the correction's field.
        correct: the correction that the address asked for.
        fields: what else can be asked for.
    """
    # assets/print.js listens for it
    prints: Any = {"data-print": "yes"}
    return html.Div(
        [
            correction_field(key, known_standard(correct)),
            *fields,
            html.Button("Print, or save as PDF", className="quiet-button boxed", type="button", **prints),
        ],
        className="pull-asked",
    )


def known_standard(asked: str | None) -> str:
    """Return a correction that an address asked for, the usual one where it is none."""
    return asked if asked in CORRECTIONS else STANDARDS[0]


def not_for_mixture() -> str:
    """Return what a correction does not do."""
    return as_sentence(NOT_FOR_MIXTURE)


def cautions(stops: Sequence[str]) -> list[str]:
    """Return what stands beside every answer, what the plugs say stop by before all else."""
    return [*stops, *words.CAUTIONS]


def download(path: str, label: str, **query: str) -> Component:
    """Return a link to a file."""
    return html.A(label, href=f"{path}?{urlencode(query)}", className="action pull-file", download="")


def of_pull(pull: Pull) -> list[str]:
    """Return the sentences about one pull, with how it began."""
    return [*words.of_pull(pull), *_began(pull)]


def _began(pull: Pull) -> list[str]:
    began = pull.conditions
    said = []
    if began.start_temp_c is not None:
        said.append(f"{began.start_temp_of} at {began.start_temp_c:.0f} \N{DEGREE SIGN}C")
    if began.start_egt_c is not None:
        said.append(f"exhaust gas at {began.start_egt_c:.0f} \N{DEGREE SIGN}C")
    if began.rest_s is not None:
        said.append(f"{began.rest_s:.0f} s after the one before")
    return [as_sentence(f"It began with {', '.join(said)}")] if said else []


def notes(sentences: Sequence[str]) -> Component | None:
    """Return what cannot be told, and why."""
    if not sentences:
        return None
    return html.Ul([html.Li(as_sentence(one)) for one in sentences], className="notes")


def none_of_them(found: Pulls) -> Component | None:
    """Return the table of what full throttle was besides pulls."""
    others = [one for one in found.findings.pieces if one.kind not in {"pull", "hold"}]
    if not others:
        return None
    rows = [
        (
            f"{one.start_s:.1f} to {one.end_s:.1f}",
            one.kind,
            f"{one.rpm_from:.0f} to {one.rpm_to:.0f}",
            one.why,
        )
        for one in others
    ]
    return html.Details(
        [
            html.Summary(f"What was no pull, and why: {len(others)}"),
            table("No pulls", ("seconds", "what", "1/min", "because"), rows, sentences=(3,)),
        ]
    )


def pull_table(found: Pulls) -> Component | None:
    """Return all pulls of a session in figures."""
    if not found.pulls:
        return None
    lambdas = [
        one.column.replace("lambda_", "\N{GREEK SMALL LETTER LAMDA} ") for one in found.pulls[0].mixture
    ]
    head = (
        "pull",
        "seconds",
        "gear",
        "1/min",
        "kW",
        "at",
        *lambdas,
        "start \N{DEGREE SIGN}C",
        "rest s",
        "chop after s",
    )
    rows = []
    for pull in found.pulls:
        rpm = pull.peak[1] if pull.peak else None
        rows.append(
            (
                str(pull.number),
                f"{pull.piece.start_s:.1f} to {pull.piece.end_s:.1f}",
                _number(pull.gear, 0),
                f"{pull.piece.rpm_from:.0f} to {pull.piece.rpm_to:.0f}",
                peak(pull),
                _number(rpm, 0),
                *(_mean(one.mean, one.sd) for one in pull.mixture),
                _number(pull.conditions.start_temp_c, 0),
                _number(pull.conditions.rest_s, 0),
                _number(pull.chop_s, 1),
            )
        )
    return html.Div(
        [
            table("Pulls", head, rows),
            html.P(
                "\N{PLUS-MINUS SIGN} is 95 %; that of kW is the noise which the filter leaves, without its bias.",
                className="quiet explain",
            ),
        ]
    )


def hold_table(found: Pulls) -> Component | None:
    """Return the speeds that were held."""
    holds = found.holds
    if not holds:
        return None
    names = list(holds[0].lambdas)
    head = (
        "seconds",
        "1/min",
        "kW",
        "Nm",
        *(name.replace("lambda_", "\N{GREEK SMALL LETTER LAMDA} ") for name in names),
    )
    rows = [
        (
            f"{one.start_s:.1f} to {one.end_s:.1f}",
            f"{one.rpm:.0f}",
            _mean(one.power_kw, one.power_sd_kw, (1, 2)),
            _number(one.torque_nm, 1),
            *(_mean(one.lambdas[name], one.lambda_sds[name]) for name in names),
        )
        for one in holds
    ]
    return html.Div(
        [
            html.H3("Held speeds"),
            table("Held speeds", head, rows),
            *(html.P(said, className="quiet explain") for said in words.of_holds(found)),
        ]
    )


def run_table(entries: Sequence[Entry]) -> Component:
    """Return the runs of a comparison in order of time, with those that do not count."""
    rows = [
        (
            one.side,
            str(one.session),
            str(one.pull.number),
            peak(one.pull),
            _number(one.pull.conditions.start_temp_c, 0),
            _number(one.pull.conditions.rest_s, 0),
            "counts" if one.left_out is None else f"left out: {one.left_out}",
        )
        for one in entries
    ]
    head = ("side", "session", "pull", "peak kW", "start \N{DEGREE SIGN}C", "rest s", "")
    return table("Runs of the comparison", head, rows, sentences=(6,))


def table(
    name: str, head: Sequence[str], rows: Sequence[Sequence[str]], *, sentences: tuple[int, ...] = ()
) -> Component:
    """Return a table that moves sideways by itself where it is too wide.

    Args:
        name: what it is, for those who do not see it.
        head: of the columns.
        rows: the cells.
        sentences: columns that hold sentences.
    """
    return html.Div(
        html.Table(
            [
                html.Thead(html.Tr([html.Th(text, scope="col") for text in head])),
                html.Tbody(
                    [
                        html.Tr(
                            [
                                html.Td(cell, className="sentence" if n in sentences else "")
                                for n, cell in enumerate(row)
                            ]
                        )
                        for row in rows
                    ]
                ),
            ],
            className="table",
        ),
        className="wide",
        role="region",
        tabIndex="0",
        **aria(label=name),
    )


def _number(value: float | None, decimals: int) -> str:
    return "\N{EM DASH}" if value is None else f"{value:.{decimals}f}"


def peak(pull: Pull) -> str:
    """Return the greatest power [kW] as a cell, with the noise that the filter leaves of it (95 %)."""
    return _mean(pull.peak[0] if pull.peak else None, words.peak_doubt(pull), (1, 2))


def _mean(mean: float | None, sd: float | None, decimals: tuple[int, int] = (3, 3)) -> str:
    if mean is None:
        return "\N{EM DASH}"
    said = f"{mean:.{decimals[0]}f}"
    return said if sd is None else f"{said} \N{PLUS-MINUS SIGN}{1.96 * sd:.{decimals[1]}f}"
