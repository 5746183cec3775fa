"""The rules of the tray: where a plug can be, and what can be read on it.

Pure: they are asked inside the logbook's transaction and raise before anything is written. A stay runs from the
session it was fitted for to the session it was pulled after, both counted, in order of the sessions' start.
"""

from collections.abc import Collection, Sequence
from typing import get_args

from bridge.errors import BadValue, nearest
from bridge.model.bike import Bike
from bridge.model.plug import FittedState, Ring, Specks, View
from bridge.model.setup import HEAT_STEPS
from bridge.model.stay import Position, Stay
from bridge.model.words import check_words

MOST_CYLINDERS = 12
LONGEST_NOSE_MM = 40.0
"""No insulator nose is longer; holds where nobody told the nose length; common practice, no source [mm]."""
WIDEST_GAP_MM = 5.0
"""No plug of an engine of this kind has a wider gap; common practice, no source [mm]."""


def cylinder_exists(number: int, bike: Bike | None, what: str | None = None) -> None:
    """Refuse a cylinder that the bike lacks.

    Args:
        number: the cylinder, from 1.
        bike: the bike, or None where the session has none.
        what: how it was written, for the sentence.

    Raises:
        BadValue: there is no such cylinder.
    """
    most = bike.cylinders if bike else MOST_CYLINDERS
    if not 1 <= number <= most:
        whose = f"{bike.name} has" if bike else "an engine has at most"
        plural = "cylinder" if most == 1 else "cylinders"
        raise BadValue(
            f"there is no {what or f'cylinder {number}'}: {whose} {most} {plural}, numbered from 1"
        )


def can_fit(  # noqa: PLR0913, PLR0917  # a fitting is this much
    plug: str,
    cylinder: int,
    state: str,
    session: Position,
    bike: Bike | None,
    stays: Sequence[Stay],
    until: Position | None = None,
) -> None:
    """Refuse a fitting that cannot be: a plug in two places, two plugs in one, or a new one that ran before.

    Args:
        plug: its label.
        cylinder: from 1.
        state: what it is when it goes in.
        session: the session from which on it is in.
        bike: of that session.
        stays: all stays in the tray.
        until: the session after which it came out; None while it is in.

    Raises:
        BadValue: the rule that it breaks.
    """
    check_words("label", plug)
    one_of("state", state, get_args(FittedState))
    cylinder_exists(cylinder, bike)
    if until is not None and until < session:
        raise BadValue(f"plug {plug} cannot come out after a session before the one that it goes in for")
    name = bike.name if bike else None
    for stay in stays:
        over = (stay.pulled is not None and stay.pulled < session) or (
            until is not None and until < stay.fitted
        )
        its_place = stay.fitting.cylinder == cylinder and stay.bike == name
        if not over and (its_place or stay.fitting.plug == plug):
            mend = _mend(plug, stay, session, its_place=its_place, ends=until is not None)
            raise BadValue(f"plug {stay.fitting.plug} is in {stay.in_words()}; {mend}")
    _is_new(plug, state, session, [stay for stay in stays if stay.fitting.plug == plug])


def _mend(plug: str, stay: Stay, session: Position, *, its_place: bool, ends: bool) -> str:
    """Return what to do about a stay that is in the way."""
    if stay.pulled is not None and stay.fitted <= session:
        return "a plug is in from a session after the one it was pulled after"
    if stay.fitted > session:
        return "choose sessions before that" if ends else f"say until which session before that {plug} was in"
    if stay.fitting.plug != plug:
        return "pull it first"
    other = "if this is another plug, give it a label of its own"
    return f"it need not be said again; {other}" if its_place else f"pull it first; {other}"


def _is_new(plug: str, state: str, session: Position, mine: list[Stay]) -> None:
    """Refuse what contradicts that a plug is new once: the tray knows better than the word."""
    before = [stay for stay in mine if stay.fitted < session]
    if state == "new" and before:
        raise BadValue(
            f"plug {plug} is not new: it was in {max(before, key=lambda stay: stay.fitted).in_words()}; say"
            " cleaned or used, or give the new plug its own label",
        )
    later = next((stay for stay in mine if stay.fitted > session and stay.fitting.state == "new"), None)
    if later is not None:
        raise BadValue(
            f"plug {plug} went in new for session {later.fitting.fitted}, so it was in no engine before; give the"
            " other plug its own label",
        )


