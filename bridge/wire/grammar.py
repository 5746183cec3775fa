"""The grammar of a body: which bytes are a record, and which make their line damaged.

Strict on purpose: ``int`` and ``float`` also take ``_``, ``+``, blanks, exponents and ``nan``, which no
logger prints, so only what a pattern has let through reaches them.
"""

import re
from collections.abc import Callable

from bridge.errors import WireTooNew
from bridge.wire.encode import COUNTER_END
from bridge.wire.records import (
    MARKS,
    STATES,
    VERSION,
    ChannelLine,
    Data,
    Identity,
    Mark,
    Record,
    State,
    Unknown,
)

_PRINTABLE = re.compile(rb"[ -=?-~]+")  # printable ASCII without >, and * ends a body anyway
_DIGITS = "[0-9]{1,15}"
_NUMBER = r"(?![^,]{16})-?[0-9]+(?:\.[0-9]+)?"  # at most 15 characters up to the comma
_DIGITS_FIELD = re.compile(_DIGITS)
_NUMBER_FIELD = re.compile(_NUMBER)
_DATA_BODY = re.compile(f"D,({_DIGITS}),({_DIGITS})((?:,(?:{_NUMBER})?)*)")


def read_body(body: bytes) -> Record | None:
    """Return what a body says, or None where it is not well formed and its line therefore damaged.

    Whether a `Data` has as many values as there are channels is not judged here: that takes its block.

    Args:
        body: what stands between ``>`` and the first ``*``, its checksum found good.

    Raises:
        WireTooNew: an identity line of a later version of the format.
    """
    if _PRINTABLE.fullmatch(body) is None:
        return None
    kind, *fields = body.decode("ascii").split(",")
    if not kind:
        return None
    read_fields = _KINDS.get(kind)
    return read_fields(fields) if read_fields else Unknown(kind, tuple(fields))


def _data(fields: list[str]) -> Data | None:
    match = _DATA_BODY.fullmatch(",".join(["D", *fields]))
    if match is None:
        return None
    seq, tick = _counter(match[1]), _counter(match[2])
    if seq is None or tick is None:
        return None
    return Data(seq, tick, tuple(float(value) if value else None for value in fields[2:]))


def _mark(fields: list[str]) -> Mark | Unknown | None:
    if len(fields) != 3 or not fields[2]:
        return None
    seq, tick = _counter(fields[0]), _counter(fields[1])
    if seq is None or tick is None:
        return None
    return Mark(seq, tick, fields[2]) if fields[2] in MARKS else Unknown("M", tuple(fields), seq)


def _state(fields: list[str]) -> State | Unknown | None:
    if len(fields) != 3 or not all(fields):
        return None
    tick = _counter(fields[0])
    if tick is None:
        return None
    return State(tick, fields[1], fields[2]) if fields[2] in STATES else Unknown("S", tuple(fields))


def _channel(fields: list[str]) -> ChannelLine | None:
    if len(fields) not in {3, 4} or not all(fields[:3]):
        return None
    index = _whole(fields[0])
    rate = fields[3] if len(fields) == 4 else ""
    if index is None or (rate and _NUMBER_FIELD.fullmatch(rate) is None):
        return None
    if not rate:
        return ChannelLine(index, fields[1], fields[2])
    return ChannelLine(index, fields[1], fields[2], float(rate)) if float(rate) > 0 else None


def _identity(fields: list[str]) -> Identity | None:
    version = _whole(fields[0]) if fields else None
    if not version:
        return None
    if version > VERSION:
        raise WireTooNew(
            f"the logger speaks version {version} of the wire format and this program reads version {VERSION}"
            " only; a later version of this program reads its bytes",
        )
    if len(fields) != 7:
        return None
    ticks_per_second, channels, boot = map(_whole, fields[4:])
    if not ticks_per_second or channels is None or boot is None:
        return None
    return Identity(version, fields[1], fields[2], fields[3], ticks_per_second, channels, boot)


def _whole(field: str) -> int | None:
    return int(field) if _DIGITS_FIELD.fullmatch(field) else None


def _counter(field: str) -> int | None:
    number = _whole(field)
    return number if number is not None and number < COUNTER_END else None


_KINDS: dict[str, Callable[[list[str]], Record | None]] = {
    "I": _identity,
    "C": _channel,
    "D": _data,
    "M": _mark,
    "S": _state,
}
