"""The ground strap from the side, with the place where its heat mark ends; drawn, not measured."""

from dashboard.figures.svg import figure, line, path, rect, tag, text

WIDTH, HEIGHT = 300.0, 150.0
_THICK = 22.0
_WAY = "M56,46 H176 Q222,46 222,92 V128"
"""The strap's middle line, from its tip to the weld."""


def strap_svg(share: float | None) -> str:
    """Return the strap with its mark, so that assets/nose_setting.js can move it.

    Args:
        share: where the heat mark ends, 0 at the tip to 1 at the weld; None where nobody looked.
    """
    shown = 0.5 if share is None else share
    hidden = "hidden" if share is None else None
    mark = tag(
        "g",
        # the end of the strap that the heat has coloured, from the tip to the mark
        path(
            _WAY,
            fill="none",
            stroke="var(--ring)",
            stroke_width=_THICK - 5.0,
            opacity=0.55,
            pathLength=1,
            stroke_dasharray=f"{shown:.3f} 2",
            data_part="coloured",
        ),
        tag(
            "g",
            tag("circle", cx=0, cy=0, r=21, class_="grip"),
            text(0, 4.5, "", class_="grip-words", text_anchor="middle", data_part="words"),
            data_part="grip",
        ),
        data_part="mark",
        visibility=hidden,
    )
    return figure(
        WIDTH,
        HEIGHT,
        in_words(share),
        rect(150.0, 128.0, 118.0, 20.0, fill="var(--metal)", stroke="var(--metal-line)"),
        path("M78,150 V92 H110 V150", fill="var(--porcelain)", stroke="var(--metal-line)"),
        rect(84.0, 74.0, 20.0, 20.0, fill="var(--metal)", stroke="var(--metal-line)"),
        path(_WAY, fill="none", stroke="var(--metal-line)", stroke_width=_THICK + 1.6),
        path(_WAY, fill="none", stroke="var(--metal)", stroke_width=_THICK),
        mark,
        line(56.0, 26.0, 56.0, 14.0, stroke="var(--quiet)"),
        text(50.0, 24.0, "tip, 0", class_="quiet small", text_anchor="end"),
        line(240.0, 128.0, 252.0, 128.0, stroke="var(--quiet)"),
        text(256.0, 124.0, "weld, 1", class_="quiet small"),
        # what a finger hits is wider than what is drawn
        path(_WAY, fill="none", stroke="transparent", stroke_width=64.0, data_part="way", class_="draggable"),
        class_="strap",
    )


def in_words(share: float | None) -> str:
    """Return what the drawing shows."""
    if share is None:
        return "Ground strap: its heat mark was not looked at."
    return f"Ground strap: its heat mark ends {share:g} of the way from tip to weld."