def _plain(label: str) -> str:
    return "".join(label.split()).casefold()


def label_is_clear(plug: str, known: Collection[str]) -> None:
    """Refuse a new label that differs from a known one by capitals or blanks alone, for cold hands write both.

    Nor may it be read as something else: a ``=`` stands between a plug and its cylinder, and nobody sees a blank at an
    end. A label that is on record already is taken as it is.

    Raises:
        BadValue: naming the label that it would be taken for, or what is odd about it.
    """
    if plug in known:
        return
    alike = next((one for one in sorted(known) if _plain(one) == _plain(plug)), None)
    if alike is not None:
        raise BadValue(
            f"there is a plug {alike} already; write {alike}, or give the other plug a clearer label"
        )
    if "=" in plug:
        raise BadValue(
            f"the label '{plug}' holds a '=', which stands between a plug and its cylinder elsewhere; write it without"
        )
    if plug != plug.strip():
        raise BadValue(f"the label '{plug}' has blanks around it; write it without")


def label_is_free(plug: str, known: Collection[str]) -> None:
    """Refuse the label of another plug for a new one.

    Raises:
        BadValue: it is taken, or differs from a known one by capitals or blanks alone.
    """
    if plug in known:
        raise BadValue(f"there is a plug {plug} already; give the new plug its own label")
    label_is_clear(plug, known)


def fitting_is_possible(nose_mm: float | None, heat_range: int | None) -> None:
    """Refuse a plug that nobody makes.

    Args:
        nose_mm: length of its nose where told [mm].
        heat_range: steps from the bike's usual where told: + colder, - hotter.

    Raises:
        BadValue: a value out of its range.
    """
    if nose_mm is not None:
        in_range("nose_mm", nose_mm, 2.0, LONGEST_NOSE_MM, above=True)
    if heat_range is not None:
        in_range("heat_range", heat_range, -HEAT_STEPS, HEAT_STEPS)


def stay_to_pull(plug: str, session: Position, bike: str | None, stays: Sequence[Stay]) -> Stay:
    """Return the stay that ends when a plug is pulled after a session.

    Args:
        plug: its label.
        session: the session after which it comes out.
        bike: name of that session's bike.
        stays: all stays in the tray.

    Raises:
        BadValue: the plug is not in, or it goes in only later.
    """
    mine = [stay for stay in stays if stay.fitting.plug == plug]
    _known(plug, mine, stays)
    last = max(mine, key=lambda stay: stay.fitted)
    if last.pulled is not None:
        raise BadValue(f"plug {plug} is not in: it was in {last.in_words()}")
    if last.bike != bike:
        raise BadValue(f"plug {plug} is in {last.in_words()}; name a session of that bike")
    if session < last.fitted:
        raise BadValue(f"plug {plug} is in {last.in_words()}, so it cannot come out after an earlier session")
    return last


def stay_to_read(plug: str, session: Position, number: int, bike: str | None, stays: Sequence[Stay]) -> Stay:
    """Return the stay that a reading belongs to.

    Args:
        plug: its label.
        session: the session it is read for.
        number: of that session, for the sentence.
        bike: name of that session's bike.
        stays: all stays in the tray.

    Raises:
        BadValue: the plug was not in that engine during that session.
    """
    mine = sorted((stay for stay in stays if stay.fitting.plug == plug), key=lambda stay: stay.fitted)
    _known(plug, mine, stays)
    for stay in mine:
        if stay.bike == bike and stay.covers(session):
            return stay
    if session < mine[0].fitted:
        raise BadValue(
            f"plug {plug} was not in during session {number}: it went in later, and is in"
            f" {mine[0].in_words()}; choose a session that it was in for, or write down first that it was in before"
        )
    raise BadValue(
        f"plug {plug} was not in during session {number}: it was in"
        f" {'; '.join(stay.in_words() for stay in mine)}; choose one of those sessions",
    )


