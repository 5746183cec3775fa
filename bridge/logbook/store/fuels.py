"""The tuner's own fuels."""

from sqlalchemy import Connection, func, select

from bridge.errors import UnknownThing, nearest
from bridge.logbook import tables
from bridge.logbook.store.base import Store, insert, kept, now
from bridge.model import OwnFuel, Setup
from bridge.model.fuel import is_built_in
from bridge.physics.fuel import fuel_names


def own_fuels(connection: Connection) -> dict[str, OwnFuel]:
    """Return the fuels that were added, by their names in small letters; the newest of a name counts."""
    f = tables.fuels.c
    newest = select(func.max(f.id)).group_by(f.name)
    rows = connection.execute(select(f.name, f.document).where(f.id.in_(newest)).order_by(f.name))
    return {row.name: kept(OwnFuel, row.document) for row in rows}


def with_own_fuel(connection: Connection, setup: Setup) -> Setup:
    """Return a set-up with the definition of an own fuel in place of its name, so that no one else need ask.

    A name that is neither built in nor added stays as it is; who then works with it is told.
    """
    if not isinstance(setup.fuel, str) or is_built_in(setup.fuel):
        return setup
    own = own_fuels(connection).get(_key(setup.fuel))
    return setup if own is None else setup.model_copy(update={"fuel": own})


def fuel_exists(connection: Connection, setup: Setup) -> None:
    """Refuse a set-up whose fuel nobody knows.

    Raises:
        UnknownThing: the name is neither built in nor added; the nearest of both is named.
    """
    if not isinstance(setup.fuel, str) or is_built_in(setup.fuel):
        return
    own = own_fuels(connection)
    if _key(setup.fuel) not in own:
        raise UnknownThing(f"unknown fuel '{setup.fuel}'{nearest(_key(setup.fuel), [*fuel_names(), *own])}")


class Fuels(Store):
    """Fuels that a tuner added under a name."""

    def add_fuel(self, fuel: OwnFuel) -> None:
        """Add a fuel, or take over its corrected file; the earlier one stays on record.

        Set-ups that name it, earlier ones too, then mean the new one.

        """
        with self._writing() as connection:
            document = fuel.model_dump(mode="json", exclude_unset=True)
            insert(connection, tables.fuels, name=_key(fuel.name), document=document, written=now())

    def fuels(self) -> list[OwnFuel]:
        """Return the fuels that were added, by name."""
        with self._reading() as connection:
            return list(own_fuels(connection).values())

    def fuel(self, name: str) -> OwnFuel:
        """Return a fuel that was added.

        Raises:
            UnknownThing: there is none of that name; the nearest of these and of the built-in ones is named.
        """
        with self._reading() as connection:
            own = own_fuels(connection)
        if _key(name) not in own:
            raise UnknownThing(f"unknown fuel '{name}'{nearest(_key(name), [*fuel_names(), *own])}")
        return own[_key(name)]


def _key(name: str) -> str:
    return name.strip().lower()
