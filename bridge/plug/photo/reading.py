"""The verdict on a photograph: a ring, none, or that it cannot be told."""

from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from bridge.errors import BadValue
from bridge.plug.photo.find import propose
from bridge.plug.photo.measure import Measured, measure
from bridge.plug.photo.result import PhotoReading, Seen
from bridge.plug.photo.ring import DEEPEST, Dip
from bridge.plug.photo.strip import Point
from bridge.plug.photo.taper import EXCHANGED, exchanged

View = Literal["cut", "magnifier"]

LEAST_NOSE_MM, MOST_NOSE_MM = 3.0, 40.0
"""Nose lengths that a spark plug may have [mm] (common practice, no source)."""
LEAST_PIXELS = 40.0
"""Least length of the nose in the picture [px]: a ring of a twentieth of it is then two pixels."""
FAINTEST = 2.5
"""Least darkness of a ring that is called one [L*]; about the least that an eye sees side by side (from memory)."""
CLEAREST = 9.0
"""Least strength of a ring that is called one: its darkness over its standard error."""
MOSTLY = 0.55
"""Least share of the nose's width that a ring takes; specks take less."""
ALL_DARK = 40.0
"""Lightness of the nose's lighter parts below which no clean porcelain is seen [L*] (common practice)."""
TAP_SD = 0.010
"""How well a finger finds tip and seat, as a share of the nose's length (common practice, no source)."""
UNSURE_END = 0.17
"""Share at both ends in which no ring is claimed where the tool has proposed them itself."""
OWN_TAPS = 0.92
"""How often tip and seat as proposed were near the true ones (from rendered pictures)."""
UPPER_IS_TIP = 0.8
"""How often the upper end is the tip where both look alike; assumed."""
CLOSE_BY = 0.02
"""Change of scale over the nose's length in a picture from an arm's length (closed form: 14 mm that lean by 10
degrees, seen from 120 mm), as a standard uncertainty."""
FROM_ABOVE = 0.12, 0.08
"""The same down the shell's mouth, seen from about 120 mm, and its standard uncertainty (common practice)."""
MODEL_SD = 0.005
"""What is left where all else is right, from rendered pictures: the ring's edges are not alike."""


def read_photo(  # noqa: PLR0913  # what a person says of a picture
    pixels: NDArray[Any],
    *,
    nose_mm: float,
    view: View = "cut",
    tip: Point | None = None,
    seat: Point | None = None,
    rim_mm: float | None = None,
) -> PhotoReading:
    """Read the ring off a photograph of an insulator nose.

    Args:
        pixels: (h, w) or (h, w, 3), the upright picture in sRGB, 8 or 16 bits.
        nose_mm: length of the nose from tip to seat [mm].
        view: cut (shell cut away, the nose seen from the side) or magnifier (down the shell's mouth).
        tip: where the nose ends [px]; proposed by the tool where tip and seat are left out.
        seat: where it sits in the shell [px]; with view magnifier, where the shell's rim hides the nose.
        rim_mm: with view magnifier, how far from the tip the nose is seen down to there [mm].

    Raises:
        BadValue: a nose length that no plug has, one tap without the other, taps outside the picture or too
            near each other, a rim deeper than the nose.
    """
    check_taps(
        pixels.shape[1], pixels.shape[0], nose_mm=nose_mm, view=view, tip=tip, seat=seat, rim_mm=rim_mm
    )
    if tip is None or seat is None:
        return _read_proposed(pixels, nose_mm, view)
    if view == "cut":
        if exchanged(pixels, tip, seat):
            return PhotoReading("cannot tell", 0.0, (EXCHANGED,), nose_mm, view, tip, seat, proposed=False)
        found = measure(pixels, tip, seat)
        return _judged(found, nose_mm, view, tip, seat, proposed=False, tap_sd=TAP_SD)
    assert rim_mm is not None  # check_taps asked for it
    found, behind = _down_the_mouth(pixels, tip, seat, rim_mm / nose_mm)
    return _judged(
        found, nose_mm, view, tip, behind, proposed=False, tap_sd=2 * TAP_SD, seen_to=rim_mm / nose_mm
    )


