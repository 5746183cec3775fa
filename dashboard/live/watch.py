"""One session that somebody looks at: a thread follows its capture, a ring holds the last minute for all tabs."""

import asyncio
import contextlib
import shutil
import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from bridge.bands.chop import Chop, ChopFinder
from bridge.errors import SootlineError
from bridge.link.capture import Note
from bridge.link.notes import Kind, Told, read_note
from bridge.wire import Counts
from dashboard.live import words
from dashboard.live.about import About
from dashboard.live.decoder import Fresh, Moment, Row
from dashboard.live.follower import Follower, before

POLL_S = 0.008
"""The file is looked at this often [s]; looking is one question to the system, reading happens when it grew."""
SHOWN_S = 62.0
"""A tab that begins is given so much [s]: the minute shown and a little."""
_THINNEST_S = 0.008
"""Rows closer together than this are joined in the ring [s]: more than 125 a second no screen shows."""
_SAME_ROW_S = 0.001
"""A row laid on time anew, by another server, may stand this much later [s]; closer rows are joined anyway."""
_LOOK_UP_S = 3.0
"""How often the logbook and the disk are asked [s]."""
_SAME_CHOP_S = 4.0
"""A chop that somebody marked, or the logger's own button, this near to one found is the same [s]."""
_NOTES_KEPT = 200


@dataclass
class _Offer:
    """A chop that was found and nobody has answered."""

    chop: Chop
    answered: bool = False


@dataclass
class _Shared:
    """What the thread writes and the tabs read, under one lock."""

    rows: "deque[Row]" = field(default_factory=deque)
    notes: "deque[tuple[float, Told]]" = field(default_factory=lambda: deque(maxlen=_NOTES_KEPT))
    wire_marks: list[Moment] = field(default_factory=list)
    offers: list[_Offer] = field(default_factory=list)
    counts: Counts = field(default_factory=Counts)
    counted_before: Counts | None = None
    states: dict[str, str] = field(default_factory=dict)
    too_new: str | None = None
    last_line_s: float | None = None
    growth: "deque[tuple[float, int]]" = field(default_factory=lambda: deque(maxlen=20))
    free_bytes: int | None = None
    trouble: str | None = None


