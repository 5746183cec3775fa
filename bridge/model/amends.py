"""The rules of what is told later: plugs swapped, mixed up, out of order, cleaned and scrapped.

Pure, as the rules of the tray: they are asked inside the logbook's transaction, and what they refuse was never
written.
"""

from collections.abc import Collection, Mapping, Sequence

from bridge.errors import BadValue, nearest
from bridge.model.stay import Position, Stay, Told


def state_of(plug: str, state: str | None, session: Position, stays: Sequence[Stay], told: Told) -> str:
    """Return what a plug is when it goes in, as said, else as the tray knows it.

    Args:
        plug: its label.
        state: new, cleaned or used where somebody says it.
        session: the session from which on it is in.
        stays: all stays in the tray.
        told: what else was written down of it.

    Raises:
        BadValue: nobody said it, and the tray does not know the plug.
    """
    if state is not None:
        return state
    before = [stay for stay in stays if stay.fitting.plug == plug and stay.fitted < session]
    if not before:
        if told.new:
            return "new"
        raise BadValue(f"the tray does not know plug {plug} yet; say whether it is new, cleaned or used")
    last = max(before, key=lambda stay: stay.fitted)
    return "cleaned" if last.fitting.pulled in told.cleaned else "used"


def not_scrapped(plug: str, told: Told) -> None:
    """Refuse to put a scrapped plug in.

    Raises:
        BadValue: it was scrapped and not taken back.
    """
    if told.scrapped:
        raise BadValue(
            f"plug {plug} was scrapped; give the plug in your hand its own label, or take the scrapping back"
        )


def no_clash(changed: Collection[int], stays: Sequence[Stay]) -> None:
    """Refuse two plugs in one cylinder, or one plug in two, in any session.

    Args:
        changed: numbers of the fittings that are to be held against all others.
        stays: all stays as they would be.

    Raises:
        BadValue: naming the two plugs and the first session of both.
    """
    for stay in (stay for stay in stays if stay.fitting.id in changed):
        for other in stays:
            if other.fitting.id == stay.fitting.id or other.over_before(stay) or stay.over_before(other):
                continue
            plug, number = stay.fitting.plug, max(stay, other, key=lambda one: one.fitted).fitting.fitted
            if other.fitting.plug == plug:
                raise BadValue(f"so plug {plug} would be in two places from session {number} on")
            if (other.bike, other.fitting.cylinder) == (stay.bike, stay.fitting.cylinder):
                raise BadValue(
                    f"so plug {plug} and plug {other.fitting.plug} would both be in cylinder"
                    f" {stay.fitting.cylinder} in session {number}; say where plug {other.fitting.plug} was as well"
                )


def stay_to_swap(plug: str, session: Position, number: int, bike: str | None, stays: Sequence[Stay]) -> Stay:
    """Return the stay from which a plug changed places, from a session on.

    Args:
        plug: its label.
        session: the first session in its new place.
        number: of that session, for the sentence.
        bike: name of that session's bike.
        stays: all stays in the tray.

    Raises:
        BadValue: it was in no cylinder of that bike before, it went in for that very session, or nobody knows
            which cylinder it came out of.
    """
    mine = [stay for stay in stays if stay.fitting.plug == plug and stay.fitted <= session]
    if not mine:
        hint = nearest(plug, {stay.fitting.plug for stay in stays if stay.fitted < session})
        raise BadValue(
            f"plug {plug} was in no cylinder before session {number}, so nothing can be swapped{hint}"
        )
    last = max(mine, key=lambda stay: stay.fitted)
    if last.bike != bike:
        raise BadValue(
            f"plug {plug} is or was in {last.in_words()}; plugs of two bikes are pulled and fitted, not swapped"
        )
    if last.fitted == session:
        raise BadValue(
            f"plug {plug} went into cylinder {last.fitting.cylinder} for session {number} itself; if the record has"
            " the wrong cylinder, say that the plugs were mixed up"
        )
    if last.fitting.order_lost:
        raise BadValue(f"nobody knows which cylinder plug {plug} came out of; fit it where it goes instead")
    return last


def lost_together(session: int, stays: Sequence[Stay], labels: Collection[str], *, lost: bool) -> list[Stay]:
    """Return the stays whose order was lost after a session, or is to be.

    Args:
        session: number of the session after which they came out.
        stays: of that session's bike.
        labels: plugs that are named; all where none is.
        lost: whether the order has to be lost already.

    Raises:
        BadValue: there are none, or one that is named is not among them.
    """
    group = [stay for stay in stays if stay.fitting.pulled == session and (stay.was_lost or not lost)]
    found = {stay.fitting.plug for stay in group}
    if not group:
        what = "the order of no plug was lost" if lost else "no plug came out"
        raise BadValue(f"{what} after session {session}")
    for label in labels:
        if label not in found:
            what = f"the order of plug {label} was not lost" if lost else f"plug {label} did not come out"
            raise BadValue(f"{what} after session {session}{nearest(label, found)}")
    return group


def places_found(
    session: int, group: Sequence[Stay], told: Mapping[str, int]
) -> tuple[dict[str, int], set[str]]:
    """Work out where plugs were whose order was lost, from what somebody now knows of it.

    The plugs came out of their cylinders together, so each cylinder held one of them: the last one left is known
    without being told, and those still unknown are shown in the cylinders that are left.

    Args:
        session: number of the session after which they came out.
        group: their stays.
        told: the cylinder of each plug that is known now.

    Returns:
        The cylinder of every plug of the group, and the labels of those that are known.

    Raises:
        BadValue: two plugs in one cylinder, or a cylinder that none of them came out of.
    """
    places = sorted(stay.fitting.cylinder for stay in group)
    known = {
        stay.fitting.plug: stay.fitting.cylinder for stay in group if not stay.fitting.order_lost
    } | dict(told)
    for plug, cylinder in known.items():
        if cylinder not in places:
            raise BadValue(
                f"plug {plug} did not come out of cylinder {cylinder}: after session {session} plugs came out of"
                f" {' and '.join(map(str, places))} without their order"
            )
        other = next((one for one, where in known.items() if where == cylinder and one != plug), None)
        if other is not None:
            raise BadValue(
                f"plug {plug} and plug {other} cannot both have been in cylinder {cylinder}; say where each was"
            )
    free = [place for place in places if place not in known.values()]
    unknown = [stay.fitting for stay in group if stay.fitting.plug not in known]
    settled = {one.plug: one.cylinder for one in unknown if one.cylinder in free}
    rest = [place for place in free if place not in settled.values()]
    moved = dict(zip((one.plug for one in unknown if one.plug not in settled), rest, strict=True))
    return known | settled | moved, set(known) | ({unknown[0].plug} if len(unknown) == 1 else set())
