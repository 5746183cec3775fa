"""The firing end of a plug in section, tip up as a tuner holds it: nose, electrode, shell, strap."""

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from dashboard.figures.svg import line, path, rect, tag, text

if TYPE_CHECKING:
    from dashboard.figures.nose import Nose

PX_PER_MM = 15.0
HALF_WIDTH = 6.3 * PX_PER_MM
USUAL_NOSE_MM = 14.0
"""Drawn where the nose length was not told; the drawing is dashed then."""

# Widths of a common plug, half of each [mm]; drawn, not measured.
_TIP, _ROOT, _ELECTRODE, _BORE, _OUTER = 2.35, 3.75, 1.25, 5.0, 6.3
_LIP_MM = 2.6
"""How far the nose stands out of the shell."""
_ABOVE_MM = 4.4
_BELOW_MM = 1.5


@dataclass(frozen=True)
class Shape:
    """One plug, placed on the drawing's grid.

    Attributes:
        length_mm: tip to seat [mm].
        known: the length was told.
        centre: x of the plug's middle [px].
        lowest_mm: the lowest depth that has to be on the drawing [mm], for an axis that goes past the seat.
    """

    length_mm: float
    known: bool
    centre: float
    lowest_mm: float | None = None

    @property
    def height(self) -> float:
        """Height of the whole drawing [px]."""
        return self.y(max(self.length_mm, self.lowest_mm or 0.0) + _BELOW_MM)

    def px(self, mm: float) -> float:
        """Return a length on the drawing [px]."""
        return mm * PX_PER_MM

    def y(self, depth_mm: float) -> float:
        """Return the height of a depth from the tip [px]."""
        return (_ABOVE_MM + depth_mm) * PX_PER_MM

    def half_width_at(self, depth_mm: float) -> float:
        """Return half the nose's width at a depth [px]."""
        share = min(max(depth_mm / self.length_mm, 0.0), 1.0)
        return self.px(_TIP + (_ROOT - _TIP) * share**1.15)

    def outline(self) -> str:
        """Return the nose's silhouette: a cone with a rounded shoulder, flared where it meets the seat."""
        top, seat, c = self.y(0.0), self.y(self.length_mm), self.centre
        tip, root, flare = self.px(_TIP), self.px(_ROOT), self.px(_BORE - 0.35)
        shoulder = self.px(0.7)
        bend = self.y(self.length_mm * 0.86)
        bend_half = self.half_width_at(self.length_mm * 0.86)
        low = self.y(self.length_mm + 0.9)
        return (
            f"M{c - tip + shoulder:.1f},{top:.1f} L{c + tip - shoulder:.1f},{top:.1f}"
            f" Q{c + tip:.1f},{top:.1f} {c + tip + 1:.1f},{top + shoulder:.1f}"
            f" L{c + bend_half:.1f},{bend:.1f} Q{c + root:.1f},{seat - 4:.1f} {c + flare:.1f},{seat:.1f}"
            f" L{c + flare:.1f},{low:.1f} L{c - flare:.1f},{low:.1f} L{c - flare:.1f},{seat:.1f}"
            f" Q{c - root:.1f},{seat - 4:.1f} {c - bend_half:.1f},{bend:.1f}"
            f" L{c - tip - 1:.1f},{top + shoulder:.1f} Q{c - tip:.1f},{top:.1f}"
            f" {c - tip + shoulder:.1f},{top:.1f} Z"
        )

    def defs(self, key: str, nose: "Nose") -> str:
        """Return the drawing's gradients and clip, under its own key."""
        return tag(
            "defs",
            tag("clipPath", path(self.outline()), id_=f"{key}-nose"),
            tag(
                "linearGradient",
                _stop(0.0, "var(--porcelain-edge)"),
                _stop(0.16, "var(--porcelain)"),
                _stop(0.40, "var(--glaze)"),
                _stop(0.80, "var(--porcelain)"),
                _stop(1.0, "var(--porcelain-edge)"),
                id_=f"{key}-glaze",
            ),
            tag(
                "linearGradient",
                _stop(0.0, "var(--soot)", 0.45),
                _stop(0.2, "var(--soot)", 0.0),
                _stop(0.7, "var(--soot)", 0.0),
                _stop(1.0, "var(--soot)", 0.5),
                id_=f"{key}-round",
            ),
            tag("linearGradient", *self._soot(nose), id_=f"{key}-soot", x1=0, x2=0, y1=0, y2=1),
            tag(
                "pattern",
                path("M0,6 L6,0", stroke="var(--metal-line)", stroke_width=0.6),
                id_=f"{key}-hatch",
                width=6,
                height=6,
                patternUnits="userSpaceOnUse",
            ),
        )

    def _soot(self, nose: "Nose") -> list[str]:
        """Soot from tip to seat: a band with soft edges, the softer the less sure; or all of it; or none."""
        if nose.ring == "all-dark":
            return [
                _stop(0.0, "var(--soot)", 0.93),
                _stop(0.7, "var(--soot)", 0.88),
                _stop(1, "var(--soot)", 0.8),
            ]
        if nose.ring != "seen" or nose.depth_mm is None:
            return [_stop(0.0, "var(--soot)", 0.0)]
        width = math.hypot(0.62, nose.sd_mm or 0.0)
        # the reading's doubt spreads the same soot over more of the nose, so it also grows fainter
        dark = 0.94 * (0.62 / width) ** 0.4
        stops = [(n / 4.0, dark * math.exp(-0.5 * (n / 4.0) ** 2)) for n in range(-11, 12)]
        return [
            _stop((nose.depth_mm + sd * width) / self.length_mm, "var(--soot)", share)
            for sd, share in stops
            if 0.0 <= (nose.depth_mm + sd * width) / self.length_mm <= 1.0
        ]

    def drawing(self, key: str, nose: "Nose", *, words: bool = True) -> str:
        """Return the plug: shell behind, nose, soot, and the strap over the electrode.

        Args:
            key: of the drawing's own ids.
            nose: the plug.
            words: whether a bare nose says why it is bare.
        """
        c, top = self.centre, self.y(0.0)
        electrode = self.px(_ELECTRODE)
        soot = rect(
            0, top, 2 * c, self.px(self.length_mm), fill=f"url(#{key}-soot)", clip_path=f"url(#{key}-nose)"
        )
        shade = rect(
            c - self.px(_BORE),
            top,
            self.px(2 * _BORE),
            self.px(self.length_mm),
            fill=f"url(#{key}-round)",
            clip_path=f"url(#{key}-nose)",
            opacity=0.55,
        )
        return tag(
            "g",
            self._shell(key, cut=nose.cut),
            rect(
                c - electrode,
                self.y(-1.5),
                2 * electrode,
                self.px(1.6),
                fill="var(--metal)",
                stroke="var(--metal-line)",
                rx=1.5,
            ),
            path(self.outline(), fill=f"url(#{key}-glaze)"),
            tag("g", soot, shade, opacity=None if nose.counts else 0.38),
            self._seat(),
            path(
                self.outline(),
                fill="none",
                stroke="var(--metal-line)",
                stroke_width=1.1,
                stroke_dasharray=None if self.known else "5 4",
            ),
            self._words(nose) if words else "",
        )

    def _words(self, nose: "Nose") -> str:
        """Return what a bare nose means: no ring was there, or nobody has seen it."""
        words = {"none": "no ring", "not-seen": "not seen", None: "not read"}.get(nose.ring)
        if words is None:
            return ""
        return text(self.centre, self.y(self.length_mm * 0.55), words, class_="on-nose", text_anchor="middle")

    def _seat(self) -> str:
        """Return the insulator's body below the seat, where no ring can be read any more."""
        flare, seat = self.px(_BORE - 0.35), self.y(self.length_mm)
        below = self.px(0.9)
        return tag(
            "g",
            rect(self.centre - flare, seat, 2 * flare, below, fill="var(--metal-line)", opacity=0.35),
            line(
                self.centre - flare,
                seat,
                self.centre + flare,
                seat,
                stroke="var(--metal-line)",
                stroke_width=1.1,
            ),
        )

    def _shell(self, key: str, *, cut: bool) -> str:
        """Return the shell in section and the ground strap; only their trace where the shell was cut away."""
        c = self.centre
        lip, seat, low = self.y(_LIP_MM), self.y(self.length_mm), self.y(self.length_mm + 0.9)
        bore, outer, step = self.px(_BORE), self.px(_OUTER), self.px(_BORE - 0.35)
        walls = [
            path(
                f"M{c + s * outer:.1f},{lip:.1f} L{c + s * bore:.1f},{lip:.1f}"
                f" L{c + s * bore:.1f},{seat - 5:.1f}"
                f" L{c + s * step:.1f},{seat:.1f} L{c + s * step:.1f},{low:.1f}"
                f" L{c + s * outer:.1f},{low:.1f} Z",
                fill="none" if cut else f"url(#{key}-hatch)",
                stroke="var(--metal-line)",
                stroke_width=0.8,
                stroke_dasharray="2 4" if cut else None,
            )
            for s in (-1, 1)
        ]
        right, thick, over = c + outer - 3.0, self.px(1.15), self.y(-3.6)
        strap = (
            f"M{right:.1f},{lip:.1f} L{right:.1f},{over + 16:.1f} Q{right:.1f},{over:.1f}"
            f" {right - 16:.1f},{over:.1f}"
            f" L{c - self.px(1.5):.1f},{over:.1f} L{c - self.px(1.5):.1f},{over + thick:.1f}"
            f" L{right - 19:.1f},{over + thick:.1f} Q{right - thick:.1f},{over + thick:.1f}"
            f" {right - thick:.1f},{over + 19:.1f} L{right - thick:.1f},{lip:.1f} Z"
        )
        return tag(
            "g",
            *walls,
            path(
                strap,
                fill="none" if cut else "var(--metal)",
                stroke="var(--metal-line)",
                stroke_width=0.8,
                stroke_dasharray="2 4" if cut else None,
                opacity=0.75,
            ),
        )


def _stop(offset: float, colour: str, opacity: float = 1.0) -> str:
    return tag("stop", offset=f"{offset:.4f}", stop_color=colour, stop_opacity=f"{opacity:.3f}")
