"""Tip and seat given the wrong way round, and a picture that differs from what the eye saw."""

from datetime import UTC, datetime

import numpy as np
import pytest
from PIL import Image

from bridge.model import Photo, Reading
from bridge.plug.beside_eye import apart
from bridge.plug.photo import read_photo
from bridge.plug.photo.taper import EXCHANGED, exchanged
from tests.bridge.cli.conftest import BIKE, Sootline
from tests.bridge.plug.photo.photo_plain import Drawn, Plain, draw
from tests.bridge.plug.photo.photo_scenes import Ring, Scene, random_scene, render

NOW = datetime(2026, 5, 14, 11, 20, tzinfo=UTC)
NOSE = render(Scene(width=400, height=300, angle=195.0, ring=Ring(6.0)))


def reading(mm=6.5, sd=0.4, ring="seen", view="cut"):
    """Return what the eye saw."""
    return Reading(1, "A1", 1, NOW, ring, ring_mm=mm, ring_sd_mm=sd, view=view)


def photo(depth, sd=0.2, ring="seen", number=1):
    """Return a photograph with its answer."""
    answer = {"ring": ring, "ring_depth_mm": depth, "ring_depth_sd_mm": sd}
    return Photo(number, "A1", 1, NOW, "a.jpg", "", "cut", 14.0, None, None, answer)


def test_exchanged_marks_are_not_read():
    """Given the wrong way round no depth is said but why; the right way round the ring is read."""
    right = read_photo(NOSE.pixels, nose_mm=14.0, tip=NOSE.tip, seat=NOSE.seat)
    wrong = read_photo(NOSE.pixels, nose_mm=14.0, tip=NOSE.seat, seat=NOSE.tip)

    assert right.ring_depth_mm == pytest.approx(6.0, abs=0.5)
    assert (wrong.ring, wrong.ring_depth_mm, wrong.because) == ("cannot tell", None, (EXCHANGED,))


def test_a_nose_as_wide_at_both_ends_is_read():
    """Where the widths say nothing the marks are taken as given, either way."""
    picture = draw(Plain(tip_half=0.2, seat_half=0.2, ring=Drawn(6.0)))
    for tip, seat in ((picture.tip, picture.seat), (picture.seat, picture.tip)):
        assert read_photo(picture.pixels, nose_mm=14.0, tip=tip, seat=seat).ring == "seen"


def test_down_the_mouth_the_widths_are_not_asked():
    """There the tip is nearer and looks wider, so nothing is refused for that."""
    found = read_photo(NOSE.pixels, nose_mm=14.0, view="magnifier", tip=NOSE.seat, seat=NOSE.tip, rim_mm=12.0)
    assert EXCHANGED not in found.because


def test_of_rendered_noses_most_are_told_and_hardly_any_is_wrongly_doubted():
    """On 24 random scenes with a finger's scatter none is wrongly doubted and at least half are told."""
    random = np.random.default_rng(3)
    wrongly, told, count = 0, 0, 24
    for seed in range(count):
        picture = render(random_scene(5000 + seed, largest=400))
        long = float(np.hypot(*np.subtract(picture.seat, picture.tip)))
        tip, seat = (
            tuple(float(x) for x in np.array(point) + random.normal(0.0, 0.01 * long, 2))
            for point in (picture.tip, picture.seat)
        )
        wrongly += exchanged(picture.pixels, tip, seat)
        told += exchanged(picture.pixels, seat, tip)
    assert wrongly == 0
    assert told >= count // 2


@pytest.mark.parametrize(
    ("eye", "seen", "says"),
    [
        (reading(6.5), photo(7.5), "more than both are unsure by"),
        (reading(None, None, "none"), photo(7.5), "no ring"),
        (reading(None, None, "all-dark"), photo(7.5), "dark all over"),
        (reading(6.5), photo(None, None, "none"), "shows none"),
    ],
)
def test_eye_and_picture_that_differ_are_said(eye, seen, says):
    """Beyond twice both uncertainties together (1.0 mm against 2 x 0.45 mm, by hand), or a ring against none."""
    (said,) = apart(eye, [seen])
    assert says in said
    assert "look again" in said


@pytest.mark.parametrize(
    ("eye", "seen"),
    [
        (reading(6.5), photo(7.3)),
        (reading(6.5, None, view="magnifier"), photo(8.4)),
        (reading(6.5), photo(None, None, "cannot tell")),
        (reading(None, None, "none"), photo(None, None, "none")),
        (None, photo(7.5)),
    ],
)
def test_what_both_allow_is_not_said(eye, seen):
    """Within both uncertainties, without a reading, or where the picture cannot tell, nothing is said."""
    assert apart(eye, [seen]) == []


def test_the_newest_picture_counts():
    """A picture that was marked anew replaces the one before it."""
    assert apart(reading(6.5), [photo(6.6, number=2), photo(9.0, number=1)]) == []


def test_read_photo_and_show_say_it_and_photo_says_its_marks(tmp_path, capsys):
    """The command line says a difference in all three answers, and which marks it took where none were given."""
    sootline = Sootline(tmp_path / "logbook", capsys)
    (tmp_path / "bike.toml").write_text(BIKE, encoding="utf-8")
    rows = [f"{i / 10:.1f},100,8000,0.90,0.90" for i in range(300)]
    (tmp_path / "one.csv").write_text(
        "\n".join(["t_s,throttle,rpm,lambda_1,lambda_2", *rows]) + "\n", encoding="utf-8"
    )
    Image.fromarray(NOSE.pixels).save(tmp_path / "nose.png")
    sootline.ok("bike", "add", tmp_path / "bike.toml")
    sootline.ok(
        "import", tmp_path / "one.csv", "--bike", "Chalk Pit 400", "--started", "2026-05-01T09:20:00Z"
    )
    sootline.ok("plug", "fit", "A1", "--cylinder", 1, "--session", 1, "--state", "new")
    sootline.ok("plug", "read", "A1", "--session", 1, "--ring-mm", 11.0, "--view", "cut")
    marks = [f"--{what}={x:.1f},{y:.1f}" for what, (x, y) in (("tip", NOSE.tip), ("seat", NOSE.seat))]
    of = ("--label", "A1", "--session", 1)

    assert "differ" in sootline.ok("plug", "photo", tmp_path / "nose.png", *of, *marks)["differs"][0]
    assert "Eye and picture differ" in sootline("plug", "read", "A1", "--session", 1, "--ring-mm", 10.5).out
    assert "Eye and picture differ" in sootline("plug", "show", "A1").out
    sootline.ok("plug", "read", "A1", "--session", 1, "--ring-mm", 6.1)
    assert sootline.ok("plug", "show", "A1")["differs"] == []
    assert "took the tip to be at" in sootline("plug", "photo", tmp_path / "nose.png", *of).out
