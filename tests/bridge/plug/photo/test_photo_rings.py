"""Single pictures, each made for one thing that may be on a nose or in its light."""

from dataclasses import replace

import numpy as np
import pytest

from bridge.errors import BadValue
from bridge.plug.photo import LIMITS, YOURS_WINS, read_photo
from tests.bridge.plug.photo.photo_scenes import Ring, Scene, render

PLAIN = Scene(width=480, height=360, angle=200.0, light_angle=20.0, noise=0.015)


def read(scene, **more):
    """Render a scene and read it with exact taps."""
    picture = render(scene)
    return read_photo(picture.pixels, nose_mm=scene.nose_mm, tip=picture.tip, seat=picture.seat, **more)


def test_a_deeper_ring_is_read_deeper():
    """Rings drawn nearer the seat are read nearer the seat, each close to its place."""
    drawn = [2.5, 5.0, 7.5, 10.0, 11.5]
    depths = [read(replace(PLAIN, ring=Ring(mm))).ring_depth_mm for mm in drawn]

    assert depths == sorted(depths)
    assert depths == pytest.approx(drawn, abs=0.25)


def test_turned_taps_read_from_the_other_end():
    """Depth counts from what was tapped as the tip: on a nose as wide at both ends it is the nose less the depth."""
    picture = render(replace(PLAIN, ring=Ring(5.0), tip_radius_mm=2.7, seat_radius_mm=2.7))
    turned = read_photo(picture.pixels, nose_mm=14.0, tip=picture.seat, seat=picture.tip)

    assert turned.ring_depth_mm == pytest.approx(9.0, abs=0.3)


def test_depths_scale_with_the_nose():
    """The same picture of a nose said to be half as long gives half the depth and half the uncertainty."""
    picture = render(replace(PLAIN, ring=Ring(6.0)))
    long, short = (
        read_photo(picture.pixels, nose_mm=mm, tip=picture.tip, seat=picture.seat) for mm in (14.0, 7.0)
    )

    assert short.ring_depth_mm == pytest.approx(long.ring_depth_mm / 2)
    assert short.ring_depth_sd_mm == pytest.approx(long.ring_depth_sd_mm / 2)


@pytest.mark.parametrize("tilt", [-18.0, -9.0, 9.0, 18.0])
def test_a_lean_to_the_camera_is_allowed_for(tilt):
    """A ring that is bowed by the nose's lean is read at its depth along the axis."""
    found = read(replace(PLAIN, tilt=tilt, ring=Ring(7.0, dark=40.0)))

    assert found.ring == "seen"
    assert found.ring_depth_mm == pytest.approx(7.0, abs=0.35)


@pytest.mark.parametrize(
    "ring",
    [
        Ring(6.0, width_mm=0.5),
        Ring(6.0, width_mm=3.0),
        Ring(6.0, dark=6.0),
        Ring(6.0, dark=85.0),
        Ring(6.0, soft_mm=0.8),
        Ring(6.0, slant_mm=1.2),
        Ring(6.0, one_sided=0.7, one_sided_at=30.0),
    ],
    ids=["narrow", "wide", "faint", "black", "soft", "aslant", "one-sided"],
)
def test_rings_of_many_kinds_are_seen(ring):
    """Narrow, wide, faint, black, soft, slanted and one-sided rings are read where they are."""
    found = read(replace(PLAIN, ring=ring))

    assert found.ring == "seen"
    assert found.ring_depth_mm == pytest.approx(6.0, abs=0.3)
    assert found.ring_depth_sd_mm < 0.6


def test_width_and_darkness_are_measured_and_follow_the_ring():
    """A wider ring is read wider and a darker one darker, each near what was drawn."""
    thin, wide = (read(replace(PLAIN, ring=Ring(6.0, width_mm=mm))) for mm in (1.0, 2.5))
    pale, dark = (read(replace(PLAIN, ring=Ring(6.0, width_mm=1.5, dark=d))) for d in (10.0, 40.0))

    assert thin.ring_width_mm == pytest.approx(1.0, abs=0.3)
    assert wide.ring_width_mm == pytest.approx(2.5, abs=0.3)
    assert pale.darkness == pytest.approx(10.0, rel=0.3)
    assert dark.darkness == pytest.approx(40.0, rel=0.3)


