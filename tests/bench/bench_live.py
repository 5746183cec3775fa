"""From byte to painted number and trace on the live page, in a real browser.

    python tests/bench/bench_live.py [seconds]

A logger of our own prints 100 lines a second on a pseudo-terminal, each with the moment at which it was written;
``sootline record`` records it, ``sootline serve`` shows it, Chromium paints it. The page tells the moment at which
each row was painted: a message sent from the animation frame that drew it comes back after the paint. Every line
counts, so waiting for the next record, poll, message or frame is in the figures. Both ends read the same clock.
"""

import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import threading
import time
import tty
from pathlib import Path

from playwright.sync_api import sync_playwright

from bridge.logbook import Logbook
from bridge.wire import ChannelLine, Data, Identity, State, encode

RATE_HZ = 100
SETTLE_S = 4.0
CHANNELS = (
    ("lambda_1", "1"),
    ("lambda_2", "1"),
    ("egt_1", "Cel"),
    ("egt_2", "Cel"),
    ("rpm", "/min"),
    ("throttle", "%"),
    ("written", "ms"),
)
LIMITS_MS = {1: 100.0, 4: 200.0}
"""What the 95th percentile may be, by how many times the browser's processor is slowed [ms]."""

HOOK = """start => {
    window.ages = [];
    sootlineLive.painted = rows => {
        const now = performance.timeOrigin + performance.now();
        for (const row of rows) window.ages.push(now - start - row[row.length - 1]);
    };
}"""


class Emitter(threading.Thread):
    """Prints lines with their own moment on a pseudo-terminal, evenly, until stopped."""

    def __init__(self):
        super().__init__(daemon=True)
        self.master, slave = os.openpty()
        tty.setraw(slave)
        self.port, self._slave = os.ttyname(slave), slave
        self.start_ms = time.time() * 1e3
        self.over = threading.Event()

    def run(self):
        """Print."""
        head = [Identity(1, "bench-logger", "1", "1", 1_000_000, len(CHANNELS), 1)]
        head += [ChannelLine(i, name, unit) for i, (name, unit) in enumerate(CHANNELS)]
        head += [State(0, name, "ready") for name, _ in CHANNELS[:2]]
        block = b"".join(map(encode, head))
        begun, seq = time.monotonic(), 0
        while not self.over.is_set():
            wait = begun + seq / RATE_HZ - time.monotonic()
            if wait > 0:
                time.sleep(wait)
            wave = (seq % 200) / 200
            values = (0.87 + 0.1 * wave, 0.89, 600 + 100 * wave, 610.0, 6000 + 3000 * wave, 100 * wave)
            tick = seq * 1_000_000 // RATE_HZ
            line = encode(Data(seq, tick, (*values, round(time.time() * 1e3 - self.start_ms, 3))))
            os.write(self.master, line if seq % (10 * RATE_HZ) else block + line)
            seq += 1


def measure(url, emitter, seconds, slower):
    """Return the ages at painting [ms], with the browser's processor slowed so many times."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--disable-gpu", "--no-sandbox"]
        )
        page = browser.new_page(viewport={"width": 1440, "height": 900})
        page.goto(url + "live")
        page.locator(".live-row").first.wait_for(timeout=30_000)
        page.context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": slower})
        page.evaluate(HOOK, emitter.start_ms)
        time.sleep(SETTLE_S)
        page.evaluate("window.ages.length = 0")
        time.sleep(seconds)
        ages = page.evaluate("window.ages")
        browser.close()
    assert len(ages) > 0.9 * seconds * RATE_HZ, (
        f"only {len(ages)} of {seconds * RATE_HZ:.0f} lines were painted"
    )
    return ages


def main():
    """Print the table; leave with 1 where a limit is missed."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 20.0
    folder = Path(tempfile.mkdtemp(prefix="bench-live-"))
    with Logbook.open(folder, write=True):
        pass
    emitter = Emitter()
    sootline = [sys.executable, "-m", "bridge", "--logbook", str(folder)]
    emitter.start()
    recorder = subprocess.Popen(
        [*sootline, "record", f"--port={emitter.port}", "--json"], stdout=subprocess.PIPE
    )
    server = subprocess.Popen(
        [*sootline, "serve", "--port", "0", "--no-browser"], stdout=subprocess.PIPE, text=True
    )
    try:
        url = next(word for line in server.stdout for word in line.split() if word.startswith("http://"))
        print(
            f"{RATE_HZ} lines a second, {len(CHANNELS)} channels, {seconds:.0f} s each; byte to painted, in ms"
        )
        print(f"{'browser':<20}{'lines':>7}{'p50':>8}{'p95':>8}{'max':>8}{'limit':>8}")
        missed = False
        for slower, limit in LIMITS_MS.items():
            ages = measure(url, emitter, seconds, slower)
            p50, p95 = statistics.median(ages), statistics.quantiles(ages, n=20)[-1]
            name = "as it is" if slower == 1 else f"{slower} times slower"
            print(f"{name:<20}{len(ages):>7}{p50:>8.0f}{p95:>8.0f}{max(ages):>8.0f}{limit:>8.0f}", flush=True)
            missed |= p95 > limit
    finally:
        emitter.over.set()
        for process in (recorder, server):
            process.terminate()
            process.communicate()
        shutil.rmtree(folder)
    sys.exit(1 if missed else 0)


if __name__ == "__main__":
    main()
