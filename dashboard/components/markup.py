"""HTML of our own for forms that the browser keeps and sends by itself; the drawings stand inside it.

A form that lives in the browser keeps what was typed when the connection is lost, and follows a finger without
asking the server. `parts.drawing` puts the markup into the page; text and attributes are escaped here.
"""

from collections.abc import Sequence

from dashboard.figures.svg import Value, escaped, tag

_EMPTY = ("input", "br", "img", "hr")


def element(name: str, /, *children: str, **attributes: Value) -> str:
    """Return one element with its end tag, which HTML wants where there is nothing inside.

    Args:
        name: the element.
        children: markup that this module or dashboard.figures made; words go through `said`.
        attributes: as `tag` has them; an empty string for one that only is there.
    """
    if children or name in _EMPTY:
        return tag(name, *children, **attributes)
    return tag(name, " ", **attributes).replace("> </", "></")


def said(name: str, words: str, **attributes: Value) -> str:
    """Return an element with words in it."""
    return element(name, escaped(words), **attributes)


def number_field(  # noqa: PLR0913  # a field with its unit, its hint and its limits
    name: str,
    label: str,
    value: float | None,
    unit: str = "",
    hint: str | None = None,
    *,
    prefix: str = "reading",
) -> str:
    """Return a field for a number, with the keypad for numbers; a comma is taken for a point."""
    shown = "" if value is None else f"{value:g}"
    words = f"{label}, {unit}" if unit else label
    return _typed(prefix, name, words, hint, value=shown, inputmode="decimal")


def words_field(
    name: str, label: str, value: str | None, hint: str | None = None, *, prefix: str = "reading"
) -> str:
    """Return a field for a few words."""
    return _typed(prefix, name, label, hint, value=value or "")


def _typed(prefix: str, name: str, label: str, hint: str | None, **attributes: Value) -> str:
    key = f"{prefix}-{name}"
    return element(
        "div",
        said("label", label, for_=key),
        said("p", hint, class_="quiet hint", id_=f"{key}-hint") if hint else "",
        element(
            "input",
            type="text",
            id_=key,
            name=name,
            autocomplete="off",
            aria_describedby=f"{key}-hint" if hint else None,
            **attributes,
        ),
        class_="field",
    )


def note_field(name: str, label: str, value: str | None, *, prefix: str = "reading") -> str:
    """Return a field for a free note."""
    key = f"{prefix}-{name}"
    # the parser drops the first line feed of a text area, so a note that begins with one keeps it
    area = element("textarea", "\n" + escaped(value or ""), id_=key, name=name, rows=2)
    return element("div", said("label", label, for_=key), area, class_="field")


def choice_field(  # noqa: PLR0913  # a question with its drawings and what the answers mean
    name: str,
    label: str,
    choices: Sequence[tuple[str, str]],
    value: str,
    *,
    drawings: dict[str, str] | None = None,
    after: str = "",
    prefix: str = "reading",
) -> str:
    """Return one question with its answers side by side, each with a small drawing of what is meant.

    Args:
        name: the field's name.
        label: the question.
        choices: (value, words).
        value: the answer that stands.
        drawings: markup by value.
        after: markup below the answers.
        prefix: of the ids.
    """
    answers = [
        element(
            "label",
            element(
                "input",
                type="radio",
                name=name,
                value=key,
                checked="" if key == value else None,
                id_=f"{prefix}-{name}-{key}",
            ),
            (drawings or {}).get(key, ""),
            said("span", words),
            class_="answer",
        )
        for key, words in choices
    ]
    return element(
        "fieldset",
        said("legend", label),
        element("div", *answers, class_="answers", style=f"--answers:{len(choices)}"),
        after,
        class_="field",
    )
