"""Pictures by a second, plainer renderer: what is promised of a reading does not hang on one way to draw."""

from dataclasses import replace

import numpy as np
import pytest

from bridge.plug.photo import propose, read_photo
from tests.bridge.plug.photo.photo_figures import outcome_of
from tests.bridge.plug.photo.photo_plain import Drawn, Plain, draw, random_plain

# invented pictures; the bounds are the project's own promise (median under 3 % of the nose)
PLAIN = Plain(ring=Drawn(7.0))


def _ends_off(plain):
    """Return how far tip and seat as proposed are off the true ones, as shares of the nose."""
    picture = draw(plain)
    found = propose(picture.pixels)
    assert found.tip is not None, found.because
    return [
        float(np.hypot(*np.subtract(a, b))) / plain.long
        for a, b in ((found.tip, picture.tip), (found.seat, picture.seat))
    ]


@pytest.mark.parametrize("taps", [True, False])
def test_plain_pictures_read_as_well_as_modelled_ones(taps):
    """The ring is mostly seen, off by under 3 % of the nose in the median, and within what is stated."""
    done = [outcome_of(draw(random_plain(seed)), taps=taps) for seed in range(4000, 4016)]
    seen = [o for o in done if o.ring == "seen"]

    assert len(seen) >= 0.75 * len(done)
    assert np.median([abs(o.error) for o in seen]) < 0.03
    assert np.mean([abs(o.z) < 1.96 for o in seen]) >= 0.85


@pytest.mark.parametrize("taps", [True, False])
def test_on_plain_pictures_without_a_ring_none_is_claimed(taps):
    """No depth is given where no ring was drawn."""
    done = [outcome_of(draw(random_plain(seed, ring=False)), taps=taps) for seed in range(4100, 4112)]

    assert not any(o.ring == "seen" for o in done)


@pytest.mark.parametrize("share", [0.22, 0.35, 0.5, 0.65, 0.78])
def test_a_dark_ring_does_not_cut_the_nose_short(share):
    """A ring as dark as the background parts the nose; the proposal still has all of it."""
    plain = replace(PLAIN, ring=Drawn(share * 14.0), dark=0.75, sigma=0.06, ground=55.0)

    assert max(_ends_off(plain)) < 0.03


def test_a_nose_whose_background_turns_light_is_not_cut_where_it_turns():
    """Half the nose lies before a dark cavity, half on paper nearly as light as it; its tip is found on the paper."""
    plain = replace(PLAIN, ground=170.0, shell="slabs", shell_level=60.0, light=200.0, noise=2.0)
    picture = draw(plain)
    found = propose(picture.pixels)

    assert found.tip is not None
    assert np.hypot(*np.subtract(found.tip, picture.tip)) < 0.05 * plain.long


def test_of_two_ends_that_look_alike_the_upper_is_taken_and_that_is_said():
    """A cylinder without electrode or shell that stands upright is read from above, less surely, in words."""
    alike = replace(PLAIN, tip_half=0.18, seat_half=0.18, ring=Drawn(5.0))
    reading = read_photo(draw(alike).pixels, nose_mm=14.0)
    tapered = read_photo(draw(PLAIN).pixels, nose_mm=14.0)

    assert reading.ring_depth_mm == pytest.approx(5.0, abs=0.5)
    assert reading.because[0].startswith("both ends look alike")
    assert reading.confidence < tapered.confidence


@pytest.mark.parametrize("angle", [0.0, 30.0, 150.0, 180.0])
def test_of_two_ends_that_look_alike_none_is_guessed_where_it_does_not_stand(angle):
    """The same cylinder on its side has no upper end: it must be tapped."""
    alike = replace(PLAIN, tip_half=0.18, seat_half=0.18, angle=angle)
    reading = read_photo(draw(alike).pixels, nose_mm=14.0)

    assert reading.ring == "cannot tell"
    assert reading.ring_depth_mm is None


def _straight_down(ring, *, away=60.0, size=600):
    """Draw a nose seen along its axis from a distance [mm]: rings one in the other, the rim hides the last fifth.

    Returns the picture and the taps on one side: the tip's edge, and where the rim hides the nose.
    """
    tip, seat, nose, field = 1.8, 3.6, 14.0, 5.0  # mm
    y, x = np.mgrid[0:size, 0:size] - (size - 1) / 2
    out = np.hypot(x, y) / (size / 2) * field
    depth = np.linspace(0.0, nose, 400)
    seen_at = (tip + (seat - tip) * depth / nose) * away / (away + depth)
    where = np.interp(out, seen_at, depth, left=-1.0, right=99.0)
    grey = np.where(out < 0.5 * tip, 110.0, np.where(out < tip, 215.0, 40.0))
    dark = 0.0 if ring is None else 0.6 * np.exp(-0.5 * ((where - ring) / 0.6) ** 2)
    grey = np.where((where >= 0) & (where <= 0.8 * nose), 220.0 * (1.0 - dark), grey)
    grey += np.random.default_rng(1).normal(0.0, 4.0, grey.shape)
    middle, scale = (size - 1) / 2, size / 2 / field
    rim = float(np.interp(0.8 * nose, depth, seen_at))
    pixels = np.repeat(np.clip(grey, 0, 255).astype(np.uint8)[..., None], 3, axis=2)
    return pixels, (middle + tip * scale, middle), (middle + rim * scale, middle)


@pytest.mark.parametrize("ring", [4.0, 6.0, 8.0])
def test_straight_down_the_mouth_a_ring_is_read_along_one_side(ring):
    """A nose seen along its axis, near by, is read to 4 % of its length: far depths look shorter."""
    pixels, tip, rim = _straight_down(ring)
    reading = read_photo(pixels, nose_mm=14.0, view="magnifier", tip=tip, seat=rim, rim_mm=11.2)

    assert reading.ring_depth_mm == pytest.approx(ring, abs=0.04 * 14.0)
    assert abs(reading.ring_depth_mm - ring) < 2.0 * reading.ring_depth_sd_mm


def test_straight_down_the_mouth_without_a_ring_none_is_claimed():
    """Rings of light and shadow about the axis are no mixture ring."""
    pixels, tip, rim = _straight_down(None)
    reading = read_photo(pixels, nose_mm=14.0, view="magnifier", tip=tip, seat=rim, rim_mm=11.2)

    assert reading.ring != "seen"