def ring_is_possible(
    ring: str, ring_mm: float | None, ring_sd_mm: float | None, nose_mm: float | None
) -> None:
    """Refuse a ring that cannot be.

    Args:
        ring: seen, none, all-dark or not-seen.
        ring_mm: its depth from the tip [mm]; only for a ring that was seen.
        ring_sd_mm: standard uncertainty of it [mm].
        nose_mm: length of the nose where it is known [mm].

    Raises:
        BadValue: the rule that it breaks.
    """
    one_of("ring", ring, get_args(Ring))
    if ring != "seen":
        if ring_mm is not None or ring_sd_mm is not None:
            raise BadValue(f"a ring that is '{ring}' has no depth; leave the depth out, or say 'seen'")
        return
    if ring_mm is None:
        raise BadValue("a ring that was seen needs its depth from the tip in mm")
    if nose_mm is not None and ring_mm > nose_mm:
        raise BadValue(
            f"a ring at {ring_mm:g} mm is deeper than the nose, which is {nose_mm:g} mm from tip to seat;"
            " measure the"
            " depth from the tip, or give the plug's own nose length when it is fitted",
        )
    in_range("ring_mm", ring_mm, 0.0, LONGEST_NOSE_MM)
    if ring_sd_mm is not None:
        sd_is_possible(ring_sd_mm)


FINEST_MM = 0.05
"""The smallest uncertainty of a ring's depth that is taken on a person's word [mm]; assumed."""


def sd_is_possible(sd_mm: float) -> None:
    """Refuse an uncertainty of a depth that no eye can keep, or that says nothing.

    Args:
        sd_mm: standard uncertainty [mm].

    Raises:
        BadValue: it is out of its range.
    """
    if not FINEST_MM <= sd_mm <= LONGEST_NOSE_MM:
        raise BadValue(
            f"an uncertainty of {sd_mm:g} mm is more than an eye can tell or no help; give {FINEST_MM:g} to"
            f" {LONGEST_NOSE_MM:g} mm"
        )


def seen_is_possible(
    view: str, specks: str, strap_mark: float | None, edge: str | None, gap_mm: float | None
) -> None:
    """Refuse what else cannot be seen on a plug.

    Raises:
        BadValue: a word that is none of those known, or a value out of its range.
    """
    one_of("view", view, get_args(View))
    one_of("specks", specks, get_args(Specks))
    if edge is not None:
        one_of("edge", edge, ("sharp", "rounded"))
    if strap_mark is not None:
        in_range("strap_mark", strap_mark, 0.0, 1.0)
    if gap_mm is not None:
        in_range("gap_mm", gap_mm, 0.0, WIDEST_GAP_MM, above=True)


def one_of(what: str, word: str, words: tuple[str, ...]) -> None:
    """Refuse a word that is none of those known.

    Raises:
        BadValue: naming the nearest one.
    """
    if word not in words:
        raise BadValue(f"'{word}' is no {what}{nearest(word, words)}")


def in_range(what: str, value: float, low: float, high: float, *, above: bool = False) -> None:
    """Refuse a value out of its range.

    Args:
        what: its name, unit included.
        value: what was given.
        low: the least there is.
        high: the most there is.
        above: the value must be more than ``low``.

    Raises:
        BadValue: naming the range.
    """
    if not low <= value <= high or (above and value == low):  # nan is in no range
        shown = max(-1e300, min(value, 1e300))  # a whole number may be too long to print
        raise BadValue(f"{what} = {shown:g} must be {'above' if above else 'from'} {low:g} to {high:g}")


def _known(plug: str, mine: list[Stay], stays: Sequence[Stay]) -> None:
    if not mine:
        hint = nearest(plug, {stay.fitting.plug for stay in stays})
        mend = hint or "; write down first where it was, and from which session on"
        raise BadValue(f"plug {plug} was never fitted{mend}")
