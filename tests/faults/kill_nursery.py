"""Starts recorders that are to be killed: imports once, forks one for each line `CAPTURE PORT` on its input.

Each recorder says `ready PID` once its port is open and then, after each sync, how many bytes are safe.
"""

import os
import sys
import time
from pathlib import Path

from bridge.link import CaptureWriter, disk, open_port, recorder

# so that many syncs happen in the short life of each; the order of writing, syncing and telling is the product's
disk.SYNC_S, disk.GATHER_S, recorder._SLEEP_S = 0.01, 0.003, (0.001, 0.001)


class Telling(CaptureWriter):
    """Says after each sync what it has made safe."""

    def sync(self):
        """Sync, then tell."""
        super().sync()
        say(f"synced {self.bytes_synced}")


def say(words):
    """Put one line into the pipe at once."""
    os.write(1, f"{words}\n".encode())


def live(capture, name):
    """Record until killed."""
    with open_port(name) as port:
        say(f"ready {os.getpid()}")
        recorder.record(port, Telling(Path(capture)), ask=False)


for line in sys.stdin:
    child = os.fork()
    if child == 0:
        try:
            live(*line.split())
        finally:
            time.sleep(60)  # never on with the nursery's own work
            os._exit(1)
    os.waitpid(child, 0)
    say("gone")
