"""What else can be seen on a plug, and how carefully it may be taken: one table for words, causes and advice.

All of it is common practice, without a published source. Each mark may indicate something and proves nothing.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

from bridge.model import Reading

Hint = Literal["leaner", "richer", "stop"]
"""What a mark may say of the mixture: leaner than it should be, richer, or that all talk of leaner stops."""

STRAP_TIP, STRAP_WELD = 0.35, 0.65
"""A heat mark nearer the tip of the ground strap, or nearer its weld, than these shares of its length is no longer near
the bend; common practice, no source [1]."""


@dataclass(frozen=True)
class Evidence:
    """One row of the table.

    Attributes:
        key: its name in programs.
        shows: what is to be seen, as a tuner calls it.
        may_indicate: what it may mean; goes on from "may indicate".
        direction: what it may say of the mixture; None where it says nothing of it.
        caution: what else looks so, or what not to do about it, a clause without full stop.
        on: whether a reading has it.
        words: what the person wrote of it, for marks that are told in words.
        telling: worth a sentence of its own; the rest is told where everything is asked for.
        status: where it comes from.
    """

    key: str
    shows: str
    may_indicate: str
    direction: Hint | None
    caution: str
    on: Callable[[Reading], bool]
    words: Callable[[Reading], str | None] = lambda _reading: None
    telling: bool = True
    status: str = "common practice"

    @property
    def sentence(self) -> str:
        """The whole row, for a person."""
        return f"{self.shows[0].upper()}{self.shows[1:]} may indicate {self.may_indicate}: {self.caution}."


@dataclass(frozen=True)
class Seen:
    """A row of the table that a reading has."""

    evidence: Evidence
    seen: str
    """What was seen, with the figure or the words that were written down."""

    @property
    def sentence(self) -> str:
        """What was seen and how carefully it may be taken, for a person."""
        return f"{self.seen} may indicate {self.evidence.may_indicate}; {self.evidence.caution}."


EVIDENCE: tuple[Evidence, ...] = (
    Evidence(
        "aluminium",
        "aluminium specks",
        "detonation, which melts them off the piston",
        "stop",
        "stop, do not go leaner, and look inside before it runs again",
        lambda reading: reading.specks == "aluminium",
    ),
    Evidence(
        "blisters",
        "blisters on the nose",
        "overheating: a lean mixture, too much advance, or too hot a plug",
        "stop",
        "go no leaner and advance no further before the cause is found; check the heat range first",
        lambda reading: reading.blisters is True,
    ),
    Evidence(
        "soot",
        "specks of soot",
        "oil, or a rich mixture",
        None,
        "pepper of aluminium looks much like it: look again with a magnifier in bright light",
        lambda reading: reading.specks == "soot",
    ),
    Evidence(
        "glaze",
        "glaze on the nose",
        "deposits that melted in a sudden rise of heat",
        None,
        "a glazed nose leaks current when hot, and the misfire that follows reads lean at the sensor: fit a new"
        " plug before a jet is touched",
        lambda reading: reading.glaze is True,
    ),
    Evidence(
        "wet",
        "wet nose",
        "fuel or oil that did not burn, or a weak spark",
        None,
        "a plug that does not fire is wet with any mixture and reads lean at the sensor: see to the ignition first",
        lambda reading: reading.wet is True,
    ),
    Evidence(
        "strap mark to the weld",
        "strap's heat mark towards the weld",
        "more heat in the strap: the ignition early, or the engine hot",
        None,
        "advance no further on it; the strap's alloy and the heat range move it too",
        lambda reading: reading.strap_mark is not None and reading.strap_mark > STRAP_WELD,
        lambda reading: _share(reading.strap_mark),
    ),
    Evidence(
        "strap mark to the tip",
        "strap's heat mark towards the tip",
        "less heat in the strap: the ignition late, or the engine cool",
        None,
        "no reason to advance by itself; the strap's alloy, the heat range and a short run move it too",
        lambda reading: reading.strap_mark is not None and reading.strap_mark < STRAP_TIP,
        lambda reading: _share(reading.strap_mark),
    ),
    Evidence(
        "strap mark near the bend",
        "strap's heat mark near the bend",
        "the usual ignition timing",
        None,
        "the strap's alloy and the heat range move it, so it holds against plugs of the same type only",
        lambda reading: reading.strap_mark is not None and STRAP_TIP <= reading.strap_mark <= STRAP_WELD,
        lambda reading: _share(reading.strap_mark),
        telling=False,
    ),
    Evidence(
        "rounded edge",
        "rounded edge of the centre electrode",
        "wear, or heat",
        None,
        "on a nearly new plug it is heat: stop and look; it says little where nobody knows how many hours it has run",
        lambda reading: reading.edge == "rounded",
    ),
    Evidence(
        "base ring",
        "base ring",
        "the heat of the chamber, and the mixture at less than full throttle",
        None,
        "oil colours it and fuel washes it off",
        lambda reading: reading.base_ring is not None,
        lambda reading: reading.base_ring,
    ),
    Evidence(
        "nose colour",
        "colour of the nose",
        "the fuel's additives as well as the mixture",
        None,
        "with unleaded fuel the colour alone is no safe guide; the ring is",
        lambda reading: reading.nose_colour is not None,
        lambda reading: reading.nose_colour,
        telling=False,
    ),
    Evidence(
        "piston wash",
        "wash on the piston's crown",
        "how far the fresh charge keeps the crown clean: a wide wash a rich mixture, none a lean one",
        None,
        "it shows all the running since the crown was clean, and oil and fuel move it: never go leaner on it alone",
        lambda reading: reading.piston_wash is not None,
        lambda reading: reading.piston_wash,
    ),
)
"""The most urgent first."""

NEARLY_NEW_S = 7_200.0
"""No electrode wears round and no deposit builds up on a plug that ran for less than this [s]; common practice, no
source."""
_LOOK = "stop, go no leaner and advance no further, and look at timing, heat range and mixture before it runs again"
_ON_NEW = {
    "glaze": (
        "glaze on the nose of a nearly new plug",
        "a sudden rise of heat",
        f"{_LOOK}; a glazed nose leaks current when hot, and the misfire that follows reads lean at the sensor",
    ),
    "rounded edge": (
        "rounded edge of the centre electrode on a nearly new plug",
        "overheating, since there was no time for wear: a lean mixture, too much advance, or too hot a plug",
        _LOOK,
    ),
}


def evidence_of(reading: Reading | None, ran_s: float | None = None) -> tuple[Seen, ...]:
    """Return what a reading shows beside the ring, the most urgent first.

    Args:
        reading: what a person saw; what nobody looked at is no evidence. None where nobody read the plug.
        ran_s: how long an engine ran on the plug since it was new [s]; None where that is not known.
    """
    if reading is None:
        return ()
    rows = [row for row in EVIDENCE if row.on(reading)]
    if ran_s is not None and ran_s < NEARLY_NEW_S:
        # what stops comes first, and a mark of heat on a nearly new plug does
        rows = sorted((_on_new(row) for row in rows), key=lambda row: row.direction != "stop")
    return tuple(_seen(row, reading) for row in rows)


def _on_new(row: Evidence) -> Evidence:
    """Return what a row says of a nearly new plug."""
    if row.key not in _ON_NEW:
        return row
    shows, may_indicate, caution = _ON_NEW[row.key]
    return replace(row, shows=shows, may_indicate=may_indicate, direction="stop", caution=caution)


def stopping(reading: Reading | None, ran_s: float | None = None) -> tuple[Evidence, ...]:
    """Return the marks that stop all talk of leaner with this plug, the most urgent first.

    Args:
        reading: what a person saw; specks that nobody looked for are the rule's matter (``bridge.plug.rules``).
        ran_s: as ``evidence_of``.
    """
    seen = (one.evidence for one in evidence_of(reading, ran_s))
    return tuple(mark for mark in seen if mark.direction == "stop")


def stops_leaner(reading: Reading | None, ran_s: float | None = None) -> str | None:
    """Return why all talk of leaner stops with this plug, a sentence; None where nothing stops it.

    Args:
        reading: as ``stopping``.
        ran_s: as ``evidence_of``.
    """
    marks = stopping(reading, ran_s)
    if reading is None or not marks:
        return None
    return f"{marks[0].key.capitalize()} on plug {reading.plug}: {marks[0].caution}."


def _seen(row: Evidence, reading: Reading) -> Seen:
    words = row.words(reading)
    return Seen(row, row.shows if words is None else f"{row.shows} ({words})")


def _share(mark: float | None) -> str | None:
    return None if mark is None else f"{mark:g} of the way from tip to weld"
