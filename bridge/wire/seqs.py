"""Which numbers of a boot were accepted, and how many between them never were."""

import numpy as np
import numpy.typing as npt

from bridge.wire.boots import seq_step


class AcceptedSeqs:
    """The numbers of one boot, as runs without a gap: memory grows with the gaps and not with the lines.

    Numbers are counted on past 32 bits, so that a wrap is a step like any other.
    """

    def __init__(self) -> None:
        self._runs: list[list[int]] = []

    def add(self, seq: int) -> None:
        """Take the next accepted number [32 bits]."""
        if not self._runs:
            self._runs.append([seq, seq])
            return
        last = self._runs[-1][1]
        step = seq_step(last, seq)
        if step == 1:
            self._runs[-1][1] += 1
        else:
            self._runs.append([last + step, last + step])

    def add_all(self, seqs: npt.NDArray[np.uint32]) -> None:
        """Take many accepted numbers in order of arrival."""
        # differences of uint32 wrap as the counter does
        begins = np.concatenate([[0], np.flatnonzero(np.diff(seqs) != 1) + 1])[: len(seqs)]
        sizes = np.diff(begins, append=len(seqs))
        for first, size in zip(seqs[begins].tolist(), sizes.tolist(), strict=True):
            self.add(first)
            self._runs[-1][1] += size - 1

    def lost(self) -> int:
        """Return how many numbers between the lowest and the highest were never accepted."""
        lost = 0
        end: int | None = None
        for first, last in sorted(self._runs):
            if end is not None:
                lost += max(0, first - end - 1)
            end = last if end is None else max(end, last)
        return lost
