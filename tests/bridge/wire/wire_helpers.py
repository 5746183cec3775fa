"""What the tests of the wire share: lines of any body, blocks, and a reader run to its end."""

from collections.abc import Iterable, Sequence
from itertools import pairwise
from zlib import crc32

from bridge.wire import NEED_DATA, ChannelLine, Counts, Identity, Reader, Record, encode

# the example that the description of the format gives
EXAMPLE = (
    b">I,1,bench-logger,0.3,0007,1000000,4,812*0FF2BA0F\r\n"
    b">C,0,lambda_1,1*6313033E\r\n"
    b">C,1,egt_1,Cel,5*5C7FDCCF\r\n"
    b">C,2,rpm,/min*AC407E20\r\n"
    b">C,3,throttle,%*703CFBF9\r\n"
    b">S,1200345,lambda_1,ready*B0031845\r\n"
    b">D,0,1210345,0.874,588,6120,42.5*1A5724D9\r\n"
    b">D,1,1220345,0.871,,6135,42.5*31F783D1\r\n"
    b">M,2,1221000,lap*3A194371\r\n"
)


def line(body: str | bytes, end: bytes = b"\r\n") -> bytes:
    """Return any body as a line with a good checksum."""
    raw = body.encode() if isinstance(body, str) else body
    return b">%b*%08X%b" % (raw, crc32(raw), end)


def block(boot: int = 1, channels: int = 1, unit: str = "1") -> bytes:
    """Return a whole block."""
    lines = [encode(Identity(1, "logger", "0.1", "7", 1000, channels, boot))]
    lines += [encode(ChannelLine(i, f"channel_{i}", unit)) for i in range(channels)]
    return b"".join(lines)


def data_lines(seqs: Iterable[int], values: int = 1) -> bytes:
    """Return data lines of these numbers; the tick is ten times the number."""
    return b"".join(line(",".join(["D", str(n), str(n * 10 % 2**32), *["1.5"] * values])) for n in seqs)


def chunks(data: bytes, cuts: Iterable[int]) -> list[bytes]:
    """Cut bytes at these places."""
    places = sorted({0, len(data), *(cut for cut in cuts if cut <= len(data))})
    return [data[first:end] for first, end in pairwise(places)]


def read_chunks(parts: Iterable[bytes]) -> tuple[list[tuple[int, Record]], Counts]:
    """Run a reader to its end; return what it gave, each record with its boot, and the counts."""
    reader = Reader()
    got: list[tuple[int, Record]] = []

    def drain() -> None:
        while (record := reader.next_record()) is not NEED_DATA:
            got.append((reader.boot_index, record))

    for part in parts:
        reader.feed(part)
        drain()
    reader.close()
    drain()
    return got, reader.counts


def read(data: bytes) -> tuple[list[Record], Counts]:
    """Read all at once, without the boots."""
    got, counts = read_chunks([data])
    return [record for _, record in got], counts


def seqs_by_boot(data: bytes) -> dict[int, Sequence[int]]:
    """Return the numbers of the data lines read, by boot."""
    found: dict[int, list[int]] = {}
    for boot, record in read_chunks([data])[0]:
        if type(record).__name__ == "Data":
            found.setdefault(boot, []).append(record.seq)
    return found