def check_taps(  # noqa: PLR0913  # as read_photo
    width: int,
    height: int,
    *,
    nose_mm: float,
    view: str = "cut",
    tip: Point | None = None,
    seat: Point | None = None,
    rim_mm: float | None = None,
) -> None:
    """Hold what a person gave to what can be.

    Raises:
        BadValue: see ``read_photo``.
    """
    if not LEAST_NOSE_MM <= nose_mm <= MOST_NOSE_MM:
        raise BadValue(
            f"a nose of {nose_mm:g} mm is none of a spark plug's; give --nose-mm from tip to seat, such as 14"
        )
    if (tip is None) != (seat is None):
        raise BadValue("one tap alone says no length; give both --tip X,Y and --seat X,Y, or neither")
    for what, point in (("tip", tip), ("seat", seat)):
        if point is not None and not (0 <= point[0] <= width - 1 and 0 <= point[1] <= height - 1):
            raise BadValue(
                f"the {what} at {point[0]:g},{point[1]:g} is outside the picture, which is {width} by {height} pixels;"
                " tap on the nose itself"
            )
    if tip is not None and seat is not None:
        long = float(np.hypot(seat[0] - tip[0], seat[1] - tip[1]))
        if long < LEAST_PIXELS:
            raise BadValue(
                f"tip and seat lie {long:.0f} pixels apart, too near to see a ring between them; tap both ends of the"
                f" nose, or take it larger (at least {LEAST_PIXELS:.0f} pixels long)"
            )
    if rim_mm is not None and not 0.2 * nose_mm <= rim_mm <= nose_mm:
        raise BadValue(
            f"a nose of {nose_mm:g} mm cannot be seen down to {rim_mm:g} mm; give --rim-mm from its tip to where the"
            " shell's rim hides it"
        )
    if view == "magnifier" and tip is not None and rim_mm is None:
        raise BadValue(
            "down the shell's mouth the seat is hidden; say by --rim-mm how far from the tip the nose is seen, with"
            " --seat where the rim hides it"
        )


def _read_proposed(pixels: NDArray[Any], nose_mm: float, view: View) -> PhotoReading:
    if view == "magnifier":
        return _no_answer(
            nose_mm, view, "down the shell's mouth tip and rim must be tapped: give --tip, --seat, --rim-mm"
        )
    found = propose(pixels)
    if found.tip is None or found.seat is None:
        return _no_answer(nose_mm, view, f"{found.because}; tap them: give --tip X,Y and --seat X,Y")
    if np.hypot(found.seat[0] - found.tip[0], found.seat[1] - found.tip[1]) < LEAST_PIXELS:
        return _no_answer(nose_mm, view, "the nose is too small in the picture; take it larger")
    measured = measure(pixels, found.tip, found.seat, outline=True)
    middle = measured.middle
    if middle is not None and not UNSURE_END < middle < 1.0 - UNSURE_END and _verdict(measured)[0] == "seen":
        # an electrode or a rim that was taken for a part of the nose looks like a ring there
        words = "something dark lies so near an end of the nose that the ends must be tapped: give --tip and --seat"
        return _no_answer(nose_mm, view, words)
    answer = _judged(measured, nose_mm, view, found.tip, found.seat, proposed=True, tap_sd=found.sd)
    if not found.by_convention or answer.ring != "seen":
        return answer
    return _with(
        answer,
        confidence=answer.confidence * UPPER_IS_TIP,
        because=("both ends look alike, so the upper one was taken for the tip: check that", *answer.because),
    )


def _no_answer(nose_mm: float, view: View, because: str) -> PhotoReading:
    return PhotoReading("cannot tell", 0.0, (because,), nose_mm, view, None, None, proposed=True)


def _down_the_mouth(pixels: NDArray[Any], tip: Point, rim: Point, seen_to: float) -> tuple[Measured, Point]:
    """Measure down to the rim; the seat behind it is where the nose's known length puts it in the picture."""
    a, b = np.array(tip), np.array(rim)
    share = _seen_share(seen_to, FROM_ABOVE[0])
    behind = a + (b - a) / share
    seat = (float(behind[0]), float(behind[1]))
    return measure(pixels, tip, seat, visible=(0.0, share)), seat


def _seen_share(depth: float, shrink: float) -> float:
    """Return where a depth is seen between tip and seat; what is farther off is smaller (closed form)."""
    return depth * (1.0 + shrink) / (1.0 + shrink * depth)


def _depth_share(seen: float, shrink: float) -> float:
    """Return which depth is seen at a place: the inverse of ``_seen_share``."""
    return seen / (1.0 + shrink - shrink * seen)


def _judged(  # noqa: PLR0913  # what was found, and how it was come by
    found: Measured,
    nose_mm: float,
    view: View,
    tip: Point,
    seat: Point,
    *,
    proposed: bool,
    tap_sd: float,
    seen_to: float = 1.0,
) -> PhotoReading:
    ring, confidence, because, all_dark = _verdict(found)
    if proposed:
        confidence *= OWN_TAPS
    light = found.profile
    shown = (light.along >= 0) & (light.along <= 1)
    shrink, shrink_sd = FROM_ABOVE if view == "magnifier" else (0.0, CLOSE_BY)
    base = PhotoReading(
        ring=ring,
        confidence=confidence,
        because=because,
        nose_mm=nose_mm,
        view=view,
        tip=tip,
        seat=seat,
        proposed=proposed,
        suggestion="all-dark" if all_dark else None,
        profile_mm=_depth_share(1.0, 0.0)
        * nose_mm
        * light.along[shown]
        / (1.0 + shrink - shrink * light.along[shown]),
        profile_lightness=light.lightness[shown],
    )
    if ring != "seen" or found.dip is None or found.middle is None or found.middle_sd is None:
        return base
    share = _depth_share(found.middle, shrink)
    if not 0.0 < share < seen_to:
        reason = (
            f"what looks like a ring would lie {share * nose_mm:.1f} mm from the tip, beyond the nose that is seen;"
            " check the taps"
        )
        return _with(base, ring="cannot tell", confidence=0.0, because=(reason,))
    taps = tap_sd * float(np.hypot(1.0 - share, share))
    close = shrink_sd * share * (1.0 - share) if view == "cut" else shrink_sd * share * (seen_to - share)
    sd = float(np.sqrt(found.middle_sd**2 + taps**2 + close**2 + MODEL_SD**2 + (0.03 * found.dip.width) ** 2))
    return _with(
        base,
        ring_depth_mm=share * nose_mm,
        ring_depth_sd_mm=sd * nose_mm,
        ring_width_mm=found.dip.width * nose_mm,
        darkness=found.dip.dark,
    )


