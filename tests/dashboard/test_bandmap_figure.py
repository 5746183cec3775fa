"""The band map: drawn to the carburettor."""

from xml.etree import ElementTree as ET

import pytest

from dashboard.figures.bandcell import Cell
from dashboard.figures.bandmap import (
    CIRCUIT_TONES,
    TRAVEL,
    BandMap,
    bandmap_svg,
    heights,
    in_words,
    row_shares,
    shared_range,
)
from dashboard.figures.lambda_axis import Mark

SVG = "{http://www.w3.org/2000/svg}"
MAIN, TAPER, PILOT = (75.0, 100.0), (50.0, 75.0), (0.0, 12.5)


def cell(throttle, rpm, mean, circuit="main"):
    """Return a band with a mean and its interval, or an empty one."""
    mark = None if mean is None else Mark(mean, mean - 0.01, mean + 0.01)
    return Cell(throttle, circuit, rpm, 4.0, mark)


def drawn(*cells, range_=(0.8, 1.0)):
    """Return the drawing as a tree."""
    return ET.fromstring(bandmap_svg(BandMap("Cylinder 1", cells, range_)))  # our own markup


def dots(root):
    """Return the marks' places [px]."""
    return [middle(e) for e in root.iter(f"{SVG}rect") if e.get("class") == "mean"]


def middle(box):
    """Return the middle of a rectangle [px]."""
    x, y, wide, tall = (float(box.get(name)) for name in ("x", "y", "width", "height"))
    return x + wide / 2.0, y + tall / 2.0


def doubts(root):
    """Return the left and right ends of the intervals [px]."""
    boxes = [e for e in root.iter(f"{SVG}rect") if e.get("class") == "doubt"]
    return [(float(e.get("x")), float(e.get("x")) + float(e.get("width"))) for e in boxes]


def test_rows_are_as_high_as_their_share_of_the_travel():
    """A quarter of the slide's travel is a quarter of the map's height."""
    places, _ = heights([MAIN, TAPER, (25.0, 50.0), (12.5, 25.0), PILOT])

    assert places[MAIN][1] == pytest.approx(TRAVEL / 4.0)
    assert places[PILOT][1] == pytest.approx(TRAVEL / 8.0)


def test_wide_open_is_at_the_top():
    """The slide goes up, so full throttle is the uppermost row."""
    (_, full), (_, shut) = dots(
        drawn(cell(MAIN, (4000.0, 6000.0), 0.9), cell(PILOT, (4000.0, 6000.0), 0.9, "pilot"))
    )

    assert full < shut


def test_rich_is_to_the_left():
    """In a cell the richer mean stands further left."""
    (rich, _), (lean, _) = dots(
        drawn(cell(MAIN, (4000.0, 6000.0), 0.85), cell(TAPER, (4000.0, 6000.0), 0.95))
    )

    assert rich < lean


def test_faster_is_to_the_right():
    """Columns of engine speed rise to the right, and one that nobody rode keeps its room."""
    near, far = dots(drawn(cell(MAIN, (2000.0, 4000.0), 0.9), cell(MAIN, (6000.0, 8000.0), 0.9)))

    assert far[0] - near[0] == pytest.approx(2 * 58.0)


def test_too_little_data_says_so():
    """A band without a mean has no mark and no number; where it was ridden it says that it was too little."""
    short, never = cell(MAIN, (4000.0, 6000.0), None), Cell(PILOT, "pilot", None, 0.0, None)
    root = drawn(short, never, cell(TAPER, (4000.0, 6000.0), 0.9))
    words = list(root.itertext())

    assert len(dots(root)) == 1
    assert words.count("too") == 1
    assert words.count("little") == 1


def test_the_bar_is_the_interval():
    """A mean that is surer has a shorter bar, and the mean lies within it."""
    sure = Cell(MAIN, "main", (4000.0, 6000.0), 4.0, Mark(0.9, 0.885, 0.915))
    wide = Cell(TAPER, "needle (taper)", (4000.0, 6000.0), 4.0, Mark(0.9, 0.86, 0.94))
    (narrow_low, narrow_high), (low, high) = doubts(drawn(sure, wide))

    assert high - low > 2.0 * (narrow_high - narrow_low)
    assert low < dots(drawn(wide))[0][0] < high


