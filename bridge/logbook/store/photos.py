"""Photographs of plugs, and what the tool read off them; the tuner's own reading stands apart and goes first."""

from collections.abc import Mapping
from typing import Any

from sqlalchemy import select

from bridge.logbook import photos, tables
from bridge.logbook.store.base import Store, insert, now
from bridge.logbook.store.rows import bike_of, session_row
from bridge.logbook.store.stays import nose_of, stays_of
from bridge.model import Photo, rules


class Photos(Store):
    """Photographs: only ever added to."""

    def nose_length(self, label: str, session: int) -> float | None:
        """Return the nose length of a plug in a session [mm]: as fitted, else the bike's, else None.

        Raises:
            UnknownThing: there is no such session.
            BadValue: the plug was not in then.
        """
        with self._reading() as connection:
            row = session_row(connection, session)
            bike = bike_of(connection, row.bike_id)
            here = (row.started, row.id)
            stay = rules.stay_to_read(label, here, session, bike.name if bike else None, stays_of(connection))
            return nose_of(stay.fitting, bike)

    def add_photo(  # noqa: PLR0913  # what belongs to one photograph
        self,
        label: str,
        session: int,
        picture: photos.StoredPicture,
        *,
        view: str,
        nose_mm: float,
        tip: tuple[float, float] | None,
        seat: tuple[float, float] | None,
        answer: Mapping[str, Any],
    ) -> Photo:
        """Keep a photograph and what was read off it.

        Args:
            label: of the plug.
            session: the session that it is read for, one that it was in for.
            picture: stripped, see ``bridge.logbook.photos``.
            view: cut or magnifier.
            nose_mm: length of the nose [mm].
            tip: the tuner's tap [px], or None.
            seat: as tip.
            answer: ring, ring_depth_mm, ring_depth_sd_mm, confidence and whatever else was found.

        Raises:
            UnknownThing: there is no such session.
            BadValue: the plug was not in then.
            DiskTrouble: the disk would not take it; nothing was changed.
        """
        with self._writing() as connection:
            row = session_row(connection, session)
            bike = bike_of(connection, row.bike_id)
            here = (row.started, row.id)
            stay = rules.stay_to_read(label, here, session, bike.name if bike else None, stays_of(connection))
            # the file first: a row never names one that is not there
            path = photos.keep(self.folder, session, picture)
            values: dict[str, Any] = {
                "written": now(),
                "file": path.name,
                "sha256": picture.sha256,
                "view": view,
                "nose_mm": nose_mm,
                "document": {"tip": tip, "seat": seat, "answer": dict(answer)},
            }
            number = insert(
                connection, tables.photos, fitting_id=stay.fitting.id, session_id=session, **values
            )
        document = values.pop("document")
        return Photo(number, label, session, **values, **document)

    def photos(self, session: int) -> list[Photo]:
        """Return the photographs for a session in the order in which they were added.

        Raises:
            UnknownThing: there is no such session.
        """
        p, f = tables.photos, tables.fittings
        with self._reading() as connection:
            session_row(connection, session)
            query = (
                select(p, f.c.plug)
                .join(f, f.c.id == p.c.fitting_id)
                .where(p.c.session_id == session)
                .order_by(p.c.id)
            )
            rows = connection.execute(query).all()
        return [
            Photo(
                id=row.id,
                plug=row.plug,
                session=session,
                written=row.written,
                file=row.file,
                sha256=row.sha256,
                view=row.view,
                nose_mm=row.nose_mm,
                tip=_pair(row.document["tip"]),
                seat=_pair(row.document["seat"]),
                answer=row.document["answer"],
            )
            for row in rows
        ]


def _pair(kept: list[float] | None) -> tuple[float, float] | None:
    return None if kept is None else (kept[0], kept[1])
