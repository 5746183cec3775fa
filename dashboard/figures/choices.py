"""Small drawings of what each answer of the reading form means; drawn, not measured."""

from collections.abc import Callable

from dashboard.figures.svg import line, path, rect, tag, text

_WIDE, _HIGH = 56.0, 44.0
_EDGE = "var(--metal-line)"


def small(what: str, value: str) -> str:
    """Return the drawing of one answer; nothing for an answer that needs none.

    Args:
        what: the field, such as specks.
        value: the answer, such as aluminium.
    """
    draw = _DRAWINGS.get((what, value))
    if draw is None:
        return ""
    return tag(
        "svg",
        draw(),
        viewBox=f"0 0 {_WIDE:g} {_HIGH:g}",
        class_="figure small-drawing",
        aria_hidden="true",
        focusable="false",
    )


def drawn(what: str, values: tuple[str, ...]) -> dict[str, str]:
    """Return the drawings of all answers of a field."""
    return {value: small(what, value) for value in values}


def swatch(colour: str) -> str:
    """Return a porcelain tip from above in one colour, for the colour of the nose."""
    return _face(tag("circle", cx=28, cy=22, r=11, fill=colour, stroke=_EDGE), _electrode())


def ring_swatch(colour: str) -> str:
    """Return the shell's face from above with its ring in one colour, for the base ring."""
    ring = tag("circle", cx=28, cy=22, r=17, fill="none", stroke=colour, stroke_width=5.5)
    rim = tag("circle", cx=28, cy=22, r=20, fill="none", stroke=_EDGE)
    inner = tag("circle", cx=28, cy=22, r=14, fill="var(--porcelain)", stroke=_EDGE)
    return _face(ring, rim, inner, _electrode())


def _face(*parts: str) -> str:
    return tag(
        "svg",
        *parts,
        viewBox=f"0 0 {_WIDE:g} {_HIGH:g}",
        class_="figure small-drawing",
        aria_hidden="true",
        focusable="false",
    )


def _electrode() -> str:
    return tag("circle", cx=28, cy=22, r=4.2, fill="var(--metal)", stroke=_EDGE)


def _asked() -> str:
    """Nobody looked: an outline with nothing in it."""
    return tag(
        "g",
        tag("circle", cx=28, cy=22, r=17, fill="none", stroke="var(--quiet)", stroke_dasharray="3 4"),
        text(28, 28, "?", class_="quiet", text_anchor="middle", style="font-size:18px"),
    )


def _from_above(*parts: str, fill: str = "var(--porcelain)") -> str:
    """The nose as it is seen down the shell's mouth."""
    return tag(
        "g",
        tag("circle", cx=28, cy=22, r=20, fill="none", stroke=_EDGE),
        tag("circle", cx=28, cy=22, r=16.5, fill=fill, stroke=_EDGE),
        *parts,
        _electrode(),
    )


_SPOTS = ((17.5, 17.0), (22.0, 31.5), (34.5, 32.5), (39.0, 18.5), (30.0, 10.5), (19.5, 24.5), (38.0, 26.0))


def _no_specks() -> str:
    return _from_above()


def _soot() -> str:
    return _from_above(
        *(tag("circle", cx=x, cy=y, r=1.0 + 0.5 * (n % 3), fill="#1c1815") for n, (x, y) in enumerate(_SPOTS))
    )


def _aluminium() -> str:
    """Bright beads with an edge, not dots: what shines under the magnifier."""
    beads = []
    for x, y in _SPOTS[:5]:
        beads.append(tag("circle", cx=x, cy=y, r=2.7, fill="#dfe3e6", stroke="#4d463e", stroke_width=0.9))
        beads.append(tag("circle", cx=x - 0.9, cy=y - 0.9, r=0.9, fill="#ffffff"))
    return _from_above(*beads)


def _side(*parts: str, fill: str = "var(--porcelain)") -> str:
    """A nose from the side, tip up."""
    return tag(
        "g",
        rect(25.0, 2.0, 6.0, 6.0, fill="var(--metal)", stroke=_EDGE),
        path("M21,7 h14 l4,34 h-22 z", fill=fill, stroke=_EDGE),
        *parts,
    )


