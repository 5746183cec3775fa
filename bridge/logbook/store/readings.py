"""What was seen on the plugs."""

from dataclasses import asdict
from typing import cast

from sqlalchemy import select

from bridge.logbook import tables
from bridge.logbook.store.base import Store, insert, now
from bridge.logbook.store.rows import bike_of, session_row
from bridge.logbook.store.stays import current_readings, nose_of, reading_of, readings_by_stay, stays_of
from bridge.model import Reading, rules
from bridge.model.plug import RING_SD_MM, View
from bridge.model.words import check_all


class Readings(Store):
    """Readings: written down, never written over."""

    def read(  # noqa: PLR0913  # a reading has as many fields as a plug has features
        self,
        label: str,
        *,
        session: int,
        ring: str = "seen",
        ring_mm: float | None = None,
        ring_sd_mm: float | None = None,
        view: str = "magnifier",
        nose_colour: str | None = None,
        base_ring: str | None = None,
        strap_mark: float | None = None,
        specks: str = "not-looked",
        edge: str | None = None,
        glaze: bool | None = None,
        blisters: bool | None = None,
        wet: bool | None = None,
        gap_mm: float | None = None,
        piston_wash: str | None = None,
        note: str | None = None,
    ) -> Reading:
        """Write down what a plug shows after a session.

        A second reading of the same plug for the same session corrects the first one, which stays on record.
        The fields are those of ``Reading``; a ring depth without an uncertainty gets that of its view.

        Args:
            label: of the plug.
            session: the session that it is read for, one that it was in for.
            ring: seen, none, all-dark or not-seen.
            ring_mm: depth from the tip of the nose [mm].
            ring_sd_mm: standard uncertainty of it [mm].
            view: cut or magnifier.
            nose_colour: in words.
            base_ring: in words.
            strap_mark: where the heat mark ends, from the strap's tip (0) to the weld (1).
            specks: none, soot, aluminium or not-looked.
            edge: of the centre electrode: sharp or rounded.
            glaze: seen or not; None where nobody looked.
            blisters: as glaze.
            wet: as glaze.
            gap_mm: electrode gap [mm].
            piston_wash: in words.
            note: anything else.

        Raises:
            UnknownThing: there is no such session.
            BadValue: the plug was not in then, the ring is deeper than the nose, or a value is out of its
                range.
        """
        rules.seen_is_possible(view, specks, strap_mark, edge, gap_mm)
        check_all(
            {"nose colour": nose_colour, "base ring": base_ring, "piston wash": piston_wash, "note": note}
        )
        with self._writing() as connection:
            row = session_row(connection, session)
            bike = bike_of(connection, row.bike_id)
            stays = stays_of(connection)
            stay = rules.stay_to_read(
                label, (row.started, row.id), session, bike.name if bike else None, stays
            )
            rules.ring_is_possible(ring, ring_mm, ring_sd_mm, nose_of(stay.fitting, bike))
            if ring == "seen" and ring_sd_mm is None:
                ring_sd_mm = RING_SD_MM[cast("View", view)]  # seen_is_possible has looked
            earlier = [
                r.id
                for r in readings_by_stay(connection, stays).get(stay.fitting.id, [])
                if r.session_id == session
            ]
            reading = Reading(
                id=0,
                plug=label,
                session=session,
                written=now(),
                ring=ring,  # type: ignore[arg-type]  # this and the next two were held to their words above
                ring_mm=ring_mm,
                ring_sd_mm=ring_sd_mm,
                view=view,  # type: ignore[arg-type]
                nose_colour=nose_colour,
                base_ring=base_ring,
                strap_mark=strap_mark,
                specks=specks,  # type: ignore[arg-type]
                edge=edge,  # type: ignore[arg-type]
                glaze=glaze,
                blisters=blisters,
                wet=wet,
                gap_mm=gap_mm,
                piston_wash=piston_wash,
                note=note,
                corrects=earlier[-1] if earlier else None,
            )
            values = {k: v for k, v in asdict(reading).items() if k not in {"id", "plug", "session"}}
            number = insert(
                connection, tables.readings, fitting_id=stay.fitting.id, session_id=session, **values
            )
        return Reading(**{**asdict(reading), "id": number})

    def readings(self, session: int, *, all_of_them: bool = False) -> list[Reading]:
        """Return the readings for a session in the order in which they were written down.

        Args:
            session: its number.
            all_of_them: also those that a later one corrects.

        Raises:
            UnknownThing: there is no such session.
        """
        r, f = tables.readings, tables.fittings
        with self._reading() as connection:
            session_row(connection, session)
            plugs = {row.id: row.plug for row in connection.execute(select(f.c.id, f.c.plug))}
            rows = connection.execute(select(r).where(r.c.session_id == session).order_by(r.c.id)).all()
            current = {row.id for row in current_readings(connection)}
        return [reading_of(row, plugs[row.fitting_id]) for row in rows if all_of_them or row.id in current]

    def reading(self, plug: str, session: int) -> Reading | None:
        """Return the reading of a plug for a session that no later one corrects; None where there is none.

        Args:
            plug: its label.
            session: number of the session.

        Raises:
            UnknownThing: there is no such session.
        """
        return next((one for one in self.readings(session) if one.plug == plug), None)
