"""Damage costs only the damaged lines, and every kind of it is counted."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.errors import WireTooNew
from bridge.wire import NEED_DATA, ChannelLine, Counts, Data, Identity, Mark, Reader, State, Unknown
from tests.bridge.wire.wire_helpers import (
    EXAMPLE,
    block,
    chunks,
    data_lines,
    line,
    read,
    read_chunks,
    seqs_by_boot,
)

GOOD = line("D,1,10,1.5")


@pytest.mark.parametrize(
    ("hurt", "damaged", "junk"),
    [
        (GOOD.replace(b"1.5*", b"1.6*"), 1, 0),  # a digit flipped
        (GOOD[:-3] + b"\r\n", 1, 0),  # a checksum digit missing
        (GOOD[:5], 1, 0),  # cut
        (GOOD[:5] + b"\r\n", 1, 0),  # cut, the line end kept
        (GOOD[1:], 0, len(GOOD) - 3),  # its > lost
        (GOOD.replace(b"*", b"j"), 1, 0),  # its * lost
        (GOOD.lower().replace(b"d,", b"D,"), 1, 0),  # the checksum in lower case
        (GOOD[:4] + b">" + GOOD[5:], 2, 0),  # a byte became >
        (GOOD.replace(b"*", b"**"), 1, 0),  # a second *
        (b">", 1, 0),
        (b">>>", 3, 0),
        (b">*00000000\r\n", 1, 0),  # the checksum of nothing
        (b"noise", 0, 5),
        (b"\r\n\n\r", 0, 0),
        (b"*1234ABCD\r\n", 0, 9),
        (b"\x00\xfe\r*", 0, 3),
        (b">" + b"x" * 2000, 1, 0),  # a line that never ends
        (b">" + b"x" * 2000 + b"\r\nabc", 1, 0),  # what follows damage belongs to it
        (line("D,1,10,.5", end=b"abc\r\n"), 1, 3),  # a good checksum tells where the damaged line ends
        (line("D,1,10,1,5", end=b"abc\r\n"), 1, 3),
        (line("D,1,10,1.5", end=b"\x8d\n"), 0, None),  # a hurt CR: the line is whole
    ],
)
def test_each_kind_of_damage_is_counted(hurt, damaged, junk):
    """A hurt line between two good ones costs itself alone, and is counted as what it is."""
    records, counts = read(block() + data_lines([0]) + hurt + data_lines([2]))
    extra = 1 if junk is None else 0

    assert [record.seq for record in records if isinstance(record, Data)] == [0, 1, 2][:: 2 - extra]
    assert counts == Counts(4 + extra, damaged, 1 - extra, 1 if junk is None else junk)


def test_the_checksum_is_upper_case_digits_only():
    """Eight characters that int(x, 16) would take, with _ or lower case in them, are no checksum."""
    body = next(b"Q,%d" % n for n in range(10**6) if line(b"Q,%d" % n)[-10:-8] == b"0A")
    sound = line(body)
    for digits in (sound[-10:-2].lower(), b"+" + sound[-9:-2], b"0_" + sound[-8:-2], b" " + sound[-9:-2]):
        _, counts = read(b">" + body + b"*" + digits + b"\r\n")
        assert counts == Counts(lines_damaged=1)
    assert read(sound)[1] == Counts(lines_good=1, unknown_lines=1)


def test_a_lost_line_end_costs_nothing():
    """Two lines without a line end between them are both read."""
    _, counts = read(block().replace(b"\r\n", b"") + data_lines([0, 1]).replace(b"\r\n", b""))

    assert counts == Counts(lines_good=4)


def test_a_line_of_512_bytes_is_read_and_one_more_is_not():
    """The format's longest line is read; one byte more is damaged, though its checksum is good."""
    longest = line("Q," + "x" * 499, end=b"\n")
    longer = line("Q," + "x" * 500, end=b"\n")

    assert (len(longest), len(longer)) == (512, 513)
    assert read(longest)[1] == Counts(lines_good=1, unknown_lines=1)
    assert read(longer)[1] == Counts(lines_damaged=1)


def test_noise_does_not_fill_the_memory():
    """A line that never ends, and junk without a >, leave at most one line in store."""
    reader = Reader()
    for part in (b">" + b"x" * 5000, b"y" * 5000, b"> " + b"z" * 511):
        reader.feed(part)
        assert reader.next_record() is NEED_DATA
        assert len(reader._buffer) <= 512
    assert reader.counts == Counts(lines_damaged=2)


def test_an_unfinished_line_is_damaged_at_the_end():
    """Closing judges what is left: a line without its last digit is damaged."""
    assert read(EXAMPLE[:-3])[1] == Counts(lines_good=8, lines_damaged=1)


