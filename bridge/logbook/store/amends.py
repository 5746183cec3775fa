"""What is told of the tray later: plugs swapped, mixed up on paper, their order lost and found again."""

from collections.abc import Mapping

from sqlalchemy import Connection

from bridge.errors import BadValue
from bridge.logbook import tables
from bridge.logbook.store.base import Store, insert, now
from bridge.logbook.store.rows import bike_of, session_row
from bridge.logbook.store.stays import FOUND, notes_of, stays_of, told_in, where, write_note
from bridge.model import Fitting, amends, rules
from bridge.model.stay import Stay
from bridge.model.words import check_all


class Amends(Store):
    """Swaps and corrections; what was first written always stays on record."""

    def swap(self, a: str, b: str, session: int, *, state: str = "used") -> tuple[Fitting, Fitting]:
        """Write down that two plugs changed places, from a session on.

        Both stays end with the bike's session before, and both plugs go in crosswise. It can be told late: readings
        stay with their plug, and so does a pull.

        Args:
            a: label of the one.
            b: label of the other.
            session: the first session in their new places.
            state: cleaned, where they were cleaned between.

        Raises:
            UnknownThing: there is no such session.
            BadValue: they are not two plugs of that bike from before, or a third one would be in the way.
        """
        _two(a, b)
        rules.one_of("state after a swap", state, ("cleaned", "used"))
        with self._writing() as connection:
            here, bike = where(connection, session)
            stays = stays_of(connection)
            one, other = (amends.stay_to_swap(label, here, session, bike, stays) for label in (a, b))
            notes = notes_of(connection)
            for stay in (one, other):
                if not stay.covers(here):
                    amends.not_scrapped(stay.fitting.plug, told_in(notes.get(stay.fitting.plug, [])))
            changed = [
                _refit(connection, stay, cylinder, session, state, still_in=stay.covers(here))
                for stay, cylinder in ((one, other.fitting.cylinder), (other, one.fitting.cylinder))
            ]
            write_note(connection, a, "swapped", session, b)
            write_note(connection, b, "swapped", session, a)
            first, second = _checked(connection, changed)
            return first, second

    def mixed_up(self, a: str, b: str, session: int, *, why: str | None = None) -> tuple[Fitting, Fitting]:
        """Correct the record: two plugs sat in each other's cylinder for all of their stay.

        Args:
            a: label of the one.
            b: label of the other.
            session: one that both were in for.
            why: in words.

        Raises:
            UnknownThing: there is no such session.
            BadValue: one was not in then, or a third plug would be in the way.
        """
        _two(a, b)
        with self._writing() as connection:
            here, bike = where(connection, session)
            stays = stays_of(connection)
            one, other = (rules.stay_to_read(label, here, session, bike, stays).fitting for label in (a, b))
            told = {a: other.cylinder, b: one.cylinder}
            first, second = _corrected(connection, session, told, why or f"plugs {a} and {b} were mixed up")
            return first, second

    def correct(self, session: int, told: Mapping[str, int], *, why: str | None = None) -> list[Fitting]:
        """Correct the record: some plugs sat in other cylinders than written, for all of their stay.

        Args:
            session: one that they were in for.
            told: the cylinder that each plug really was in.
            why: in words.

        Returns:
            The stays as they count now, in the order told.

        Raises:
            UnknownThing: there is no such session.
            BadValue: one was not in then, its order was lost, or two plugs would be in one cylinder.
        """
        with self._writing() as connection:
            return _corrected(connection, session, told, why or "it was written down in the wrong cylinder")

    def order_lost(self, session: int, *labels: str) -> list[Fitting]:
        """Write down that plugs got out of order after they were pulled: the tray was upset.

        Args:
            session: the one after which they came out.
            labels: which; all that came out then where none is named.

        Raises:
            UnknownThing: there is no such session.
            BadValue: none came out then, or one that is named did not.
        """
        with self._writing() as connection:
            group = amends.lost_together(session, _of_bike(connection, session), labels, lost=False)
            chosen = [stay.fitting for stay in group if not labels or stay.fitting.plug in labels]
            if len(chosen) == 1:
                raise BadValue(
                    f"plug {chosen[0].plug} alone cannot get out of order; name all plugs whose place nobody knows"
                )
            for fitting in chosen:
                write_note(connection, fitting.plug, "order lost", session)
            return _checked(connection, [fitting.id for fitting in chosen])

    def order_found(self, session: int, told: Mapping[str, int]) -> list[Fitting]:
        """Write down where plugs were whose order was lost; the readings of each count again.

        The last one left is known without being told. Said again, it corrects what was said.

        Args:
            session: the one after which they came out.
            told: the cylinder of each plug that is known now.

        Returns:
            The plugs whose place is known, in cylinder order.

        Raises:
            UnknownThing: there is no such session.
            BadValue: the order of one was not lost then, or two plugs would be in one cylinder.
        """
        with self._writing() as connection:
            group = amends.lost_together(session, _of_bike(connection, session), told, lost=True)
            places, known = amends.places_found(session, group, told)
            for fitting in (stay.fitting for stay in group):
                if places[fitting.plug] != fitting.cylinder:
                    _correct(connection, fitting, places[fitting.plug], FOUND)
                if fitting.plug in known and (fitting.order_lost or fitting.plug in told):
                    words = f"it was in cylinder {places[fitting.plug]}"
                    write_note(connection, fitting.plug, "order found", session, words)
            now_known = [
                f for f in _checked(connection, [stay.fitting.id for stay in group]) if f.plug in known
            ]
            return sorted(now_known, key=lambda fitting: fitting.cylinder)


