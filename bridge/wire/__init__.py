"""The wire format: bytes to records and back, with no port, thread or clock."""

from bridge.wire.bulk import Decoded, Segment, decode
from bridge.wire.encode import encode
from bridge.wire.reader import NEED_DATA, Reader
from bridge.wire.records import (
    MARKS,
    STATES,
    VERSION,
    Block,
    ChannelLine,
    Counts,
    Data,
    Identity,
    Mark,
    Record,
    State,
    Unknown,
)

__all__ = [
    "MARKS",
    "NEED_DATA",
    "STATES",
    "VERSION",
    "Block",
    "ChannelLine",
    "Counts",
    "Data",
    "Decoded",
    "Identity",
    "Mark",
    "Reader",
    "Record",
    "Segment",
    "State",
    "Unknown",
    "decode",
    "encode",
]
