"""What a person may write in words."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.errors import BadValue, is_printable
from bridge.model.words import LONGEST, check_all, check_words


@pytest.mark.parametrize("kind", LONGEST)
def test_words_may_be_as_long_as_their_kind_and_no_longer(kind):
    """Each kind of words has a longest length, and one character more is refused with both numbers."""
    most = LONGEST[kind]
    assert check_words(kind, "x" * most) == "x" * most
    with pytest.raises(BadValue, match=f"{kind}.* has {most + 1} characters; shorten it to {most}"):
        check_words(kind, "x" * (most + 1))


@pytest.mark.parametrize("text", ["", " ", "\t", "\u00a0 "])
def test_words_of_blanks_are_none(text):
    """Nothing but blanks is no label."""
    with pytest.raises(BadValue, match="empty"):
        check_words("label", text)


@pytest.mark.parametrize(
    ("text", "named"),
    [("a\x1b[31m", "U\\+001B"), ("a\nb", "U\\+000A"), ("a\u202eb", "U\\+202E"), ("a\0", "U\\+0000")],
)
def test_what_cannot_be_seen_is_refused_by_its_number(text, named):
    """A control or format character in a label is refused, naming it in a way that can be seen."""
    with pytest.raises(BadValue, match=named):
        check_words("label", text)


def test_a_note_may_run_over_lines_and_no_more():
    """A note holds line breaks and tabs, which no name does, but nothing else that a terminal obeys."""
    assert check_words("note", "one\r\n\ttwo") == "one\r\n\ttwo"
    with pytest.raises(BadValue, match="U\\+0007"):
        check_words("note", "one\a")


def test_what_nobody_wrote_is_fine():
    """None among several words passes, and a word that cannot stand beside it does not."""
    check_all({"place": None})
    with pytest.raises(BadValue, match="place"):
        check_all({"note": None, "place": " "})


@given(st.text(max_size=60))
def test_whatever_is_taken_can_be_seen(text):
    """A label that is taken is taken as it is, and each of its characters can be seen."""
    try:
        assert check_words("label", text) == text
    except BadValue as error:
        refusal = str(error)
        assert all(map(is_printable, refusal))  # that it is refused is as good
    else:
        assert all(map(is_printable, text))
        assert text.strip()
