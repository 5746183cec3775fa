"""A small SVG writer: every attribute and every text is escaped here, so no caller can forget it."""

import hashlib
from collections.abc import Iterable
from html import escape

Value = str | float | int | None


def _plain(value: Value) -> str:
    if isinstance(value, float):
        return f"{value:.2f}".rstrip("0").rstrip(".")
    return str(value)


def tag(name: str, /, *children: str, **attributes: Value) -> str:
    """Return one element.

    Args:
        name: the element.
        children: markup that this module made; text goes through `text` or `escaped`.
        attributes: names with ``_`` for ``-`` (a trailing one is dropped, so ``class_`` and ``id_`` work);
            those that are None are left out.
    """
    words = "".join(
        f' {key.rstrip("_").replace("_", "-")}="{escape(_plain(value), quote=True)}"'
        for key, value in attributes.items()
        if value is not None
    )
    return f"<{name}{words}>{''.join(children)}</{name}>" if children else f"<{name}{words}/>"


def escaped(words: str) -> str:
    """Return words that may stand between tags."""
    return escape(words, quote=False)


def title(words: str) -> str:
    """Return what an element is called, for those who point at it and those who do not see it."""
    return tag("title", escaped(words))


def text(x: float, y: float, words: str, **attributes: Value) -> str:
    """Return words at a place [px]; class, size and anchor by attributes."""
    return tag("text", escaped(words), x=x, y=y, **attributes)


def line(x1: float, y1: float, x2: float, y2: float, **attributes: Value) -> str:
    """Return a straight line between two points [px]."""
    return tag("line", x1=x1, y1=y1, x2=x2, y2=y2, **attributes)


def rect(x: float, y: float, width: float, height: float, **attributes: Value) -> str:
    """Return a rectangle by its upper left corner [px]; a negative size becomes 0."""
    return tag("rect", x=x, y=y, width=max(width, 0.0), height=max(height, 0.0), **attributes)


def path(points: str, **attributes: Value) -> str:
    """Return a path."""
    return tag("path", d=points, **attributes)


def polygon(points: Iterable[tuple[float, float]], **attributes: Value) -> str:
    """Return a closed shape through points [px]."""
    joined = " ".join(f"{x:.2f},{y:.2f}" for x, y in points)
    return tag("polygon", points=joined, **attributes)


def key_of(content: object) -> str:
    """Return a short name for a figure's own ids, the same for the same content."""
    return "f" + hashlib.blake2s(repr(content).encode(), digest_size=5).hexdigest()


def figure(
    width: float, height: float, words: str, *children: str, class_: str = "", **attributes: Value
) -> str:
    """Return a whole drawing that says in words what it shows.

    Args:
        width: of the drawing's own grid [px].
        height: of it [px].
        words: the content in words, for those who do not see it.
        children: the markup inside.
        class_: further CSS classes.
        attributes: further attributes, as `tag` has them.
    """
    return tag(
        "svg",
        title(words),
        *children,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {_plain(width)} {_plain(height)}",
        role="img",
        aria_label=words,
        class_=f"figure {class_}".strip(),
        style=f"--natural-width:{_plain(width)}px",
        **attributes,
    )