class Watch:
    """Follows one session while anybody looks."""

    def __init__(self, about: About, ask: Callable[[], About]) -> None:
        """Begin to follow.

        Args:
            about: the session as the logbook has it now.
            ask: asks the logbook again.
        """
        self.about = about
        self._ask = ask
        self._follower = Follower(about.capture)
        self._chops = ChopFinder()
        self._shared = _Shared()
        self._lock = threading.Lock()
        self.version = 0
        """Rises when the status has changed otherwise than by its counts."""
        self._over = threading.Event()
        self._hurry = threading.Event()
        self._utc_offset: float | None = None
        self._wakers: set[Callable[[], None]] = set()
        self._thread = threading.Thread(target=self._run, name=f"live {about.session.id}", daemon=True)
        self._thread.start()

    # for the tabs

    def close(self) -> None:
        """Stop following."""
        self._over.set()
        self._hurry.set()

    def join(self) -> None:
        """Wait until the thread has ended."""
        self._thread.join(5.0)

    def subscribe(self, loop: asyncio.AbstractEventLoop, event: asyncio.Event) -> Callable[[], None]:
        """Have an event set whenever something is new; returns what ends that."""

        def wake() -> None:
            with contextlib.suppress(RuntimeError):  # the loop was closed meanwhile
                loop.call_soon_threadsafe(event.set)

        self._wakers.add(wake)
        return lambda: self._wakers.discard(wake)

    def rows_since(self, since: float | None) -> list[Row]:
        """Return the rows after a moment, at most the last minute.

        Args:
            since: time of the last row that the tab has [s]; None for the whole minute.
        """
        with self._lock:
            rows = self._shared.rows
            if not rows:
                return []
            start = rows[-1].t - SHOWN_S if since is None else max(rows[-1].t - SHOWN_S, since + _SAME_ROW_S)
            new: list[Row] = []
            for row in reversed(rows):
                if row.t <= start:
                    break
                new.append(row)
        return new[::-1]

    def layout(self, number: int) -> list[dict[str, Any]]:
        """Return what the values of a row stand for."""
        return [column.to_json() for column in self._follower.decoder.layouts[number]]

    def look_again(self) -> None:
        """Ask the logbook at once: something was written."""
        self._hurry.set()

    def dismiss(self, t: float) -> None:
        """Take back the offer of a chop that is none."""
        with self._lock:
            for offer in self._shared.offers:
                if abs(offer.chop.t_s - t) < _SAME_CHOP_S:
                    offer.answered = True
            self.version += 1
        self._notify()

    def utc(self, t: float) -> float | None:
        """Return the UTC of a moment on the arrivals' clock, since 1970 [s]; None while nothing has come.

        It is the first arrival's, so that a computer clock that is set meanwhile moves no mark.
        """
        return None if self._utc_offset is None else t + self._utc_offset

    def status(self) -> dict[str, Any]:
        """Return everything but the rows, as the page wants it."""
        about = self.about
        with self._lock:
            shared = self._shared
            counts = shared.counts + (shared.counted_before or Counts())
            whole = shared.counted_before is not None or self._follower.began_at == 0
            notes, offers = list(shared.notes), [o.chop for o in shared.offers if not o.answered]
            marks = [(m.t, m.what, "wire") for m in shared.wire_marks]
            states, too_new, trouble = shared.states, shared.too_new, shared.trouble
            free, rate = shared.free_bytes, _rate(shared.growth)
        marks = sorted(marks + [(t, what, "hand") for t, what in self._hand_marks()])
        chops = [t for t, what, _ in marks if what == "chop"]
        return {
            **about.to_json(),
            "recording": about.pid is not None,
            "startedAt": self._at(about.session.started.timestamp()),
            "sensors": words.sensor_words(states),
            "lost": counts.lines_lost,
            "damaged": counts.lines_damaged,
            "restarts": counts.restarts,
            "counted": "whole" if whole else "part",
            "disk": None if free is None else words.disk_words(free, rate),
            "troubles": words.troubles([told for _, told in notes], too_new, trouble),
            "events": [words.event(t, told) for t, told in notes if told.kind is not Kind.BEGAN][-6:],
            "marks": [{"t": round(t, 3), "what": what, "by": by} for t, what, by in marks[-200:]],
            "offers": [
                {"t": round(chop.t_s, 3), "rpm": round(chop.rpm), "full": round(chop.full_throttle_s, 1)}
                for chop in offers
                if all(abs(t - chop.t_s) >= _SAME_CHOP_S for t in chops)
            ],
        }

    @property
    def last_line_s(self) -> float | None:
        """When the last good line had come [s]."""
        with self._lock:
            return self._shared.last_line_s

    def _at(self, utc: float) -> float | None:
        """Return a UTC on the arrivals' clock, as ``utc`` does the other way round."""
        return None if self._utc_offset is None else round(utc - self._utc_offset, 3)

    def _hand_marks(self) -> list[tuple[float, str]]:
        found = [(self._at(utc), what) for utc, what in self.about.hand_marks]
        return [(t, what) for t, what in found if t is not None]

    # the thread

    def _run(self) -> None:
        try:
            self._take(*self._follower.open())
            if self._follower.began_at > 0 and self._follower.first is not None:
                until_ns = self._follower.first.monotonic_ns
                threading.Thread(target=self._count_before, args=(until_ns,), daemon=True).start()
            self._follow()
        except (SootlineError, OSError) as error:
            with self._lock:
                self._shared.trouble = str(error)
            self._notify()

    def _follow(self) -> None:
        next_look = 0.0
        while not self._over.is_set():
            if self._follower.grown():
                self._take(*self._follower.poll())
            if self._hurry.is_set() or time.monotonic() >= next_look:
                self._hurry.clear()
                self._look_around()
                next_look = time.monotonic() + _LOOK_UP_S
                self._notify()
            self._hurry.wait(POLL_S)

    def _take(self, fresh: Fresh, notes: tuple[Note, ...]) -> None:
        """Put what came into the ring."""
        if self._utc_offset is None and self._follower.first is not None:
            first = self._follower.first
            self._utc_offset = (first.utc_ns - first.monotonic_ns) / 1e9
        found = [chop for row in fresh.rows if (chop := self._look_for_chop(row)) is not None]
        decoder = self._follower.decoder
        with self._lock:
            shared = self._shared
            new = notes or fresh.marks or found or decoder.states != shared.states
            self.version += bool(new)
            shared.counts, shared.states = decoder.counts, dict(decoder.states)
            shared.too_new, shared.last_line_s = decoder.too_new, decoder.last_line_s
            for row in fresh.rows:
                _add(shared.rows, row)
            while shared.rows and shared.rows[-1].t - shared.rows[0].t > SHOWN_S + 8.0:
                shared.rows.popleft()
            shared.wire_marks = (shared.wire_marks + fresh.marks)[-200:]
            shared.notes.extend(_told(notes))
            shared.offers = (shared.offers + [_Offer(chop) for chop in found])[-5:]
        self._notify()

    def _look_for_chop(self, row: Row) -> Chop | None:
        columns = self._follower.decoder.layouts[row.layout]
        named = {column.name: value for column, value in zip(columns, row.values, strict=True)}
        throttle, rpm = named.get("throttle"), named.get("rpm")
        return self._chops.feed(row.t, None if throttle is False else throttle, None if rpm is False else rpm)

    def _count_before(self, until_ns: int) -> None:
        with contextlib.suppress(SootlineError, OSError):
            found = before(self._follower.path, until_ns)
            if found is None:
                return
            counts, first, notes = found
            if first is not None:
                self._utc_offset = (first.utc_ns - first.monotonic_ns) / 1e9
            with self._lock:
                self._shared.counted_before = counts
                self.version += 1
                had = {t for t, _ in self._shared.notes}
                earlier = [(t, told) for t, told in _told(notes) if t not in had]
                self._shared.notes.extendleft(reversed(earlier))
            self._notify()

    def _look_around(self) -> None:
        """Ask the logbook and the disk; what they refuse is said on the page and asked again."""
        try:
            about = self._ask()
            free = shutil.disk_usage(about.capture.parent).free
            size = about.capture.stat().st_size
            with self._lock:
                self._shared.free_bytes, self._shared.trouble = free, None
                self._shared.growth.append((time.monotonic(), size))
                self.version += about != self.about
                self.about = about
        except (SootlineError, OSError) as error:
            with self._lock:
                self._shared.trouble = str(error)

    def _notify(self) -> None:
        for wake in tuple(self._wakers):
            wake()


def _add(rows: "deque[Row]", row: Row) -> None:
    """Append a row, joined with the last one where the two are too close to be told apart on a screen.

    Joining keeps a slow channel's reading: what the later row leaves empty stands as the earlier one had it.
    """
    if len(rows) >= 2 and row.layout == rows[-1].layout and rows[-1].t - rows[-2].t < _THINNEST_S:
        earlier = rows.pop().values
        values = tuple(b if a is None else a for a, b in zip(row.values, earlier, strict=True))
        row = Row(row.t, row.layout, values)
    rows.append(row)


def _told(notes: tuple[Note, ...]) -> list[tuple[float, Told]]:
    return [(note.monotonic_ns / 1e9, told) for note in notes if (told := read_note(note.text)) is not None]


def _rate(growth: "deque[tuple[float, int]]") -> float:
    if len(growth) < 2:
        return 0.0
    (t0, size0), (t1, size1) = growth[0], growth[-1]
    return (size1 - size0) / (t1 - t0)
