"""The whole life of a plug: put in the box, cleaned, scrapped, and all that happened to it told in order."""

import re
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, get_args

from sqlalchemy import Connection, Row, select

from bridge.errors import BadValue, UnknownThing, nearest
from bridge.logbook import tables
from bridge.logbook.store.base import Store
from bridge.logbook.store.bikes import bike_row, bike_rows
from bridge.logbook.store.rows import positions
from bridge.logbook.store.stays import (
    FOUND,
    labels_of,
    lived_through,
    nose_of,
    notes_of,
    readings_by_stay,
    sealed_sessions,
    stays_of,
    told_in,
    type_of,
    where,
    write_note,
    write_pull,
)
from bridge.model import Bike, PlugEvent, PlugStory, rules
from bridge.model.plug import Happened
from bridge.model.stay import Position, Stay
from bridge.model.words import check_all

_ORDER: tuple[str, ...] = get_args(Happened)


class Stories(Store):
    """Plugs from the box to the bin."""

    def new_plugs(self, labels: Sequence[str], note: str | None = None) -> list[PlugStory]:
        """Put new plugs into the box, so that their labels are known before they are fitted; all of them or none.

        Raises:
            BadValue: a label cannot stand, or is taken or nearly so.
        """
        with self._writing() as connection:
            for label in labels:
                check_all({"label": label, "note": note})
                rules.label_is_free(label, labels_of(connection))
                write_note(connection, label, "new", None, note)
        return [self.plug_story(label) for label in labels]

    def clean(self, label: str, note: str | None = None, *, session: int | None = None) -> PlugStory:
        """Write down that a plug was cleaned, so that it goes in again as cleaned.

        Args:
            label: of the plug.
            note: how.
            session: pull it first, after this session, where it is still in.

        Raises:
            UnknownThing: there is no such plug or session.
            BadValue: it is in an engine, or was scrapped.
        """
        return self._out_of_engine(label, "cleaned", note, session)

    def scrap(
        self, label: str, note: str | None = None, *, session: int | None = None, take_back: bool = False
    ) -> PlugStory:
        """Write down that a plug was scrapped: it is never fitted again, and all that was read on it stays.

        Args:
            label: of the plug.
            note: why.
            session: pull it first, after this session, where it is still in.
            take_back: it was not scrapped after all.

        Raises:
            UnknownThing: there is no such plug or session.
            BadValue: it is in an engine, was scrapped already, or is to be taken back and was not.
        """
        if take_back:
            return self._out_of_engine(label, "kept", note, None)
        return self._out_of_engine(label, "scrapped", note, session)

    def _out_of_engine(self, label: str, what: Happened, note: str | None, session: int | None) -> PlugStory:
        check_all({"note": note})
        with self._writing() as connection:
            _known(connection, label)
            told = told_in(notes_of(connection).get(label, []))
            if told.scrapped != (what == "kept"):
                has = f"was {'scrapped already' if told.scrapped else 'not scrapped'}"
                raise BadValue(
                    f"plug {label} {has}, so it cannot be {'taken back' if what == 'kept' else what}"
                )
            stays = [stay for stay in stays_of(connection) if stay.fitting.plug == label]
            last = max(stays, key=lambda stay: stay.fitted, default=None)
            after = None if last is None else last.fitting.pulled
            if last is not None and last.pulled is None:
                if session is None:
                    raise BadValue(f"plug {label} is in {last.in_words()}; pull it first")
                here, bike = where(connection, session)
                stay = rules.stay_to_pull(label, here, bike, stays)
                after = write_pull(connection, stay, session).pulled
            write_note(connection, label, what, after, note)
        return self.plug_story(label)

    def plug_story(self, label: str, bike: str | None = None) -> PlugStory:
        """Return all that happened to a plug; how long it ran is left for who can reckon with samples.

        Args:
            label: of the plug.
            bike: only what happened to it in this bike; None for all.

        Raises:
            UnknownThing: there is no such plug, or no such bike.
        """
        with self._reading() as connection:
            if bike is not None:
                bike_row(connection, bike)
            _known(connection, label)
            return _story(_all_told(connection), label, bike)

    def plugs(self, bike: str | None = None) -> list[PlugStory]:
        """Return every plug that there is: first those that are in by their cylinder, then the box, then the bin.

        Args:
            bike: only those that ever were in this bike; None for all.

        Raises:
            UnknownThing: there is no such bike.
        """
        with self._reading() as connection:
            if bike is not None:
                bike_row(connection, bike)
            told = _all_told(connection)
        fitted = {stay.fitting.plug for stay in told.stays if bike is None or stay.bike == bike}
        labels = fitted | (set(told.notes) if bike is None else set())
        stories = [_story(told, label, bike) for label in labels]
        return sorted(stories, key=_rank)


def _rank(story: PlugStory) -> tuple[int, str, str, list[str]]:
    place = 0 if story.state.startswith("in cyl") else 2 if story.state == "scrapped" else 1
    # as a person counts: S2 before S10
    label = [part.zfill(12) if part.isdigit() else part for part in re.split(r"([0-9]+)", story.label)]
    return place, story.bike or "" if place == 0 else "", story.state if place == 0 else "", label


