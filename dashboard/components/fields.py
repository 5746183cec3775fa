"""The fields of the plug forms: big enough for cold or gloved hands, and the way between form and bridge."""

import math
from collections.abc import Sequence
from contextlib import suppress
from typing import Any

import dash_mantine_components as dmc
from dash import html
from dash.development.base_component import Component

from bridge.errors import BadValue

Id = dict[str, str] | str
Choices = Sequence[tuple[str, str]]

NOT_LOOKED = "not-looked"
YES_NO: Choices = ((NOT_LOOKED, "not looked"), ("no", "no"), ("yes", "yes"))


def choice(name: Id, label: str, choices: Choices, value: str | None, hint: str | None = None) -> Component:
    """Return one question with a few answers side by side.

    Args:
        name: the field's id.
        label: the question.
        choices: (value, words).
        value: the answer that stands.
        hint: a sentence below the question.
    """
    return html.Fieldset(
        [
            html.Legend(label),
            html.P(hint, className="quiet hint") if hint else None,
            dmc.SegmentedControl(
                id=name,
                data=[{"value": key, "label": words} for key, words in choices],
                value=value or choices[0][0],
                fullWidth=True,
                size="lg",
                className="choice",
            ),
        ],
        className="field",
    )


def number(name: Id, label: str, value: float | None, unit: str, hint: str | None = None) -> Component:
    """Return a field for a number; a comma is taken for a point."""
    # a field of words with the keypad for numbers: the kit's own for numbers turns a pasted 12,1 into 121
    control: Component = dmc.TextInput(
        id=name,
        label=f"{label}, {unit}" if unit else label,
        description=hint,
        value="" if value is None else f"{value:g}",
        size="lg",
        className="field",
        autoComplete="off",
        inputProps={"inputMode": "decimal"},
    )
    return control


def words(name: Id, label: str, value: str | None, hint: str | None = None) -> Component:
    """Return a field for a few words."""
    control: Component = dmc.TextInput(
        id=name,
        label=label,
        description=hint,
        value=value or "",
        size="lg",
        className="field",
        autoComplete="off",
    )
    return control


def as_words(value: object) -> str | None:
    """Return what was typed, None for nothing."""
    text = str(value).strip() if value is not None else ""
    return text or None


def as_number(value: object, label: str) -> float | None:
    """Return a number that was typed, None for nothing.

    Raises:
        BadValue: it is no number.
    """
    text = as_words(value)
    if text is None:
        return None
    found = math.nan
    with suppress(ValueError):
        found = float(text.replace(",", "."))
    if not math.isfinite(found):
        raise BadValue(f"'{text}' is no number for {label}; write it with digits, such as 6.2")
    return found


def as_yes_no(value: object) -> bool | None:
    """Return yes or no, None for "not looked"."""
    return {"yes": True, "no": False}.get(str(value))


def from_yes_no(value: bool | None) -> str:
    """Return the answer that stands in the form."""
    return NOT_LOOKED if value is None else "yes" if value else "no"


def by_name(names: Sequence[dict[str, str]], values: Sequence[Any]) -> dict[str, Any]:
    """Return a form's values by their fields' names, as callbacks hand them over."""
    return {one["name"]: value for one, value in zip(names, values, strict=True)}