def _with(reading: PhotoReading, **changes: Any) -> PhotoReading:  # noqa: ANN401  # its fields
    return PhotoReading(**{**vars(reading), **changes})


def _verdict(found: Measured) -> tuple[Seen, float, tuple[str, ...], bool]:
    """Return the answer, its confidence, why, and whether the nose may be all dark."""
    dip = found.dip
    chance = 0.0 if dip is None else _chance(found, dip)
    if dip is not None and chance >= 0.5 and _is_ring(found, dip):
        if dip.rival > 0.5:
            return (
                "cannot tell",
                0.0,
                ("there is more than one dark band, and which is the ring cannot be told",),
                False,
            )
        return "seen", chance, _why_seen(found), False
    if found.nose.level < ALL_DARK:
        words = (
            "the whole nose is dark, so the ring's upper edge cannot be seen; if it is dark to the eye too, read it as"
            " all-dark; if not, take the picture with more light"
        )
        return "cannot tell", 0.0, (words,), True
    doubt = _doubt(found)
    if doubt:
        return "cannot tell", 0.0, (doubt,), False
    sure = 0.97 * (1.0 - _blurred(chance, 0.0, 0.8))
    return "none", sure, ("the nose shows no dark band with lighter porcelain on both sides of it",), False


def _is_ring(found: Measured, dip: Dip) -> bool:
    at_axis = dip.middle if found.arc is None else max(dip.middle, dip.middle - found.arc.bow)
    return dip.dark >= FAINTEST and dip.strength >= CLEAREST and dip.likely >= 0.5 and at_axis < DEEPEST


def _chance(found: Measured, dip: Dip) -> float:
    """Return how likely a dip is a drawn ring: products of soft steps, set on rendered pictures."""
    covered = 0.0 if found.arc is None else found.arc.covered
    soft = (
        _blurred(dip.dark, FAINTEST - 0.4, 1.2)
        * _blurred(dip.strength, CLEAREST - 3.0, 10.0)
        * _blurred(covered, MOSTLY - 0.15, 0.3)
        * _blurred(dip.likely, 0.2, 0.6)
        * (1.0 - 0.5 * min(dip.rival, 1.0))
    )
    return 0.98 * soft


def _blurred(value: float, low: float, span: float) -> float:
    """Return a smooth step from 0 at ``low`` to 1 at ``low + span``."""
    x = float(np.clip((value - low) / span, 0.0, 1.0))
    return x * x * (3.0 - 2.0 * x)


def _why_seen(found: Measured) -> tuple[str, ...]:
    covered = 1.0 if found.arc is None else found.arc.covered
    words = [
        f"it is dark over {covered:.0%} of the width that is seen, and the nose is lighter on both sides of it"
    ]
    if found.arc is not None and abs(found.arc.bow) > 0.03:
        words.append("it is bowed: the nose leans to the camera or away from it, which the depth allows for")
    if found.edges.clear < 2.0:
        words.append("the nose's sides are hard to tell from the background")
    return tuple(words)


def _doubt(found: Measured) -> str | None:
    """Return why a nose without a clear ring cannot be called one without, or None."""
    dip, light = found.dip, found.profile
    if found.nose.hidden > 0.7:
        return "glare hides most of the nose; take the picture with softer light"
    noise = float(np.median(light.noise))
    if noise > 2.5 or (dip is not None and dip.scatter > 4.0):
        return "the picture is too grainy or the nose too patchy to see a faint ring; take it with more light"
    if dip is not None and dip.dark >= 1.8 and dip.likely >= 0.3 and dip.strength >= 6.0:
        return "something dark is there, but it is too faint, too short or too near the seat to be called the ring"
    upper = (light.along > 0.06) & (light.along < 0.3)
    lower = (light.along > 0.7) & (light.along < 0.88)
    fall = float(np.median(light.lightness[upper]) - np.median(light.lightness[lower]))
    if abs(fall) > 24.0:
        where = "towards the seat" if fall > 0 else "towards the tip"
        return f"the nose turns dark {where} and stays so, so a ring's other edge is not to be seen"
    return None
