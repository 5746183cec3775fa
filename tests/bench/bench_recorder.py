"""Recording a terminal at 1000 lines a second: the recorder beside a plain ``readline`` loop, in one run.

    python tests/bench/bench_recorder.py [seconds] [lines a second]

Both readers run in processes of their own, one after the other, on a pseudo-terminal that a third process feeds with
lines of four channels. The plain way opens the port with a timeout, calls ``readline`` and appends each line to
a file with its time, flushing it once a second. Ours is `bridge.link.record` with its finder, watch and disk
thread. CPU is user and system time over the recording alone, memory the largest that was resident.
Goals: at most 2 % of a core and 150 MB at 1000 lines a second.
"""

import json
import os
import subprocess
import sys
import tempfile
import time
import tty
from pathlib import Path

from bridge.wire import ChannelLine, Data, Identity, encode

CHANNELS = (("lambda_1", "1"), ("egt_1", "Cel"), ("rpm", "/min"), ("throttle", "%"))
STEP_S = 0.005

_COMMON = """
import json, os, resource, sys, time
from pathlib import Path
name, path, seconds = sys.argv[1], Path(sys.argv[2]), float(sys.argv[3])

def cpu():
    used = resource.getrusage(resource.RUSAGE_SELF)
    return used.ru_utime + used.ru_stime
"""

_END = """
print(json.dumps(dict(cpu=(cpu() - begun) / seconds, mb=resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
                      bytes=size)))
"""

_OURS = f"""{_COMMON}
from bridge.link import CaptureWriter, PortFinder, open_port, record
writer = CaptureWriter(path)
with open_port(name) as port:
    begun = cpu()
    size = record(port, writer, finder=PortFinder(name), seconds=seconds).bytes
{_END}"""

_PLAIN = f"""{_COMMON}
import serial
size, until, flushed = 0, time.monotonic() + seconds, time.monotonic()
with serial.serial_for_url(name, timeout=0.1) as port, path.open("wb") as file:
    port.write(b"?")
    begun = cpu()
    while time.monotonic() < until:
        line = port.readline()
        size += len(line)
        file.write(b"%.6f " % time.monotonic() + line)
        if time.monotonic() - flushed > 1:
            file.flush()
            os.fsync(file.fileno())
            flushed = time.monotonic()
{_END}"""


def lines(rate):
    """Yield the bytes due in each step, without end."""
    block = encode(Identity(1, "bench-logger", "1", "1", 1_000_000, len(CHANNELS), 1))
    block += b"".join(encode(ChannelLine(i, *channel)) for i, channel in enumerate(CHANNELS))
    due, seq = 0.0, 0
    while True:
        due += rate * STEP_S
        part = bytearray(block if seq % (10 * rate) < rate * STEP_S else b"")
        while seq < due:
            values = (0.8 + seq % 100 / 1000, 580 + seq % 60, 6000 + seq % 900, seq % 1000 / 10)
            part += encode(Data(seq, seq * 1000 % 2**32, values))
            seq += 1
        yield bytes(part)


def measure(script, seconds, rate):
    """Feed a reader for its time; return what it says of itself and how many bytes it was sent."""
    master, slave = os.openpty()
    tty.setraw(slave)
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-c", script, os.ttyname(slave), str(Path(folder) / "out"), str(seconds)]
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as reader:
            while b"?" not in os.read(master, 10):
                pass
            sent, begun, turn = 0, time.monotonic(), 0
            parts = lines(rate)
            while time.monotonic() - begun < seconds - 0.5:
                sent += os.write(master, next(parts))
                turn += 1
                time.sleep(max(0.0, begun + turn * STEP_S - time.monotonic()))
            told = json.loads(reader.communicate()[0])
    os.close(slave)
    os.close(master)
    return told | {"sent": sent}


def main():
    """Print one table."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 20.0
    rate = int(sys.argv[2]) if len(sys.argv) > 2 else 1000
    ours, plain = measure(_OURS, seconds, rate), measure(_PLAIN, seconds, rate)
    print(f"{rate} lines a second for {seconds:g} s")
    print(f"{'':<22}{'CPU of a core':>15}{'memory MB':>12}{'bytes lost':>12}{'CPU, times ours':>17}")
    for name, told in (("recorder", ours), ("plain readline", plain)):
        print(
            f"{name:<22}{told['cpu']:>14.2%} {told['mb']:>11.1f}{told['sent'] - told['bytes']:>12}"
            f"{told['cpu'] / ours['cpu']:>17.1f}"
        )


if __name__ == "__main__":
    main()