@pytest.mark.parametrize(
    "nothing",
    [
        PLAIN,
        replace(PLAIN, tan=18.0),
        replace(PLAIN, tan=-18.0),
        replace(PLAIN, base_ring=50.0),
        replace(PLAIN, base_shadow=40.0, base_shadow_mm=2.0),
        replace(PLAIN, tip_shadow=30.0, tip_shadow_mm=1.0),
        replace(PLAIN, specks=25),
        replace(PLAIN, gloss=0.9),
        replace(PLAIN, light_along=1.0, light_direction=200.0),
        replace(PLAIN, noise=0.1),
    ],
    ids=[
        "plain",
        "tan",
        "tan tip",
        "base ring",
        "base shadow",
        "tip shadow",
        "specks",
        "gloss",
        "light",
        "noise",
    ],
)
def test_what_is_no_ring_is_called_none(nothing):
    """Colour that deepens, a base ring, shadows, specks, gloss, uneven light and noise are no mixture ring."""
    found = read(nothing)

    assert found.ring != "seen"
    assert found.ring_depth_mm is None
    assert found.ring_depth_sd_mm is None


def test_the_mixture_ring_is_told_from_the_base_ring():
    """With a darker base ring at the seat the ring above it is the one that is read."""
    found = read(replace(PLAIN, base_ring=60.0, ring=Ring(8.0, dark=20.0)))

    assert found.ring_depth_mm == pytest.approx(8.0, abs=0.3)


def test_an_all_dark_nose_is_no_ring_and_not_none():
    """On a nose that is dark all over the ring's upper edge cannot be seen; all-dark is offered, not claimed."""
    found = read(replace(PLAIN, clean=22.0, background="light", background_light=75.0))

    assert found.ring == "cannot tell"
    assert found.suggestion == "all-dark"
    assert found.ring_depth_mm is None
    assert "upper edge cannot be seen" in found.because[0]


def test_a_nose_that_turns_dark_and_stays_so_cannot_be_told():
    """Where the dark part runs down to the seat, the ring's other edge is not there to be measured."""
    found = read(replace(PLAIN, ring=Ring(11.5, width_mm=9.0, dark=55.0)))

    assert found.ring == "cannot tell"


def test_the_profile_is_on_the_depth_axis_and_darkest_at_the_ring():
    """The profile for a picture runs from tip to seat and has its least lightness at the ring."""
    found = read(replace(PLAIN, ring=Ring(7.0, dark=50.0)))

    assert found.profile_mm[0] == pytest.approx(0.0, abs=0.05)
    assert found.profile_mm[-1] == pytest.approx(14.0, abs=0.05)
    inner = (found.profile_mm > 1.5) & (found.profile_mm < 12.5)
    darkest = found.profile_mm[inner][np.argmin(found.profile_lightness[inner])]
    assert darkest == pytest.approx(7.0, abs=0.7)


def test_the_own_proposal_finds_tip_and_seat_and_says_that_it_did():
    """Without taps the tool proposes them, near the true ones, and the answer names them as proposed."""
    picture = render(replace(PLAIN, ring=Ring(6.0)))
    found = read_photo(picture.pixels, nose_mm=14.0)
    long = np.hypot(*np.subtract(picture.seat, picture.tip))

    assert found.proposed
    assert np.hypot(*np.subtract(found.tip, picture.tip)) < 0.06 * long
    assert np.hypot(*np.subtract(found.seat, picture.seat)) < 0.06 * long
    assert found.ring_depth_mm == pytest.approx(6.0, abs=0.5)