@pytest.mark.parametrize("first", [0, 7, 2**32 - 3])
def test_lost_lines_are_the_numbers_never_accepted(first):
    """Numbers between the first and the last accepted one of a boot are lost, across the wrap as well."""
    wire = data_lines((first + n) % 2**32 for n in (0, 1, 4, 5, 9))

    assert read(block() + wire)[1].lines_lost == 5


def test_a_number_that_comes_late_or_twice_is_not_lost():
    """What was accepted at any time is not lost, and what came twice does not make up for it."""
    assert read(block() + data_lines([0, 1, 3, 2, 5]))[1].lines_lost == 1
    assert read(block() + data_lines([0, 1, 1, 1, 5]))[1].lines_lost == 3
    assert read(block() + data_lines([0, 1, 3, 2, 5]))[1].lines_good == 7


def test_marks_and_data_share_their_numbers():
    """A mark has its number in the row of the data lines; one of an unknown kind has too."""
    wire = data_lines([0]) + line("M,1,10,lap") + line("M,2,20,sneeze") + data_lines([3])

    assert read(block() + wire)[1] == Counts(lines_good=6, unknown_lines=1)


def test_wrong_field_counts_are_damaged_and_lost():
    """A data line with more or fewer fields than there are channels is damaged, and its number lost."""
    wire = (
        block(channels=2) + data_lines([0], 2) + data_lines([1], 1) + data_lines([2], 3) + data_lines([3], 2)
    )
    _, counts = read(wire)

    assert counts == Counts(lines_good=5, lines_damaged=2, lines_lost=2)


def test_data_before_the_first_block_are_judged_when_it_comes():
    """Lines before the first whole block are read once it has come, and damaged where they do not fit."""
    records, counts = read(
        data_lines([5]) + line("S,1,x,ready") + data_lines([6], 2) + block() + data_lines([7])
    )

    assert [type(record) for record in records] == [Identity, ChannelLine, Data, State, Data]
    assert [record.seq for record in records if isinstance(record, Data)] == [5, 7]
    assert counts == Counts(lines_good=5, lines_damaged=1, lines_lost=1)


def test_without_a_whole_block_data_stay_unread():
    """Where no whole block ever comes, sound data lines are counted as unread; marks and states come out."""
    hurt_block = block(channels=2)[:-4]
    records, counts = read(hurt_block + data_lines([0, 1], 2) + line("M,3,30,lap") + line("S,1,x,off"))

    assert records == [Mark(3, 30, "lap"), State(1, "x", "off")]
    assert counts == Counts(lines_good=6, lines_damaged=1, lines_lost=1, unread_lines=2)


@pytest.mark.parametrize(
    "broken",
    [
        block(1, 3).replace(b">C,1", b"C,1"),  # one missing
        block(1, 3).replace(b">C,1", b">c,1"),  # one damaged
        block(1, 3).replace(b">C,1", b">>C,1"),  # a false > between
        block(1, 3).replace(b">C,1", GOOD.replace(b",1,", b",0,") + b">C,1"),  # a line between
        block(1, 3).replace(b">C,1", line("Q") + b">C,1"),
        line("I,1,l,1,1,1000,2,1") + line("C,1,b,1") + line("C,0,a,1"),  # out of order
        line("I,1,l,1,1,1000,2,1") + line("C,0,a,1") + line("C,0,a,1"),
        line("C,0,a,1") + line("C,1,b,1") + line("C,2,b,1"),  # its I line missing
    ],
)
def test_a_broken_block_changes_nothing(broken):
    """A block with a line damaged, missing, out of order or foreign leaves the last one in force."""
    records, _ = read(block(1, 1) + data_lines([0]) + broken + data_lines([1]))

    assert records[:3] == read(block(1, 1) + data_lines([0]))[0]
    assert records[-1] == Data(1, 10, (1.5,))
    assert sum(isinstance(record, Identity) for record in records) == 1


def test_an_equal_block_is_silent_and_a_different_one_begins_a_segment():
    """The same block again changes nothing; one with another channel or unit begins a segment."""
    wire = block() + data_lines([0]) + block() + data_lines([1]) + block(unit="kPa") + data_lines([2])
    wire += block(channels=2) + data_lines([3], 2)
    kinds = "".join(type(record).__name__[0] for record in read(wire)[0])

    assert kinds == "ICDDICDICCD"
    assert read(wire)[1] == Counts(lines_good=13)


def test_a_new_boot_is_a_restart_and_loses_nothing():
    """With another boot number the counters begin anew: one restart, nothing lost."""
    wire = block(5) + data_lines([100, 101]) + block(6) + data_lines([0, 1])

    assert read(wire)[1] == Counts(lines_good=8, restarts=1)
    assert seqs_by_boot(wire) == {0: [100, 101], 1: [0, 1]}