def _two(a: str, b: str) -> None:
    if a == b:
        raise BadValue(f"plug {a} cannot change places with itself; name two plugs")


def _of_bike(connection: Connection, session: int) -> list[Stay]:
    """Return the stays of the bike of a session."""
    bike = where(connection, session)[1]
    return [stay for stay in stays_of(connection) if stay.bike == bike]


def _refit(  # noqa: PLR0913, PLR0917  # a fitting is this much
    connection: Connection, stay: Stay, cylinder: int, session: int, state: str, still_in: bool
) -> int:
    """Put a plug into another cylinder of the same bike, with the pull that ended its stay, and return its number."""
    f = stay.fitting
    number = insert(
        connection,
        tables.fittings,
        plug=f.plug,
        bike_id=session_row(connection, session).bike_id,
        cylinder=cylinder,
        state=state,
        fitted=session,
        type=f.type,
        nose_mm=f.nose_mm,
        heat_range=f.heat_range,
        written=now(),
    )
    if still_in and f.pulled is not None:
        insert(
            connection,
            tables.pulls,
            fitting_id=number,
            session_id=f.pulled,
            order_lost=f.order_lost,
            written=now(),
        )
    return number


def _corrected(connection: Connection, session: int, told: Mapping[str, int], why: str) -> list[Fitting]:
    """Correct the cylinders of plugs that were in for a session, and return their stays as they count now."""
    check_all({"note": why})
    here, name = where(connection, session)
    bike = bike_of(connection, session_row(connection, session).bike_id)
    stays, changed = stays_of(connection), []
    for label, cylinder in told.items():
        rules.cylinder_exists(cylinder, bike)
        fitting = rules.stay_to_read(label, here, session, name, stays).fitting
        if fitting.order_lost:
            raise BadValue(
                f"the order of plug {label} was lost after session {fitting.pulled}; say in which order the plugs"
                " were then"
            )
        if fitting.cylinder != cylinder:  # what is as it was needs no correction
            _correct(connection, fitting, cylinder, why)
        changed.append(fitting.id)
    return _checked(connection, changed)


def _correct(connection: Connection, fitting: Fitting, cylinder: int, why: str) -> None:
    insert(
        connection,
        tables.fitting_corrections,
        fitting_id=fitting.id,
        cylinder=cylinder,
        why=why,
        written=now(),
    )


def _checked(connection: Connection, changed: list[int]) -> list[Fitting]:
    """Return changed stays as they count now; an error takes back all that the transaction wrote."""
    stays = stays_of(connection)
    amends.no_clash(changed, stays)
    fittings = {stay.fitting.id: stay.fitting for stay in stays}
    return [fittings[number] for number in changed]
