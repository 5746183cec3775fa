"""What the readings of a bike show that stops all talk of leaner, over its sessions."""

from collections.abc import Sequence
from dataclasses import dataclass

from bridge.model import PlugLife, Reading
from bridge.plug.evidence import stopping
from bridge.plug.hours import with_ran


@dataclass(frozen=True)
class Stop:
    """A mark that stops all talk of leaner, until a later reading of its cylinder takes it back.

    Attributes:
        session: number of the session that it was read after.
        cylinder: from 1; None where the plugs' order was lost, so that nobody knows whose it is.
        plug: its label.
        mark: name of the mark, as a row of the evidence has it.
        says: what it is and what to do, a sentence.
    """

    session: int
    cylinder: int | None
    plug: str
    mark: str
    says: str

    @property
    def sentence(self) -> str:
        """Where and what, for a person."""
        where = (
            "order lost, it may be of any cylinder" if self.cylinder is None else f"cylinder {self.cylinder}"
        )
        return f"Session {self.session}, {where}: {self.says[0].lower()}{self.says[1:]}"


def stops_after(before: Sequence[Stop], session: int, lives: Sequence[PlugLife]) -> tuple[Stop, ...]:
    """Return what stops after a session: a newer reading of a cylinder replaces what it looked at again.

    Args:
        before: what stopped before it.
        session: its number.
        lives: its plugs; a cylinder that was not read keeps what its last reading showed, and so does one that was read
            without a look at the mark.
    """
    read = [(life, life.reading) for life in map(with_ran, lives) if life.reading is not None]
    known = {life.fitting.cylinder: reading for life, reading in read if not life.fitting.order_lost}
    every = known.keys() >= {life.fitting.cylinder for life in lives}
    found = [
        Stop(
            session,
            None if life.fitting.order_lost else life.fitting.cylinder,
            life.fitting.plug,
            mark.key,
            f"{mark.key.capitalize()} on plug {life.fitting.plug}: {mark.caution}.",
        )
        for life, reading in read
        for mark in stopping(reading, life.ran_s)
    ]
    return (*(stop for stop in before if not _taken_back(stop, known, every=every)), *found)


def _taken_back(stop: Stop, known: dict[int, Reading], *, every: bool) -> bool:
    """Return whether a session's readings of known cylinders looked again at what stopped."""
    if stop.cylinder is not None:
        return stop.cylinder in known and _looked(known[stop.cylinder], stop.mark)
    return every and bool(known) and all(_looked(reading, stop.mark) for reading in known.values())


def _looked(reading: Reading, mark: str) -> bool:
    """Return whether a reading says anything of a mark."""
    return {
        "aluminium": reading.specks != "not-looked",
        "blisters": reading.blisters is not None,
        "glaze": reading.glaze is not None,
        "rounded edge": reading.edge is not None,
    }[mark]
