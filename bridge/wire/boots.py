"""Which start of the logger a line belongs to, and which block says what it measures.

A serial line never swaps lines. So there are two signs that the logger began anew: an ``I`` line with
another boot number, and a ``seq`` that steps back. The ``I`` line says it for certain, and comes first at a
start; the step is what is left of it where noise has hit that ``I`` line. The rules:

1. An ``I`` line with another boot number is a restart, whether its block is whole or not.
2. After a step back lines are held until the next ``I`` line. With another boot number they belong to that
   boot; with the same one the logger has repeated itself, and they belong where they came. So they do where
   no ``I`` line comes any more.
3. Lines before the ``I`` line that first told a boot belong to it, unless the first number after it steps
   back: then the logger began anew just there, and they are the end of an earlier boot. (Opening a port
   resets many boards, so a capture often begins with a few lines of a boot that is over.)
4. Lines of a boot without a whole block are held until one comes, of this boot or a later one. If none comes,
   they are read by the block before, if their ``I`` line told the same logger, and else not at all.
"""

from dataclasses import dataclass, replace
from typing import Generic, TypeVar

from bridge.wire.encode import COUNTER_END
from bridge.wire.records import Block, ChannelLine, Identity

Item = TypeVar("Item")


def seq_step(before: int, after: int) -> int:
    """Return how far a 32-bit counter moved, wrapping: from -2**31 to 2**31 - 1."""
    half = COUNTER_END // 2
    return (after - before + half) % COUNTER_END - half


@dataclass(frozen=True, slots=True)
class Placed(Generic[Item]):
    """An item with its boot, counted from 0, and the block that describes it.

    Without an item it says that this block begins to hold. Without a block nobody knows what the item
    measures.
    """

    boot_index: int
    block: Block | None
    item: Item | None


class Boots(Generic[Item]):
    """Takes the accepted lines in order of arrival and gives them back, placed, as soon as that is certain.

    What it holds is not capped: the format promises that lines before their block are read, and only sound
    lines are held, ten seconds' worth from a logger that keeps to the format.
    """

    def __init__(self) -> None:
        self.restarts = 0
        self._placed: list[Placed[Item]] = []
        self._identity: Identity | None = None
        self._block: Block | None = None
        self._block_before: Block | None = None
        self._open: list[ChannelLine] | None = None
        self._last_seq: int | None = None
        self._announced: tuple[int, Block | None] | None = None
        self._held: list[tuple[int, Item]] = []
        # places in _held: where seq stepped back (rule 2), where an I line told the boot (rule 3)
        self._stepped_back: int | None = None
        self._told: int | None = None

    def identity(self, identity: Identity) -> None:
        """Take an ``I`` line."""
        before, self._identity = self._identity, identity
        stepped = self._stepped_back
        restarted = stepped is not None if before is None else identity.boot != before.boot
        if restarted:
            self._restart(at=len(self._held) if stepped is None else stepped)
            self._block, self._block_before = None, self._block or self._block_before
            if stepped is None:
                self._last_seq = self._told = None
        if self._last_seq is not None and (restarted or before is None):
            self._told = len(self._held)
        self._stepped_back = None
        self._settle()
        self._open = []
        self._close_block()

    def channel(self, line: ChannelLine) -> None:
        """Take a ``C`` line; one that is not next in an open block changes nothing."""
        if self._open is None or line.index != len(self._open):
            self._open = None
            return
        self._open.append(line)
        self._close_block()

    def numbered(self, item: Item, first: int, last: int) -> None:
        """Take lines whose ``seq`` goes from first to last and never steps back."""
        self._open = None
        back = self._last_seq is not None and seq_step(self._last_seq, first) < 0
        if self._told is not None:
            if back:
                self._restart(at=self._told)
            self._told = None
        elif back and self._stepped_back is None:
            self._stepped_back = len(self._held)
        self._last_seq = last
        self._held.append((self.restarts, item))
        self._settle()

    def other(self, item: Item) -> None:
        """Take a line without a ``seq``."""
        self._open = None
        self._held.append((self.restarts, item))
        self._settle()

    def damaged(self) -> None:
        """Take note of a damaged line: a block that it stands in changes nothing."""
        self._open = None

    def finish(self) -> None:
        """Place what is held: nothing more will come."""
        self._stepped_back = self._told = None
        before, identity = self._block_before, self._identity
        if self._block is None and before and identity:
            same_logger = replace(before.identity, boot=identity.boot) == identity
            self._block = replace(before, identity=identity) if same_logger else None
        self._release()

    def take_placed(self) -> list[Placed[Item]]:
        """Give up what has been placed so far, in order."""
        placed, self._placed = self._placed, []
        return placed

    def _restart(self, at: int) -> None:
        """Count a restart; what is held from that place on is of the new boot."""
        self.restarts += 1
        self._held[at:] = [(self.restarts, item) for _, item in self._held[at:]]

    def _close_block(self) -> None:
        """Let the open block hold once it is whole."""
        if self._open is None or self._identity is None or len(self._open) < self._identity.channels:
            return
        self._block = Block(self._identity, tuple(self._open))
        self._open = None
        self._settle()

    def _settle(self) -> None:
        if self._block is not None and self._stepped_back is None and self._told is None:
            self._release()

    def _release(self) -> None:
        for boot_index, item in self._held:
            self._announce(boot_index)
            self._placed.append(Placed(boot_index, self._block, item))
        self._held.clear()
        self._announce(self.restarts)

    def _announce(self, boot_index: int) -> None:
        """Say that a block begins to hold, unless it is the one that holds already."""
        if self._block is not None and self._announced != (boot_index, self._block):
            self._announced = (boot_index, self._block)
            self._placed.append(Placed(boot_index, self._block, None))