def test_idle_and_overrun_stand_apart():
    """Idle and overrun have rows of their own below the slide's travel, whatever was ridden above."""
    shut = [
        Cell(None, name, (2000.0, 4000.0), 4.0, Mark(0.9, 0.89, 0.91), apart=name)
        for name in ("overrun", "idle")
    ]
    root = drawn(cell(PILOT, (2000.0, 4000.0), 0.9, "pilot"), *shut)
    (_, pilot), *apart = dots(root)

    assert all(y > pilot for _, y in apart)
    assert {"idle", "overrun"} <= set(root.itertext())


def test_a_row_shows_who_has_what_share():
    """The bar beside a row is divided as the circuits share it, pilot first, and together it is whole."""
    shares = {"main": 0.6, "needle (taper)": 0.3, "needle (straight)": 0.1}
    root = drawn(Cell(MAIN, "main", (4000.0, 6000.0), 4.0, Mark(0.9, 0.89, 0.91), shares=shares))
    parts = [e for e in root.iter(f"{SVG}rect") if e.get("class") == "share"]
    widths = [float(e.get("width")) for e in parts]

    assert [e.get("fill") for e in parts] == [CIRCUIT_TONES[name] for name in reversed(shares)]
    assert widths[2] == pytest.approx(2.0 * widths[1], abs=0.02)
    assert widths[1] == pytest.approx(3.0 * widths[0], abs=0.03)


def test_shares_of_a_row_go_by_the_seconds():
    """A cell that was ridden longer counts more for its row."""
    long = Cell(MAIN, "main", (4000.0, 6000.0), 9.0, None, shares={"main": 1.0})
    short = Cell(MAIN, "main", (6000.0, 8000.0), 1.0, None, shares={"needle (taper)": 1.0})

    assert row_shares([long, short]) == pytest.approx({"main": 0.9, "needle (taper)": 0.1})


def test_a_band_says_all_of_it():
    """A band carries its whole sentence, escaped, for a tap and for those who do not see it."""
    root = drawn(Cell(MAIN, "main", (4000.0, 6000.0), 4.0, Mark(0.9, 0.89, 0.91), says='<b>"0.900"'))
    (band,) = [e for e in root.iter(f"{SVG}g") if e.get("class") == "band"]

    assert band.get("data-says") == '<b>"0.900"'
    assert band.find(f"{SVG}title").text == '<b>"0.900"'


def test_off_the_little_scale_is_an_arrow():
    """A mean beyond the shared range is an arrow with its number, not a mark at the wrong place."""
    root = drawn(cell(MAIN, (4000.0, 6000.0), 1.4))

    assert not dots(root)
    assert "1.400" in "".join(root.itertext())


def test_one_wild_cylinder_does_not_press_the_others_flat():
    """The shared range ends at 1.15 however lean one cylinder reads."""
    assert shared_range([[cell(MAIN, (0.0, 1.0), 0.87)], [cell(MAIN, (0.0, 1.0), 1.9)]]) == (0.80, 1.15)


@pytest.mark.parametrize("mean", [0.72, 0.80, 0.88, 0.999, 1.02, 1.12])
def test_the_range_holds_what_was_measured(mean):
    """Within its limits the shared range holds each mean."""
    low, high = shared_range([[cell(MAIN, (0.0, 1.0), mean)]])

    assert low < mean < high


def test_without_throttle_there_is_one_row():
    """A log without a throttle gets bands of speed alone and says so."""
    root = drawn(Cell(None, None, (4000.0, 6000.0), 4.0, Mark(0.9, 0.89, 0.91)))

    assert "anythrottle" in "".join(root.itertext())
    assert len(dots(root)) == 1


def test_the_words_name_both_ends():
    """Those who do not see it hear which band is richest and which leanest."""
    words = in_words(
        BandMap(
            "Cylinder 1",
            (cell(MAIN, (4000.0, 6000.0), 0.85), cell(PILOT, (2000.0, 4000.0), 0.95)),
            (0.8, 1.0),
        )
    )

    assert "Richest 0.850 at 75 to 100 % throttle" in words
    assert "leanest 0.950 at 0 to 12.5 % throttle" in words


def test_a_circuit_name_is_escaped():
    """A name with markup in it comes out as words."""
    markup = bandmap_svg(BandMap("<script>", (cell(MAIN, (0.0, 1.0), 0.9, "<script>x"),), (0.8, 1.0)))

    assert "<script" not in markup
