"""Bikes and their engine builds."""

from dataclasses import dataclass

from sqlalchemy import Connection, func, select

from bridge.errors import BadValue, UnknownThing, nearest
from bridge.logbook import tables
from bridge.logbook.store.base import Store, insert, kept, now
from bridge.model import Bike
from bridge.model.words import check_words


@dataclass(frozen=True)
class BikeRow:
    """A bike as it stands now."""

    id: int
    bike: Bike
    build: int


def bike_rows(connection: Connection) -> list[BikeRow]:
    """Return all bikes in the order they were added, each by its newest file."""
    newest = select(func.max(tables.bike_files.c.id)).group_by(tables.bike_files.c.bike_id)
    builds = (
        select(tables.builds.c.bike_id, func.max(tables.builds.c.number).label("build"))
        .group_by(tables.builds.c.bike_id)
        .subquery()
    )
    query = (
        select(tables.bike_files.c.bike_id, tables.bike_files.c.document, builds.c.build)
        .join(builds, builds.c.bike_id == tables.bike_files.c.bike_id)
        .where(tables.bike_files.c.id.in_(newest))
        .order_by(tables.bike_files.c.bike_id)
    )
    return [BikeRow(row.bike_id, kept(Bike, row.document), row.build) for row in connection.execute(query)]


def bike_row(connection: Connection, name: str) -> BikeRow:
    """Return one bike by its name.

    Raises:
        UnknownThing: there is none of that name; the nearest is named.
    """
    found = {row.bike.name: row for row in bike_rows(connection)}
    if name not in found:
        hint = nearest(name, found) or "; add it by 'sootline bike add FILE.toml'"
        raise UnknownThing(f"there is no bike '{name}' in the logbook{hint}")
    return found[name]


class Bikes(Store):
    """Bikes: added, listed, rebuilt."""

    def add_bike(self, bike: Bike) -> None:
        """Add a bike, or take over its corrected file; the earlier one stays on record."""
        with self._writing() as connection:
            t = tables.bikes
            bike_id = connection.execute(select(t.c.id).where(t.c.name == bike.name)).scalar()
            if bike_id is None:
                bike_id = insert(connection, t, name=bike.name)
                connection.execute(
                    tables.builds.insert().values(
                        bike_id=bike_id, number=1, what="as it came", written=now()
                    ),
                )
            document = bike.model_dump(mode="json", exclude_unset=True, by_alias=True)
            connection.execute(
                tables.bike_files.insert().values(bike_id=bike_id, document=document, written=now())
            )

    def bikes(self) -> list[tuple[Bike, int]]:
        """Return all bikes, each with the number of its engine build now."""
        with self._reading() as connection:
            return [(row.bike, row.build) for row in bike_rows(connection)]

    def bike(self, name: str) -> Bike:
        """Return one bike.

        Raises:
            UnknownThing: there is none of that name.
        """
        return self.bike_and_build(name)[0]

    def bike_and_build(self, name: str) -> tuple[Bike, int]:
        """Return one bike and the number of its engine build now.

        Raises:
            UnknownThing: there is none of that name.
        """
        with self._reading() as connection:
            row = bike_row(connection, name)
        return row.bike, row.build

    def rebuilt(self, name: str, what: str) -> int:
        """Begin a new engine build.

        Args:
            name: the bike.
            what: what was changed (head, pipe, porting, compression).

        Returns:
            The number of the new build; sessions that are added from now on belong to it.

        Raises:
            UnknownThing: there is no such bike.
            BadValue: nothing was said, or not in words that can stand.
        """
        if not what.strip():
            raise BadValue("say what was rebuilt, such as 'head' or 'pipe'")
        check_words("rebuild", what)
        with self._writing() as connection:
            row = bike_row(connection, name)
            connection.execute(
                tables.builds.insert().values(bike_id=row.id, number=row.build + 1, what=what, written=now()),
            )
        return row.build + 1
