"""Decoding a capture: the plain way beside `bridge.wire.decode`, in one run.

    python tests/bench/bench_decode.py [lines]

The plain way splits at line ends, checks each checksum and calls ``float`` in a Python loop; it loses the
good lines that stand behind a lost line end. Absolute times move from machine to machine; the ratio counts.
"""

import random
import statistics
import sys
import time
from zlib import crc32

from bridge.wire import ChannelLine, Data, Identity, decode, encode

CHANNELS = 8
BLOCK_EVERY = 10_000
"""Lines between two blocks: 10 s at 1000 lines a second."""
HURT_SHARE = 0.01
ROUNDS = 5


def make_capture(lines, seed=1):
    """Return the bytes of a ride of so many data lines of eight channels, with a block every ten seconds."""
    rng = random.Random(seed)
    block = encode(Identity(1, "bench-logger", "1", "1", 1_000_000, CHANNELS, 1))
    block += b"".join(encode(ChannelLine(i, f"channel_{i}", "1")) for i in range(CHANNELS))
    parts = []
    for seq in range(lines):
        if seq % BLOCK_EVERY == 0:
            parts.append(block)
        mixture = (rng.randint(700, 1300) / 1000, rng.randint(700, 1300) / 1000)
        heat = (rng.randint(300, 800), rng.randint(300, 800) if seq % 5 == 0 else None)
        engine = (rng.randint(1500, 12_000), rng.randint(0, 1000) / 10)
        values = (*mixture, *heat, *engine, rng.randint(1100, 1450) / 100, rng.randint(9000, 10_500) / 10)
        parts.append(encode(Data(seq, seq * 1000 % 2**32, values)))
    return parts


def hurt(parts, seed=2):
    """Return the bytes with one line in a hundred hurt: a bit flipped, cut short, or its line end lost."""
    rng = random.Random(seed)
    parts = list(parts)
    for n in rng.sample(range(len(parts)), int(len(parts) * HURT_SHARE)):
        part, how = bytearray(parts[n]), rng.random()
        if how < 0.6:
            part[rng.randrange(len(part))] ^= 1 << rng.randrange(8)
        elif how < 0.8:
            del part[rng.randrange(1, len(part)) :]
        else:
            del part[-2:]
        parts[n] = bytes(part)
    return parts


def plain(data):
    """Decode as one would write it down at first; return the rows."""
    rows = []
    for line in data.split(b"\n"):
        body, _, told = line.rstrip(b"\r").removeprefix(b">").partition(b"*")
        try:
            if int(told, 16) != crc32(body):
                continue
        except ValueError:
            continue
        kind, *fields = body.split(b",")
        if kind == b"D" and len(fields) == 2 + CHANNELS:
            values = [float(field) if field else None for field in fields[2:]]
            rows.append((int(fields[0]), int(fields[1]), *values))
    return rows


def ours(data):
    """Decode with the project's own bulk way; return the frame."""
    return decode(data).segments[0].frame


def time_in_turn(ways, data):
    """Run the ways in turn; return the median seconds and the number of rows of each."""
    seconds, rows = {way: [] for way in ways}, {}
    for _ in range(ROUNDS):
        for way in ways:
            begin = time.perf_counter()
            result = way(data)
            seconds[way].append(time.perf_counter() - begin)
            rows[way] = len(result)
            del result
    return [(statistics.median(seconds[way]), rows[way]) for way in ways]


def main():
    """Print one table."""
    lines = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    print(f"{lines:,} lines of {CHANNELS} channels, medians of {ROUNDS}, the two ways in turn")
    print(f"{'capture':<12}{'plain ms':>10}{'ours ms':>10}{'times':>8}{'plain rows':>14}{'our rows':>12}")
    clean = make_capture(lines)
    for name, parts in (("clean", clean), ("1 % hurt", hurt(clean))):
        (slow, slow_rows), (fast, fast_rows) = time_in_turn([plain, ours], b"".join(parts))
        print(
            f"{name:<12}{slow * 1e3:>10,.0f}{fast * 1e3:>10,.0f}{slow / fast:>8.1f}"
            f"{slow_rows:>14,}{fast_rows:>12,}",
        )


if __name__ == "__main__":
    main()
