"""The notes in a capture: a word for programs, words for a person, and both back again."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.link.capture import Note
from bridge.link.notes import Kind, note_text, read_note, refused_words
from bridge.sealing.told import befell


@given(st.sampled_from(Kind), st.text(max_size=80))
def test_a_note_is_read_as_it_was_told(kind, words):
    """Kind and words come back, whatever the words hold."""
    told = read_note(note_text(kind, words))
    assert (told.kind, told.words) == (kind, words)


@pytest.mark.parametrize(
    "text", ["", "lost", "lost:no blank", "sneezed: a later version's", "Lost: in capitals"]
)
def test_what_is_no_note_of_ours_is_passed_over(text):
    """A word that this version does not know is None and no error."""
    assert read_note(text) is None


@given(st.integers(0, 10**14))
def test_the_refused_bytes_can_be_read_from_the_words(size):
    """How many bytes are no part of the session stands in the words, and only a refusal has them."""
    assert read_note(note_text(Kind.REFUSED, refused_words(size, "x"))).refused_bytes == size
    assert read_note(note_text(Kind.LOST, refused_words(size, "x"))).refused_bytes == 0


def notes(*told):
    """Return notes of (second, offset, kind, words)."""
    return [Note(note_text(kind, words), offset, int(s * 1e9), 0) for s, offset, kind, words in told]


def test_each_gap_is_a_sentence_with_its_length():
    """Two gaps, one of them with a stranger in it, are two reconnects and two sentences."""
    told = befell(
        notes(
            (0, 0, Kind.BEGAN, "x"),
            (10, 100, Kind.LOST, "x"),
            (12.5, 100, Kind.BACK, "x"),
            (20, 200, Kind.LOST, "x"),
            (21, 200, Kind.BACK, "x"),
            (22, 260, Kind.REFUSED, refused_words(60, "they come from another logger")),
            (22, 260, Kind.LOST, "x"),
            (30, 260, Kind.BACK, "x"),
            (60, 900, Kind.ENDED, "x"),
        )
    )

    assert told.reconnects == 2
    assert told.refused == ((200, 260),)
    assert told.notes[:2] == (
        "the port was away for 2.5 s, from 10.0 s after the start of the recording",
        "the port was away for 10.0 s, from 20.0 s after the start of the recording",
    )


def test_a_stranger_on_a_proven_port_leaves_the_gap_before_it_as_it_was():
    """Bytes refused from the middle of an opening do not undo that our logger had been back."""
    told = befell(
        notes(
            (10, 100, Kind.LOST, "x"),
            (12, 100, Kind.BACK, "x"),
            (20, 500, Kind.REFUSED, refused_words(60, "x")),
            (20, 500, Kind.LOST, "x"),
        )
    )

    assert told.reconnects == 1
    assert told.refused == ((440, 500),)
    assert "the port was away at the end" in told.notes