def test_a_restart_shows_in_its_identity_line_alone():
    """An I line tells the boot though its block is hurt; the lines behind it wait for the next block."""
    wire = block(5) + data_lines([100]) + block(6)[:-4] + data_lines([0]) + block(6, 1) + data_lines([1])

    assert seqs_by_boot(wire) == {0: [100], 1: [0, 1]}
    assert read(wire)[1] == Counts(lines_good=8, lines_damaged=1, restarts=1)


def test_a_restart_without_its_identity_line_shows_in_the_numbers():
    """Where noise has hit the I line, the number that steps back tells where the new boot began."""
    wire = block(5) + data_lines([100, 101]) + block(6)[1:] + data_lines([0, 1]) + block(6) + data_lines([2])
    records, counts = read(wire)

    assert seqs_by_boot(wire) == {0: [100, 101], 1: [0, 1, 2]}
    assert (counts.restarts, counts.lines_lost) == (1, 0)
    assert sum(isinstance(record, Identity) for record in records) == 2


def test_lines_of_a_boot_that_ended_before_its_block_are_an_own_boot():
    """A port opened just before the logger began anew gives a few lines of an earlier boot: kept apart."""
    wire = data_lines([5000, 5001]) + block(6) + line("S,1,x,ready") + data_lines([0, 1])

    assert seqs_by_boot(wire) == {0: [5000, 5001], 1: [0, 1]}
    assert read(wire)[1] == Counts(lines_good=7, restarts=1)
    assert [boot for boot, record in read_chunks([wire])[0] if isinstance(record, State)] == [1]


def test_numbers_that_step_back_in_one_boot_are_a_repeat():
    """Where the next I line tells the same boot, or none comes, a step back is no restart."""
    for rest in (b"", block()):
        wire = block() + data_lines([5, 6, 4, 7]) + rest
        assert seqs_by_boot(wire) == {0: [5, 6, 4, 7]}
        assert read(wire)[1].restarts == 0


@pytest.mark.parametrize(("device", "seen"), [("logger", [0, 1]), ("other", [])])
def test_a_boot_without_a_whole_block_is_read_by_the_block_before(device, seen):
    """At the end, a boot whose blocks were all hurt is read by the same logger's last block, no other's."""
    wire = block(5) + data_lines([100]) + line(f"I,1,{device},0.1,7,1000,1,6") + data_lines([0, 1])
    _, counts = read(wire)

    assert seqs_by_boot(wire).get(1, []) == seen
    assert counts == Counts(lines_good=6, restarts=1, unread_lines=2 - len(seen))


def test_a_wrapping_tick_is_only_a_number():
    """The clock wraps without a line being hurt or a restart being seen."""
    wire = block() + line(f"D,0,{2**32 - 1},1") + line("D,1,0,1")

    assert read(wire)[1] == Counts(lines_good=4)


def test_unknown_lines_are_kept_and_counted():
    """An unknown kind comes out as it is, and otherwise changes nothing."""
    records, counts = read(block() + line("X,a,,b") + data_lines([0]))

    assert Unknown("X", ("a", "", "b")) in records
    assert counts == Counts(lines_good=4, unknown_lines=1)


def test_a_later_version_does_not_stop_the_reader():
    """After the error about a later version reading may go on behind that line."""
    reader = Reader()
    reader.feed(line("I,3,x") + block())
    with pytest.raises(WireTooNew, match="version 3"):
        reader.next_record()

    assert isinstance(reader.next_record(), Identity)


SOUP = st.lists(
    st.one_of(
        st.binary(max_size=30),
        st.sampled_from(
            [b">", b"*", b",", b"\r\n", b">D,", b">I,1,", b"*00000000", block(), block(2, 2), GOOD]
        ),
        st.text("ICDMS0123456789,.->* ", max_size=20).map(line),
    ),
    max_size=12,
).map(b"".join)


@given(SOUP, st.lists(st.integers(0, 400), max_size=20))
def test_junk_raises_nothing_but_a_later_version(soup, cuts):
    """Any bytes are read to the end, and however they are cut they give the same records and counts."""
    try:
        whole = read_chunks([soup])
    except WireTooNew:
        return

    assert read_chunks(chunks(soup, cuts)) == whole
    assert read_chunks(chunks(soup, range(len(soup)))) == whole


@given(SOUP)
def test_every_byte_is_accounted_for(soup):
    """Each > is a good or a damaged line, and a capture added to a quiet one adds its counts."""
    try:
        _, counts = read(soup)
    except WireTooNew:
        return

    assert counts.lines_good + counts.lines_damaged == soup.count(b">")
    assert counts + Counts() == counts
    assert (counts + counts).junk_bytes == 2 * counts.junk_bytes