def _ring_seen() -> str:
    return _side(path("M19.9,17 h16.3 l0.7,6 h-17.7 z", fill="#1c1815", opacity=0.88))


def _ring_none() -> str:
    return _side()


def _all_dark() -> str:
    return _side(fill="#2a2420")


def _not_seen() -> str:
    return _side(text(28, 31, "?", text_anchor="middle", style="font-size:17px;fill:#26221e"))


def _magnifier() -> str:
    return tag(
        "g",
        path(
            "M8,40 v-20 h10 v20 M38,40 v-20 h10 v20",
            fill="var(--metal)",
            stroke=_EDGE,
        ),
        path("M23,26 h10 l2,14 h-14 z", fill="var(--porcelain)", stroke=_EDGE),
        tag("ellipse", cx=28, cy=10, rx=15, ry=6.5, fill="none", stroke="var(--ink)", stroke_width=2.2),
        line(42.0, 12.0, 53.0, 17.0, stroke="var(--ink)", stroke_width=3.0),
    )


def _cut() -> str:
    return tag(
        "g",
        path("M8,40 v-27 h7 v27", fill="none", stroke="var(--quiet)", stroke_dasharray="2 3"),
        path("M41,40 v-27 h7 v27", fill="none", stroke="var(--quiet)", stroke_dasharray="2 3"),
        _side(),
    )


def _sharp() -> str:
    return _tip("M16,38 V10 H40 V38 z")


def _rounded() -> str:
    return _tip("M16,38 V22 Q16,9 28,9 Q40,9 40,22 V38 z")


def _tip(outline: str) -> str:
    return tag(
        "g",
        path(outline, fill="var(--metal)", stroke="var(--ink)", stroke_width=1.3),
        path("M10,43 v-7 h36 v7", fill="var(--porcelain)", stroke=_EDGE),
    )


def _glazed() -> str:
    """Glass over the deposits: hard lights and a runny lower edge."""
    return _side(
        path(
            "M20.6,10 h14.8 l2.4,20 q-2.6,6 -4.6,0 q-2.6,5 -5,0 q-2.6,6 -5.2,0 q-2,4 -4.8,0 z", fill="#b9a27e"
        ),
        path("M24,12 l-1.5,15", stroke="#ffffff", stroke_width=2.4, fill="none", stroke_linecap="round"),
        path("M33,13 l0.8,8", stroke="#ffffff", stroke_width=1.6, fill="none", stroke_linecap="round"),
    )


def _matt() -> str:
    return _side()


def _blisters() -> str:
    places = ((25.0, 13.0), (31.5, 17.5), (24.5, 23.0), (32.5, 27.0), (26.0, 33.0))
    return _side(
        *(
            tag("circle", cx=x, cy=y, r=2.9, fill="#fefcf8", stroke="#4d463e", stroke_width=1.1)
            for x, y in places
        )
    )


def _wet() -> str:
    drops = ("M28,13 q5.5,8 0,10.5 q-5.5,-2.5 0,-10.5 z", "M34,25 q4.5,6.5 0,8.6 q-4.5,-2.1 0,-8.6 z")
    return _side(*(path(drop, fill="var(--sensor)", opacity=0.8) for drop in drops), fill="#6a5c4c")


_DRAWINGS: dict[tuple[str, str], Callable[[], str]] = {
    ("ring", "seen"): _ring_seen,
    ("ring", "none"): _ring_none,
    ("ring", "all-dark"): _all_dark,
    ("ring", "not-seen"): _not_seen,
    ("view", "magnifier"): _magnifier,
    ("view", "cut"): _cut,
    ("specks", "not-looked"): _asked,
    ("specks", "none"): _no_specks,
    ("specks", "soot"): _soot,
    ("specks", "aluminium"): _aluminium,
    ("edge", "not-looked"): _asked,
    ("edge", "sharp"): _sharp,
    ("edge", "rounded"): _rounded,
    ("glaze", "not-looked"): _asked,
    ("glaze", "no"): _matt,
    ("glaze", "yes"): _glazed,
    ("blisters", "not-looked"): _asked,
    ("blisters", "no"): _matt,
    ("blisters", "yes"): _blisters,
    ("wet", "not-looked"): _asked,
    ("wet", "no"): _matt,
    ("wet", "yes"): _wet,
}
