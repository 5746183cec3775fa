"""How often a PIN may be tried: counted for each address and over all. Pure; the clock is handed in.

Each address has five tries, then waits that double from half a minute to a quarter of an hour. Over all
addresses there are thirty tries at once and then one in ten seconds, so whoever has very many addresses gets
under 9,000 a day: less than one in ten thousand of the PINs of eight digits. An address that has been let in
before does not share in that, so a stranger cannot keep it out; this machine itself never comes here. The limits
are ours (no source); the reckoning is in the tests.
"""

from collections import OrderedDict
from dataclasses import dataclass
from ipaddress import IPv6Address, IPv6Network
from typing import Final

from dashboard.gate.knock import Address

FREE: Final = 5
FIRST_WAIT_S: Final = 30.0
LONGEST_WAIT_S: Final = 900.0
FORGET_S: Final = 86_400.0
AT_ONCE: Final = 30.0
BACK_EVERY_S: Final = 10.0
MOST_ADDRESSES: Final = 4096
MOST_KNOWN: Final = 256


@dataclass(frozen=True)
class _Record:
    wrong: int
    until: float
    last: float


def who(address: Address | None) -> str:
    """Return what an address counts as: IPv6 by its /64, since a device has all of it; the unknown as one."""
    if isinstance(address, IPv6Address):
        return str(IPv6Network((int(address) >> 64 << 64, 64)))
    return str(address)


def pause(wrong: int) -> float:
    """Return how long an address waits after so many wrong tries [s]."""
    if wrong < FREE:
        return 0.0
    doublings = min(wrong - FREE, 16)
    return float(min(LONGEST_WAIT_S, FIRST_WAIT_S * 2**doublings))


class Tries:
    """The counts; bounded, the address that has been quiet the longest going first.

    An address that is forgotten for want of room has five tries again, but each still costs one of those over all.
    """

    def __init__(self) -> None:
        self.wrong = 0
        """Tries judged and not let in, since the start."""
        self.turned_away = 0
        """Tries not even judged, since the start."""
        self._records: OrderedDict[str, _Record] = OrderedDict()
        self._known: OrderedDict[str, None] = OrderedDict()
        self._left = AT_ONCE
        self._at: float | None = None

    def __len__(self) -> int:
        return len(self._records)

    def wait(self, address: Address | None, now: float) -> float:
        """Return how long until this address may try [s]; 0 is now."""
        key = who(address)
        record = self._records.get(key)
        own = max(0.0, record.until - now) if record else 0.0
        return own if key in self._known else max(own, self._wait_of_all(now))

    def begin(self, address: Address | None, now: float) -> float:
        """Ask for one try; it counts as wrong until `right` says otherwise, so many at once gain nothing.

        Args:
            address: who tries.
            now: a clock that only goes forward [s].

        Returns:
            0 where it may be judged; else how long to wait [s], and nothing was counted.
        """
        wait = self.wait(address, now)
        if wait > 0.0:
            self.turned_away += 1
            return wait
        key = who(address)
        if key not in self._known:
            self._left -= 1.0
        before = self._records.pop(key, None)
        wrong = 1 + (before.wrong if before and now - before.last < FORGET_S else 0)
        self._records[key] = _Record(wrong, now + pause(wrong), now)
        _cut(self._records, MOST_ADDRESSES)
        self.wrong += 1
        return 0.0

    def right(self, address: Address | None) -> None:
        """Take back the try just begun: it was right."""
        key = who(address)
        self.wrong -= 1
        if key not in self._known:
            self._left = min(AT_ONCE, self._left + 1.0)
        self._records.pop(key, None)
        self._known.pop(key, None)
        self._known[key] = None
        _cut(self._known, MOST_KNOWN)

    def start_anew(self) -> None:
        """Forget what was counted against a PIN that is no more; who was let in stays known."""
        self._records.clear()
        self._left, self._at = AT_ONCE, None

    def _wait_of_all(self, now: float) -> float:
        if self._at is not None:
            self._left = min(AT_ONCE, self._left + max(0.0, now - self._at) / BACK_EVERY_S)
        self._at = now if self._at is None else max(now, self._at)
        return 0.0 if self._left >= 1.0 - 1e-9 else (1.0 - self._left) * BACK_EVERY_S


def _cut(table: "OrderedDict[str, _Record] | OrderedDict[str, None]", most: int) -> None:
    while len(table) > most:
        table.popitem(last=False)
