"""Between the forms and the bridge: nothing invented, nothing lost."""

import pytest

from bridge.errors import BadValue
from dashboard.components import fitting_form, reading_form, window
from dashboard.components.fields import NOT_LOOKED, as_number, as_yes_no, from_yes_no
from dashboard.data import Source
from dashboard.ids import CLOSER, EARLIER, LATER, WHOLE, WIDER

EMPTY = {
    "ring": "seen",
    "ring_mm": 6.2,
    "ring_sd_mm": "",
    "view": "cut",
    "nose_colour": "",
    "base_ring": "",
    "strap_mark": "",
    "specks": NOT_LOOKED,
    "edge": NOT_LOOKED,
    "glaze": NOT_LOOKED,
    "blisters": NOT_LOOKED,
    "wet": NOT_LOOKED,
    "gap_mm": "",
    "piston_wash": "",
    "note": "  ",
}


def test_what_nobody_looked_at_is_not_looked_at():
    """Fields that were left alone are handed on as not known, never as "none" or "no"."""
    told = reading_form.values(EMPTY)

    assert told["specks"] == NOT_LOOKED
    assert [told[name] for name in ("edge", "glaze", "blisters", "wet", "note", "gap_mm")] == [None] * 6


def test_every_field_goes_through():
    """Each field of the form reaches the bridge under its own name."""
    told = reading_form.values(
        EMPTY
        | {
            "wet": "yes",
            "glaze": "no",
            "edge": "rounded",
            "strap_mark": "0,5",
            "note": " x ",
            "gap_mm": "0.7",
        },
    )

    assert (told["wet"], told["glaze"], told["edge"]) == (True, False, "rounded")
    assert (told["strap_mark"], told["note"], told["gap_mm"]) == (0.5, "x", 0.7)
    assert told.keys() == EMPTY.keys()


@pytest.mark.parametrize("ring", ["none", "all-dark", "not-seen"])
def test_a_ring_that_was_not_seen_has_no_depth(ring):
    """A depth typed before the answer was changed to one without a depth is not written down."""
    told = reading_form.values(EMPTY | {"ring": ring, "ring_sd_mm": 0.3})

    assert (told["ring"], told["ring_mm"], told["ring_sd_mm"]) == (ring, None, None)


def test_a_ring_needs_its_depth():
    """A ring that was seen and has no depth is refused with the mend."""
    with pytest.raises(BadValue, match="give the depth of the ring"):
        reading_form.values(EMPTY | {"ring_mm": ""})


@pytest.mark.parametrize(
    ("typed", "number"), [("6.2", 6.2), ("6,2", 6.2), (6, 6.0), ("", None), (None, None)]
)
def test_numbers_as_people_type_them(typed, number):
    """A comma is a point, nothing is nothing."""
    assert as_number(typed, "it") == number


@pytest.mark.parametrize("word", ["six", "nan", "inf", "-infinity", "6.2.1"])
def test_a_word_is_no_number(word):
    """A number field with a word in it is refused by its name; what is not finite is a word."""
    with pytest.raises(BadValue, match=f"'{word}' is no number for the gap"):
        as_number(word, "the gap")


@pytest.mark.parametrize("value", [None, True, False])
def test_yes_no_and_not_looked_go_both_ways(value):
    """The three answers survive the way into the form and out of it."""
    assert as_yes_no(from_yes_no(value)) is value


def test_a_plug_needs_a_label():
    """A plug without a label, or half a step of heat range, is refused."""
    told = {"label": " ", "state": "new", "type": "", "nose_mm": "", "heat_range": ""}
    with pytest.raises(BadValue, match="label"):
        fitting_form.values(told)
    with pytest.raises(BadValue, match="whole steps"):
        fitting_form.values(told | {"label": "B1", "heat_range": "0.5"})

    assert fitting_form.values(told | {"label": "B1"})[0] == "B1"


def test_the_form_that_fits_a_plug_warns_of_the_hot_engine(logbook_folder):
    """What burns, shocks and catches fire stands on the form for an empty place, before its first field."""
    title, caution, *fields = fitting_form.form(Source(logbook_folder).tray(1), 1).children

    assert "Fit a plug into cylinder 1" in title.children
    assert (caution.children, caution.className) == (reading_form.HOT, "caution-line hot")
    assert fields


@pytest.mark.parametrize("missing", ["ring", "view"])
def test_what_has_to_be_said_is_missing(missing):
    """A form without the ring, or without what it was seen by, is refused and never a fault."""
    with pytest.raises(BadValue, match="say of the ring"):
        reading_form.values(EMPTY | {missing: None})


def test_the_graph_tells_its_window():
    """Drawing across the traces gives the window, a double click the whole, anything else leaves it."""
    assert window.zoomed({"xaxis.range[0]": 10.0, "xaxis.range[1]": 20.0}, 100.0) == [10.0, 20.0]
    assert window.zoomed({"xaxis.range": [10.0, 20.0]}, 100.0) == [10.0, 20.0]
    assert window.zoomed({"xaxis.range[0]": -5.0, "xaxis.range[1]": 20.0}, 100.0) == [0.0, 20.0]
    assert window.zoomed({"xaxis.autorange": True}, 100.0) is None
    assert window.zoomed({"autosize": True}, 100.0) is window.SAME
    assert window.zoomed(None, 100.0) is window.SAME


def test_the_buttons_move_the_window():
    """Each button does what it says, inside the session."""
    assert window.pressed(CLOSER, None, 100.0) == [25.0, 75.0]
    assert window.pressed(WIDER, [25.0, 75.0], 100.0) is None
    assert window.pressed(EARLIER, [10.0, 30.0], 100.0) == [0.0, 20.0]
    assert window.pressed(LATER, [60.0, 80.0], 100.0) == [70.0, 90.0]
    assert window.pressed(LATER, [80.0, 100.0], 100.0) == [80.0, 100.0]
    assert window.pressed(WHOLE, [10.0, 30.0], 100.0) is None
    assert window.pressed(CLOSER, [50.0, 51.0], 100.0) == [50.0, 51.0]
