"""The delay's figures: where the misfit is least, how sure that is, and what the geometry says."""

from xml.etree import ElementTree as ET

import numpy as np
import pytest

from dashboard.figures.chart import Frame, round_steps, trace
from dashboard.figures.delayfit import (
    BOTTOM,
    TOP,
    Profile,
    Stretch,
    profile_in_words,
    profile_svg,
    stretch_in_words,
    stretch_svg,
)

SVG = "{http://www.w3.org/2000/svg}"
DELAYS = np.linspace(0.0, 0.6, 61)
MISFIT = 1.0 + ((DELAYS - 0.17) / 0.2) ** 2
T_S = np.linspace(40.0, 52.0, 600)


def profile(best=0.17, low=0.15, high=0.19, geometry=0.21):
    """Return a profile with its least at 0.17 s."""
    return Profile(DELAYS, MISFIT, best, low, high, geometry)


def tinted(svg):
    """Return the interval's left edge and width [px]."""
    return [
        (float(e.get("x")), float(e.get("width")))
        for e in ET.fromstring(svg).iter(f"{SVG}rect")  # our own markup
        if e.get("fill") == "var(--sensor)"
    ]


def upright(svg, colour):
    """Return x of an upright line of a colour [px]."""
    lines = ET.fromstring(svg).iter(f"{SVG}line")  # our own markup
    return [float(e.get("x1")) for e in lines if e.get("stroke") == colour and e.get("x1") == e.get("x2")]


def test_the_mark_stands_within_its_interval():
    """The ride's delay lies inside the tinted interval, and the later geometry to the right of it."""
    svg = profile_svg(profile())
    ((left, width),) = tinted(svg)
    (ride,), (geometry,) = upright(svg, "var(--sensor)"), upright(svg, "var(--ring)")

    assert left < ride < left + width
    assert ride < geometry


def test_less_sure_is_wider():
    """A wider interval is drawn wider."""
    ((_, narrow),) = tinted(profile_svg(profile()))
    ((_, wide),) = tinted(profile_svg(profile(low=0.1, high=0.3)))

    assert wide > 3.0 * narrow


def test_a_refused_fit_claims_nothing():
    """Without a best delay there is neither mark nor tint, and the words say that none fits clearly best."""
    refused = profile(None, None, None)

    assert not tinted(profile_svg(refused))
    assert not upright(profile_svg(refused), "var(--sensor)")
    assert "no delay fits clearly best" in profile_in_words(refused)


def test_the_words_have_the_numbers():
    """Those who do not see it hear the least place, its interval and the geometry's own."""
    words = profile_in_words(profile())

    assert "the least at 0.170 s" in words
    assert "0.150 to 0.190 s" in words
    assert "geometry says 0.210 s" in words


def test_lean_is_above_rich():
    """In the stretch a leaner reading stands higher, and the words at the ends say so."""
    root = ET.fromstring(stretch_svg(Stretch(T_S, np.full(600, 0.9), np.full(600, 0.8))))  # our own markup
    places = {e.text: float(e.get("y")) for e in root.iter(f"{SVG}text")}
    seen, explained = (e.get("d") for e in root.iter(f"{SVG}path"))

    assert places["lean"] < places["rich"]
    assert float(seen.split(",")[1].split()[0]) < float(explained.split(",")[1].split()[0])


def test_the_distance_is_said():
    """How far seen and explained lie apart is told in words, holes left out."""
    seen = np.where(T_S < 45.0, np.nan, 0.91)

    assert "typically 0.010 apart" in stretch_in_words(Stretch(T_S, seen, np.full(600, 0.9)))


def test_nothing_in_common_is_said_too():
    """Where nothing can be held side by side, the figure still stands and says that it is not known."""
    empty = Stretch(T_S, np.full(600, np.nan), np.full(600, 0.9))

    assert "typically not known apart" in stretch_in_words(empty)
    assert stretch_svg(empty)


@pytest.mark.parametrize(
    ("low", "high"), [(0.0, 0.6), (0.731, 1.192), (40.0, 52.0), (-3.0, 5.0), (1e-4, 2e-4)]
)
def test_steps_are_round_and_inside(low, high):
    """The axis' numbers lie within it, evenly, and are at most one more than asked for."""
    steps = round_steps(low, high, 6)

    assert 2 <= len(steps) <= 7
    assert low - 1e-9 <= steps[0]
    assert steps[-1] <= high + 1e-9
    assert np.allclose(np.diff(steps), steps[1] - steps[0])


def test_an_axis_of_no_length_has_no_numbers():
    """A range without length gives no steps instead of an endless row."""
    assert round_steps(1.0, 1.0, 5) == []


def test_a_hole_breaks_the_line():
    """Where a value is missing the pen is lifted."""
    frame = Frame(0.0, 100.0, TOP, BOTTOM, (0.0, 4.0), (0.0, 1.0))
    path = trace(frame, [0.0, 1.0, 2.0, 3.0, 4.0], [0.1, 0.2, np.nan, 0.4, 0.5], stroke="x")

    assert path.count("M") == 2
    assert path.count("L") == 2
