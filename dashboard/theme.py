"""Colours, all in one place: they come from the plug itself.

Porcelain is the ground, soot stands for rich, tan for right and chalk for lean; what the sensor measured has
the blue that steel takes when it is tempered. The order of the mixture is carried by rising lightness alone,
so it survives a grey print and colour-blind eyes.
"""

from itertools import pairwise
from typing import Final, Literal

Scheme = Literal["light", "dark"]
SCHEMES: Final[tuple[Scheme, Scheme]] = ("light", "dark")

PALETTES: Final[dict[Scheme, dict[str, str]]] = {
    "light": {
        "ground": "#fbf9f4",
        "tint": "#f3efe6",
        "ink": "#26221e",
        "quiet": "#6a6258",
        "line": "#d8d1c4",
        "hair": "#e8e3d9",
        "sensor": "#2b5876",
        "ring": "#7d4a1c",
        "caution": "#8a3a10",
        "focus": "#2b5876",
        "porcelain": "#f3eee4",
        "glaze": "#fefcf8",
        "porcelain-edge": "#bdb4a6",
        "metal": "#c9c3b8",
        "metal-line": "#8d8579",
        "soot": "#1c1815",
        "gas": "#5b3a78",
        "strip": "#8d8172",
        "shade": "rgba(120,104,80,0.10)",
        "tone-1": "#f6f0e2",
        "tone-2": "#dcc9a6",
        "tone-3": "#b99763",
        "tone-4": "#8a6238",
        "tone-5": "#43301f",
    },
    "dark": {
        "ground": "#1a1816",
        "tint": "#24211e",
        "ink": "#ece6da",
        "quiet": "#a79e91",
        "line": "#454039",
        "hair": "#322e29",
        "sensor": "#8fbbd8",
        "ring": "#dca66c",
        "caution": "#eb9d6e",
        "focus": "#8fbbd8",
        "porcelain": "#d8d0c1",
        "glaze": "#efe9dd",
        "porcelain-edge": "#8f867a",
        "metal": "#5d574f",
        "metal-line": "#8d8579",
        "soot": "#15110f",
        "gas": "#c3a6e4",
        "strip": "#8f867a",
        "shade": "rgba(236,230,218,0.07)",
        "tone-1": "#f3ead6",
        "tone-2": "#cdb68e",
        "tone-3": "#a07f4e",
        "tone-4": "#6e4d2b",
        "tone-5": "#38281a",
    },
}
"""Names are CSS variables in the page (``--ink``); text on ground passes 4.5:1 in both schemes (tested)."""

MIXTURE: Final[tuple[tuple[float, str], ...]] = (
    (0.70, "#1c1815"),
    (0.80, "#4b3526"),
    (0.87, "#a06a3b"),
    (0.94, "#cda678"),
    (1.00, "#ece0c8"),
    (1.10, "#fbf8f1"),
)
"""Lambda to colour: soot, tan, chalk. The numbers place the colours only; they are no targets."""

DEPOSITS: Final[tuple[tuple[str, str], ...]] = (
    ("white", "#f8f4ea"),
    ("grey", "#a8a299"),
    ("tan", "#c9a878"),
    ("brown", "#8a6238"),
    ("black", "#1c1815"),
)
"""Colours of what settles on a plug, for the small drawings of the reading form: the same in both schemes."""

_TRACES: Final[dict[Scheme, dict[str, tuple[str, ...]]]] = {
    "light": {
        "mixture": ("#2b5876", "#c0803c", "#5c4a8a", "#35302b"),
        "heat": ("#7a2f0c", "#c0914a", "#5b2a4a", "#6a6258"),
        "other": ("#35302b", "#7d756b", "#2b5876", "#a8622a"),
    },
    "dark": {
        "mixture": ("#8fbbd8", "#e0a468", "#b5a3e0", "#ece6da"),
        "heat": ("#eb9d6e", "#e3c27c", "#d59bbd", "#a79e91"),
        "other": ("#d9d2c5", "#9c9386", "#8fbbd8", "#e0a468"),
    },
}


def _channels(colour: str) -> tuple[int, int, int]:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def mixture_colour(lambda_: float) -> str:
    """Return the colour that stands for a lambda, lighter the leaner; beyond the ends it stays the end's.

    Args:
        lambda_: excess-air factor [1].
    """
    if lambda_ <= MIXTURE[0][0]:
        return MIXTURE[0][1]
    for (low, dark), (high, light) in pairwise(MIXTURE):
        if lambda_ <= high:
            share = (lambda_ - low) / (high - low)
            mixed = (
                round(a + share * (b - a)) for a, b in zip(_channels(dark), _channels(light), strict=True)
            )
            return "#" + "".join(f"{value:02x}" for value in mixed)
    return MIXTURE[-1][1]


def luminance(colour: str) -> float:
    """Return the relative luminance of a colour (published: WCAG 2.2, "relative luminance") [1]."""
    linear = [
        v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4
        for v in (c / 255 for c in _channels(colour))
    ]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def trace_colour(scheme: Scheme, role: str, number: int) -> str:
    """Return the colour of a trace.

    Args:
        scheme: light or dark.
        role: the channel's colour role in the catalogue.
        number: which trace of its panel, from 0; more than four begin again.
    """
    colours = _TRACES[scheme].get(role, _TRACES[scheme]["other"])
    return colours[number % len(colours)]


def css_variables() -> str:
    """Return the palettes as CSS: light by default and on paper, dark where the page says so."""
    light, dark = (
        ";".join(f"--{name}:{colour}" for name, colour in PALETTES[scheme].items()) for scheme in SCHEMES
    )
    return (
        f":root{{{light};color-scheme:light}}"
        f"@media screen{{:root[data-mantine-color-scheme=dark]{{{dark};color-scheme:dark}}}}"
    )