def test_a_nose_whose_ends_look_alike_is_not_guessed():
    """A bare cylinder on a bare ground has no tip to be told: the tool asks for the taps."""
    alike = replace(
        PLAIN, tip_radius_mm=2.6, seat_radius_mm=2.6, shell="none", electrode=False, ring=Ring(5.0)
    )
    found = read_photo(render(alike).pixels, nose_mm=14.0)

    assert found.ring == "cannot tell"
    assert found.ring_depth_mm is None
    assert "--tip" in found.because[0]


def test_a_picture_of_nothing_cannot_be_told():
    """On noise alone no nose is found, so the tool asks for the taps."""
    noise = np.random.default_rng(3).integers(90, 120, (300, 400, 3)).astype(np.uint8)
    found = read_photo(noise, nose_mm=14.0)

    assert (found.ring, found.confidence, found.tip) == ("cannot tell", 0.0, None)


def test_down_the_mouth_the_rim_and_the_known_depth_stand_in_for_the_seat():
    """Seen from above, with the rim tapped where it hides the nose, a ring above it is read within 1 mm."""
    scene = replace(PLAIN, perspective=0.12, ring=Ring(5.0, width_mm=1.2, dark=40.0))
    picture = render(scene)
    tip, seat = np.array(picture.tip), np.array(picture.seat)
    seen = 9.0 / 14.0
    rim = tip + (seat - tip) * seen * 1.12 / (1 + 0.12 * seen)
    found = read_photo(
        picture.pixels, nose_mm=14.0, view="magnifier", tip=picture.tip, seat=tuple(rim), rim_mm=9.0
    )
    aside = read_photo(picture.pixels, nose_mm=14.0, tip=picture.tip, seat=picture.seat)

    assert found.ring == "seen"
    assert found.ring_depth_mm == pytest.approx(5.0, abs=1.0)
    assert found.ring_depth_sd_mm > aside.ring_depth_sd_mm


@pytest.mark.parametrize("kind", ["grey", "16 bit"])
def test_grey_and_sixteen_bit_pictures_read_alike(kind):
    """The depth does not depend on how a picture's numbers are kept."""
    picture = render(replace(PLAIN, ring=Ring(6.0)))
    grey = picture.pixels[..., 1]
    pixels = grey if kind == "grey" else grey.astype(np.uint16) * 257
    found = read_photo(pixels, nose_mm=14.0, tip=picture.tip, seat=picture.seat)

    assert found.ring_depth_mm == pytest.approx(6.0, abs=0.25)


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"tip": (10.0, 10.0)}, "give both --tip X,Y and --seat X,Y"),
        ({"tip": (10.0, 10.0), "seat": (500.0, 20.0)}, "outside the picture, which is 480 by 360"),
        ({"tip": (100.0, 100.0), "seat": (100.0, 100.0)}, "too near to see a ring"),
        ({"nose_mm": 0.0}, "give --nose-mm"),
        ({"nose_mm": float("nan")}, "give --nose-mm"),
        ({"view": "magnifier", "tip": (10.0, 10.0), "seat": (200.0, 20.0)}, "--rim-mm"),
        (
            {"view": "magnifier", "tip": (10.0, 10.0), "seat": (200.0, 20.0), "rim_mm": 15.0},
            "cannot be seen down to",
        ),
    ],
)
def test_taps_that_cannot_be_are_refused_with_the_mend(given, says):
    """Taps outside the picture or at one place, a nose of no length and a rim beyond it are refused by a sentence."""
    pixels = np.zeros((360, 480, 3), dtype=np.uint8)

    with pytest.raises(BadValue, match=says):
        read_photo(pixels, **{"nose_mm": 14.0, **given})


def test_limits_stand_beside_every_answer():
    """In words and in JSON alike, the known limits and whose value goes first stand beside the result."""
    found = read(replace(PLAIN, ring=Ring(6.0)))

    assert found.in_words()[-len(LIMITS) - 1 :] == [*LIMITS, YOURS_WINS]
    assert found.to_json()["limits"] == [*LIMITS, YOURS_WINS]
    assert {"ring", "ring_depth_mm", "ring_depth_sd_mm", "confidence"} <= found.to_json().keys()
