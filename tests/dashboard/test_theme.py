"""Colours: the order of the mixture and what can be read on the ground."""

import itertools

import pytest

from dashboard.theme import MIXTURE, PALETTES, SCHEMES, css_variables, luminance, mixture_colour, trace_colour


def test_lean_is_lighter_all_along_the_scale():
    """A leaner mixture has a strictly lighter colour, so that the order survives a grey print."""
    steps = [luminance(mixture_colour(0.70 + n * 0.01)) for n in range(41)]

    assert all(rich < lean for rich, lean in itertools.pairwise(steps))


def test_beyond_the_scale_the_colour_stays():
    """A mixture off either end takes the end's colour."""
    assert mixture_colour(0.2) == MIXTURE[0][1]
    assert mixture_colour(3.0) == MIXTURE[-1][1]


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize("name", ["ink", "quiet", "sensor", "ring", "caution"])
@pytest.mark.parametrize("ground", ["ground", "tint"])
def test_words_can_be_read(scheme, name, ground):
    """Whatever is written in passes 4.5:1 on paper and on tinted paper, light and dark (published: WCAG 2.2, 1.4.3)."""
    light, dark = sorted(
        (luminance(PALETTES[scheme][name]), luminance(PALETTES[scheme][ground])), reverse=True
    )

    assert (light + 0.05) / (dark + 0.05) >= 4.5


def test_both_schemes_name_the_same_colours():
    """A colour that the light scheme names is in the dark one too, so no variable is ever empty."""
    assert PALETTES["light"].keys() == PALETTES["dark"].keys()
    assert all(f"--{name}:" in css_variables() for name in PALETTES["light"])


def test_dark_is_for_screens_only():
    """The dark palette stands in a screen query, so paper stays light."""
    before, after = css_variables().split("@media screen")

    assert PALETTES["dark"]["ground"] not in before
    assert PALETTES["dark"]["ground"] in after


def test_two_cylinders_never_share_a_trace_colour():
    """The first four traces of a panel have four colours, in both schemes."""
    for scheme in SCHEMES:
        assert len({trace_colour(scheme, "mixture", n) for n in range(4)}) == 4
