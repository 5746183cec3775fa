"""Finding a port again that went away, perhaps under another name."""

import os
import queue
import threading
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass

from bridge.errors import PortNotUsable
from bridge.link.disk import Clock
from bridge.link.notes import Kind
from bridge.link.ports import DEFAULT_BAUD, Port, PortInfo, list_ports, open_port

PAUSES_S = (0.5, 1.0, 2.0, 4.0, 5.0)
"""Between two tries; the last one again and again [s]."""
_STEP_S = 0.02
"""How often it is asked, while waiting, whether to wait on [s]."""
_REMIND_S = 60.0
"""The same words are told again so often [s]."""


@dataclass(frozen=True)
class Candidate:
    """A port that may be the one that went away."""

    device: str
    must_prove: bool
    """Whether only the logger's own identity line can show that it is the right one."""


class PortFinder:
    """Knows what there is to know of a port while it is there, so as to find it again.

    Made while the port is plugged in. A USB device is known by its serial number, whatever it is called when it
    comes back. One that has none (and anything that is no USB device) is looked for by its name, and among the
    ports that were not there before; those must prove themselves by the logger's identity.
    """

    def __init__(
        self,
        device: str,
        baud: int = DEFAULT_BAUD,
        *,
        open_one: Callable[[str, int], Port] = open_port,
        list_all: Callable[[], list[PortInfo]] = list_ports,
    ) -> None:
        self.device = device
        self.is_url = "://" in device
        self._baud = baud
        self._open_one = open_one
        self._list_all = list_all
        there = [] if self.is_url else list_all()
        self._known = {info.device for info in there}
        real = os.path.realpath(device)  # a name such as /dev/serial/by-id/... is a link
        self._real = real if real in self._known else device
        self._usb_serial = next((i.serial_number for i in there if i.device == self._real), None)

    def candidates(self) -> list[Candidate]:
        """Return the ports that may be it, the likeliest first.

        Raises:
            PortNotUsable: it is certain that it is not there.
        """
        if self.is_url:
            return [Candidate(self.device, must_prove=False)]
        there = self._list_all()
        if self._usb_serial is None:
            new = [i.device for i in there if i.device not in self._known]
            return [Candidate(self.device, must_prove=False), *(Candidate(d, must_prove=True) for d in new)]
        found = [i.device for i in there if i.serial_number == self._usb_serial]
        if not found:
            raise PortNotUsable(self._not_there(there))
        # cheap adapters share one serial number, so one that was there before beside ours is not believed
        return [
            Candidate(d, must_prove=d != self._real and d in self._known)
            for d in sorted(found, key=lambda d: d != self._real)
        ]

    def open(self, device: str) -> Port:
        """Open one of the candidates; errors as ``open_port``."""
        return self._open_one(device, self._baud)

    def _not_there(self, there: list[PortInfo]) -> str:
        other = any(info.device == self._real for info in there)
        return (
            f"the USB device with serial number {self._usb_serial} is not plugged in"
            f"{f' ({self.device} is another device now)' if other else ''}"
        )


@dataclass(frozen=True)
class Found:
    """An open port, and how it was found."""

    port: Port
    device: str
    must_prove: bool
    """Whether only the logger's own identity line can show that it is the right one."""


class Waiting:
    """Tries again and again to get a port back, with growing pauses."""

    def __init__(self, finder: PortFinder, tell: Callable[[Kind, str], None], clock: Clock) -> None:
        self._finder = finder
        self._tell = tell
        self._clock = clock
        self._step = 0
        self._told: tuple[str, float] = ("", 0.0)
        self._refused: Counter[str] = Counter()

    def refused(self, device: str) -> None:
        """Take note that another logger spoke there: the other candidates come first now, and it must prove itself."""
        self._refused[device] += 1

    def settled(self) -> None:
        """Take note that the port was good for a while: after the next loss the pauses begin small again."""
        self._step = 0

    def get(self, why: str, wait_on: Callable[[], bool]) -> Found | None:
        """Wait until the port is back.

        Args:
            why: what took it away.
            wait_on: asked every few milliseconds; False ends the waiting at once.

        Returns:
            The port, or None where the waiting was ended first.
        """
        while True:
            pause = PAUSES_S[min(self._step, len(PAUSES_S) - 1)]
            self._step += 1
            self._say(f"{why}; trying again in {pause:g} s")
            if not self._pause(pause, wait_on):
                return None
            try:
                candidates = sorted(self._finder.candidates(), key=lambda c: self._refused[c.device])
            except PortNotUsable as error:
                candidates, why = [], str(error)
            for candidate in candidates:
                got = self._try(candidate, wait_on)
                if got is None:
                    return None
                if not isinstance(got, PortNotUsable):
                    self._told = ("", 0.0)
                    once_refused = self._refused[candidate.device] > 0
                    return Found(got, candidate.device, must_prove=candidate.must_prove or once_refused)
                why = str(got)

    def _say(self, words: str) -> None:
        before, when = self._told
        now = self._clock.now_s()
        if words != before or now - when >= _REMIND_S:
            self._tell(Kind.WAITING, words)
            self._told = (words, now)

    def _pause(self, seconds: float, wait_on: Callable[[], bool]) -> bool:
        until = self._clock.now_s() + seconds
        while wait_on():
            if self._clock.now_s() >= until:
                return True
            self._clock.sleep(_STEP_S)
        return False

    def _try(self, candidate: Candidate, wait_on: Callable[[], bool]) -> Port | PortNotUsable | None:
        """Open a port in another thread, since reaching a network address may take seconds."""
        result: queue.SimpleQueue[Port | PortNotUsable] = queue.SimpleQueue()
        given_up = threading.Event()

        def work() -> None:
            try:
                port = self._finder.open(candidate.device)
            except PortNotUsable as error:
                result.put(error)
                return
            if given_up.is_set():
                port.close()
            result.put(port)

        threading.Thread(target=work, name="opening", daemon=True).start()
        while True:
            try:
                return result.get(timeout=_STEP_S)
            except queue.Empty:
                if not wait_on():
                    given_up.set()
                    return None
