"""What each mark on a plug may indicate, beside the answer that says it is there: bridge.plug.evidence in the form."""

from dataclasses import dataclass

from bridge.plug.evidence import EVIDENCE, STRAP_TIP, STRAP_WELD, Evidence
from dashboard.components.markup import element, said


@dataclass(frozen=True)
class _When:
    """The field of the form that a row of the table belongs to, and when it holds there."""

    field: str
    is_: str | None = None
    """This answer; None for anything that was typed."""
    over: float | None = None
    under: float | None = None


# evidence.py asks a reading, the browser a form: this is the same in the form's own words (tested row by row)
WHEN: dict[str, _When] = {
    "aluminium": _When("specks", "aluminium"),
    "soot": _When("specks", "soot"),
    "blisters": _When("blisters", "yes"),
    "glaze": _When("glaze", "yes"),
    "wet": _When("wet", "yes"),
    "strap mark to the weld": _When("strap_mark", over=STRAP_WELD),
    "strap mark to the tip": _When("strap_mark", under=STRAP_TIP),
    "strap mark near the bend": _When("strap_mark", over=STRAP_TIP, under=STRAP_WELD),
    "rounded edge": _When("edge", "rounded"),
    "base ring": _When("base_ring"),
    "nose colour": _When("nose_colour"),
    "piston wash": _When("piston_wash"),
}

_ALUMINIUM = next(row for row in EVIDENCE if row.key == "aluminium")
STOP = f"Stop. {_ALUMINIUM.sentence} No jet goes leaner and no ignition earlier on this engine until then."
"""Stands on the form at once, when specks of aluminium are said to be there."""


def of(field: str) -> str:
    """Return the meanings of a field's answers, each hidden until its answer is chosen."""
    rows = [_row(row, WHEN[row.key]) for row in EVIDENCE if WHEN[row.key].field == field]
    return element("div", *rows, class_="meanings", aria_live="polite")


def _row(row: Evidence, when: _When) -> str:
    return element(
        "p",
        said("strong", f"May indicate {row.may_indicate}. "),
        said("span", f"{row.caution[:1].upper()}{row.caution[1:]}. "),
        said("span", f"({row.status})", class_="quiet"),
        class_="means stops" if row.direction == "stop" else "means",
        hidden="",
        data_when=when.field,
        data_is=when.is_,
        data_over=when.over,
        data_under=when.under,
        data_key=row.key,
    )