def _known(connection: Connection, label: str) -> None:
    known = labels_of(connection)
    if label not in known:
        raise UnknownThing(f"there is no plug {label} in the tray{nearest(label, known) or '; fit it first'}")


@dataclass(frozen=True)
class _Told:
    """All that was ever told of plugs, as one transaction sees it."""

    stays: list[Stay]
    readings: dict[int, list[Row[Any]]]
    notes: dict[str, list[Row[Any]]]
    corrections: dict[int, list[Row[Any]]]
    at: dict[int, Position]
    bikes: dict[str, Bike]
    sealed: list[tuple[Position, str | None]]


def _all_told(connection: Connection) -> _Told:
    stays = stays_of(connection)
    corrections: dict[int, list[Row[Any]]] = defaultdict(list)
    for row in connection.execute(
        select(tables.fitting_corrections).order_by(tables.fitting_corrections.c.id)
    ):
        corrections[row.fitting_id].append(row)
    return _Told(
        stays=stays,
        readings=readings_by_stay(connection, stays),
        notes=notes_of(connection),
        corrections=corrections,
        at=positions(connection),
        bikes={row.bike.name: row.bike for row in bike_rows(connection)},
        sealed=sealed_sessions(connection),
    )


def _story(told: _Told, label: str, bike: str | None) -> PlugStory:
    stays = [s for s in told.stays if s.fitting.plug == label and (bike is None or s.bike == bike)]
    stays.sort(key=lambda stay: stay.fitted)
    last = stays[-1] if stays else None
    its = None if last is None or last.bike is None else told.bikes.get(last.bike)
    events = sorted(_events(told, label, stays), key=lambda pair: pair[0])
    return PlugStory(
        label=label,
        type=None if last is None else type_of(last.fitting, its),
        nose_mm=None if last is None else nose_of(last.fitting, its),
        events=tuple(event for _, event in events),
        state=_state(told, label),
        readings=sum(len(told.readings.get(stay.fitting.id, [])) for stay in stays),
        bike=None if last is None else last.bike,
        sessions=lived_through(told.sealed, stays),
    )


def _state(told: _Told, label: str) -> str:
    mine = [stay for stay in told.stays if stay.fitting.plug == label]
    inside = next((stay for stay in mine if stay.pulled is None), None)
    notes = told_in(told.notes.get(label, []))
    if inside is not None:
        return f"in cylinder {inside.fitting.cylinder}"
    if notes.scrapped:
        return "scrapped"
    return "new" if notes.new and not mine else "in the box"


_Key = tuple[datetime, int, int, int]
"""Where an event stands: its session's place in time, its place in that session, its number."""


def _events(told: _Told, label: str, stays: list[Stay]) -> Iterator[tuple[_Key, PlugEvent]]:
    """Give each event of a plug with where it stands."""

    def event(
        what: Happened, session: int, cylinder: int | None, words: str, number: int
    ) -> tuple[_Key, PlugEvent]:
        here = told.at[session]
        return (*here, _ORDER.index(what), number), PlugEvent(what, session, here[0], cylinder, words)

    for stay in stays:
        f = stay.fitting
        cylinder = None if f.order_lost else f.cylinder
        of = f" of {stay.bike}" if stay.bike else ""
        yield event("fitted", f.fitted, cylinder, f"into cylinder {f.cylinder}{of}, {f.state}", f.id)
        for row in told.corrections.get(f.id, []):
            if row.why != FOUND:  # the order found tells of itself
                words = f"was in cylinder {row.cylinder}; first written down in {stay.written}: {row.why}"
                yield event("mixed up", f.fitted, row.cylinder, words, row.id)
        for row in told.readings.get(f.id, []):
            yield event("read", row.session_id, cylinder, _seen(row), row.id)
        if f.pulled is not None:
            out = (
                "out, and nobody knows of which cylinder" if f.order_lost else f"out of cylinder {f.cylinder}"
            )
            yield event("pulled", f.pulled, cylinder, out, f.id)
    for row in told.notes.get(label, []):
        words = (
            f"changed places with plug {row.note}" if row.what == "swapped" else row.note or _NOTES[row.what]
        )
        if row.session_id is None:  # it was in no engine yet
            key = (datetime.min.replace(tzinfo=UTC), 0, _ORDER.index(row.what), row.id)
            yield key, PlugEvent(row.what, None, row.written, None, words)
            continue
        here = next((stay.fitting for stay in stays if stay.covers(told.at[row.session_id])), None)
        if here is not None:  # else it happened in another bike than was asked for
            yield event(row.what, row.session_id, None if here.order_lost else here.cylinder, words, row.id)


_NOTES: dict[str, str] = {
    "new": "put in the box, new",
    "order lost": "the tray was upset: nobody knows any more which cylinder it was in",
    "order found": "somebody knows again which cylinder it was in",
    "cleaned": "cleaned",
    "scrapped": "scrapped",
    "kept": "not scrapped after all",
}


def _seen(row: Row[Any]) -> str:
    """Return what a reading says of the ring."""
    words = {
        "none": "no ring",
        "all-dark": "dark all over",
        "not-seen": "the ring could not be seen",
        "seen": f"ring at {row.ring_mm or 0.0:g} mm from the tip",
    }
    specks = f", {row.specks} specks" if row.specks in {"soot", "aluminium"} else ""
    return f"{words[row.ring]}{specks}"
