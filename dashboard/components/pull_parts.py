"""What the pages of pulls say in words and tables."""

from collections.abc import Sequence
from typing import Final
from urllib.parse import urlencode

import dash_mantine_components as dmc
from dash import html
from dash.development.base_component import Component

from bridge.pulls import Hold, Pull, Pulls
from bridge.pulls.compare import Comparison, Entry
from bridge.pulls.corrected import NOT_FOR_MIXTURE, STANDARDS
from bridge.pulls.words import CAUTIONS, pulls_words
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
        data=[{"value": name, "label": words} for name, words in CORRECTIONS.items()],
        value=value,
        allowDeselect=False,
        size="md",
    )
    return field


def known_standard(asked: str | None) -> str:
    """Return a correction that an address asked for, the usual one where it is none."""
    return asked if asked in CORRECTIONS else STANDARDS[0]


def not_for_mixture() -> str:
    """Return what a correction does not do."""
    return as_sentence(NOT_FOR_MIXTURE)


def cautions() -> list[str]:
    """Return what stands beside every answer."""
    return list(CAUTIONS)


def download(path: str, words: str, **query: str) -> Component:
    """Return a link to a file."""
    return html.A(words, href=f"{path}?{urlencode(query)}", className="action pull-file", download="")


def counted(found: Pulls) -> str:
    """Return how many pulls there are and what else full throttle was."""
    return pulls_words(found)[0]


def strongest(found: Pulls) -> str | None:
    """Return the greatest power in one sentence, with what it was corrected by."""
    known = [(pull.peak, pull) for pull in found.pulls if pull.peak is not None]
    if not known:
        return None
    peak, pull = max(known, key=lambda one: one[0][0] if one[0] else 0.0)
    assert peak is not None  # sifted above
    by, along = pull.corrected.by, pull.along
    how = f"corrected by {by.name}" if by else "as measured"
    where = f" at the {along.at}" if along else ""
    return f"The most: {peak[0]:.1f} kW{where} at {peak[1]:.0f} rpm in pull {pull.number}, {how}."


def of_pull(found: Pulls, number: int) -> list[str]:
    """Return the sentences about one pull."""
    heads = (f"Pull {number}:", f"Pull {number},", f"A chop followed pull {number} ")
    said = [words for words in pulls_words(found) if words.startswith(heads)]
    pull = next(one for one in found.pulls if one.number == number)
    return [*said, *_began(pull)]


def _began(pull: Pull) -> list[str]:
    began = pull.conditions
    words = []
    if began.start_temp_c is not None:
        words.append(f"{began.start_temp_of} at {began.start_temp_c:.0f} \N{DEGREE SIGN}C")
    if began.start_egt_c is not None:
        words.append(f"exhaust gas at {began.start_egt_c:.0f} \N{DEGREE SIGN}C")
    if began.rest_s is not None:
        words.append(f"{began.rest_s:.0f} s after the one before")
    return [as_sentence(f"It began with {', '.join(words)}")] if words else []


def rest_of_words(found: Pulls) -> list[str]:
    """Return what is said of all pulls together, besides their number and the cautions."""
    return [
        words
        for words in pulls_words(found)[1:]
        if not words.startswith(("Pull ", "A chop followed", "Caution:", "Note:"))
    ]


def notes(sentences: Sequence[str]) -> Component | None:
    """Return what cannot be told, and why."""
    if not sentences:
        return None
    return html.Ul([html.Li(as_sentence(words)) for words in sentences], className="notes")


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
            table("No pulls", ("seconds", "what", "1/min", "because"), rows, words=(3,)),
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
        power, rpm = pull.peak or (None, None)
        rows.append(
            (
                str(pull.number),
                f"{pull.piece.start_s:.1f} to {pull.piece.end_s:.1f}",
                _number(pull.gear, 0),
                f"{pull.piece.rpm_from:.0f} to {pull.piece.rpm_to:.0f}",
                _number(power, 1),
                _number(rpm, 0),
                *(_mean(one.mean, one.sd) for one in pull.mixture),
                _number(pull.conditions.start_temp_c, 0),
                _number(pull.conditions.rest_s, 0),
                _number(pull.chop_s, 1),
            )
        )
    return table("Pulls", head, rows)


def hold_table(holds: Sequence[Hold]) -> Component | None:
    """Return the speeds that were held."""
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
            _number(one.power_kw, 1),
            _number(one.torque_nm, 1),
            *(_number(one.lambdas[name], 3) for name in names),
        )
        for one in holds
    ]
    return html.Div([html.H3("Held speeds"), table("Held speeds", head, rows)])


def run_table(entries: Sequence[Entry]) -> Component:
    """Return the runs of a comparison in order of time, with those that do not count."""
    rows = [
        (
            one.side,
            str(one.session),
            str(one.pull.number),
            _number(one.pull.peak[0] if one.pull.peak else None, 1),
            _number(one.pull.conditions.start_temp_c, 0),
            _number(one.pull.conditions.rest_s, 0),
            "counts" if one.left_out is None else f"left out: {one.left_out}",
        )
        for one in entries
    ]
    head = ("side", "session", "pull", "peak kW", "start \N{DEGREE SIGN}C", "rest s", "")
    return table("Runs of the comparison", head, rows, words=(6,))


def trend_words(found: Comparison) -> list[str]:
    """Return spread and trend in words."""
    words = []
    if found.spread_percent is not None:
        words.append(
            f"From run to run it scatters by {found.spread_percent:.2f} % (standard deviation, trends taken out)."
        )
    if found.alternates:
        words.append("The sides take turns, so the day's own course and the change can be told apart.")
    return words


def table(
    name: str, head: Sequence[str], rows: Sequence[Sequence[str]], *, words: tuple[int, ...] = ()
) -> Component:
    """Return a table that moves sideways by itself where it is too wide.

    Args:
        name: what it is, for those who do not see it.
        head: of the columns.
        rows: the cells.
        words: columns that hold sentences.
    """
    return html.Div(
        html.Table(
            [
                html.Thead(html.Tr([html.Th(text, scope="col") for text in head])),
                html.Tbody(
                    [
                        html.Tr(
                            [
                                html.Td(cell, className="sentence" if n in words else "")
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


def _mean(mean: float | None, sd: float | None) -> str:
    if mean is None:
        return "\N{EM DASH}"
    return f"{mean:.3f}" if sd is None else f"{mean:.3f} \N{PLUS-MINUS SIGN}{1.96 * sd:.3f}"
