"""Records to bytes: one line each, as a logger prints it."""

import math
import re
from collections.abc import Sequence
from zlib import crc32

from bridge.errors import BadValue
from bridge.wire.records import MARKS, STATES, VERSION, ChannelLine, Data, Identity, Mark, Record, State

LINE_BYTES = 512
"""The longest line that the format allows, line end included."""
NUMBER_CHARS = 15
"""The longest number that the format allows; so many digits a float64 carries exactly."""
COUNTER_END = 2**32
"""``seq`` and ``tick`` are 32-bit counters."""

_TEXT = re.compile(r"[ -)+-+\--=?-~]*")  # printable ASCII without * , >
_DECIMALS = 6


def encode(record: Record) -> bytes:
    """Return the line that carries a record, from ``>`` to CR LF.

    Args:
        record: one record; a data value is written with at most 6 decimals and 15 characters, which rounds
            it, and None leaves its field empty.

    Raises:
        BadValue: the format cannot carry it: a text with ``,`` ``*`` ``>`` or not printable, a counter
            beyond 32 bits, a value that is not finite or too large, a line over 512 bytes.
    """
    body = ",".join(_fields(record)).encode("ascii")
    line = b">%b*%08X\r\n" % (body, crc32(body))
    if len(line) > LINE_BYTES:
        raise BadValue(f"a line of {len(line)} bytes does not fit the wire format; keep it to {LINE_BYTES}")
    return line


def _fields(record: Record) -> list[str]:
    match record:
        case Data(seq, tick, values):
            return ["D", _counter("seq", seq), _counter("tick", tick), *map(_value, values)]
        case Mark(seq, tick, what):
            return ["M", _counter("seq", seq), _counter("tick", tick), _one_of("mark", what, MARKS)]
        case State(tick, part, state):
            return ["S", _counter("tick", tick), _name("part", part), _one_of("state", state, STATES)]
        case ChannelLine(index, name, unit, rate):
            told = [] if rate is None else [_rate(rate)]
            return ["C", _whole("index", index), _name("channel name", name), _name("unit", unit), *told]
        case Identity():
            return _identity(record)
        case _:
            return [_name("kind", record.kind), *(_text("field", field) for field in record.fields)]


def _identity(record: Identity) -> list[str]:
    if record.version != VERSION:
        raise BadValue(f"this program writes version {VERSION} of the wire format, not {record.version}")
    if record.ticks_per_second < 1:
        raise BadValue(f"a clock of {record.ticks_per_second} ticks a second does not run; give at least 1")
    return [
        "I",
        str(record.version),
        _text("device", record.device),
        _text("firmware", record.firmware),
        _text("serial", record.serial),
        _whole("ticks per second", record.ticks_per_second),
        _whole("channels", record.channels),
        _whole("boot", record.boot),
    ]


def _value(value: float | None) -> str:
    """Write one reading: empty for None, else plain decimal digits."""
    if value is None:
        return ""
    if not math.isfinite(value):
        raise BadValue(f"the wire format cannot carry the value {value}; use None for no valid reading")
    written = f"{value:.{_DECIMALS}f}"
    if len(written) > NUMBER_CHARS:
        decimals = max(0, NUMBER_CHARS - written.index(".") - 1)
        written = f"{value:.{decimals}f}"
    if "." in written:
        written = written.rstrip("0").rstrip(".")
    if len(written) > NUMBER_CHARS:
        raise BadValue(f"the value {value} has more than {NUMBER_CHARS} characters; scale its unit")
    return "0" if written == "-0" else written


def _rate(rate: float) -> str:
    written = _value(rate)
    if float(written) <= 0:
        raise BadValue(f"a channel with {rate} readings a second gives none; leave the rate out instead")
    return written


def _whole(what: str, number: int) -> str:
    if not 0 <= number < 10**NUMBER_CHARS:
        raise BadValue(f"the {what} {number} does not fit; use a whole number of 1 to {NUMBER_CHARS} digits")
    return str(number)


def _counter(what: str, number: int) -> str:
    if not 0 <= number < COUNTER_END:
        raise BadValue(f"the {what} {number} does not fit 32 bits; let the counter wrap at {COUNTER_END}")
    return str(number)


def _text(what: str, text: str) -> str:
    if _TEXT.fullmatch(text) is None:
        raise BadValue(
            f"the {what} {text!r} holds a comma, '*', '>' or a character that is not printable ASCII"
        )
    return text


def _name(what: str, text: str) -> str:
    if not text:
        raise BadValue(f"the {what} is empty; give it at least one character")
    return _text(what, text)


def _one_of(what: str, word: str, known: Sequence[str]) -> str:
    if word not in known:
        raise BadValue(f"'{word}' is no {what} of the wire format; use one of {', '.join(known)}")
    return word
