"""Which pairs of a season are looked at."""

from dataclasses import dataclass, fields
from datetime import datetime
from typing import Any, Literal

from bridge.agreement.season.gather import About, SeasonPair
from bridge.errors import BadValue, nearest

CutAfter = Literal["pull", "ride"]


def cut_after(pair: SeasonPair) -> CutAfter:
    """Return what a pair's plug was cut after."""
    return "pull" if pair.kept.pair.pull_share > 0.0 else "ride"


@dataclass(frozen=True)
class Filters:
    """What a pair has to be; None asks nothing.

    Attributes:
        plug_type: the tuner's name of the plug type.
        fuel: name of the fuel.
        strokes: 4 or 2.
        place: where the session was.
        from_date: it started then or later.
        to_date: it started before then.
        build: number of the engine build.
        cut_after: ``pull`` for readings cut at a pull's end alone, ``ride`` for all others.
        setup: a key of ``setup.toml`` and the value that it had, such as ("main_jet", "160").
    """

    plug_type: str | None = None
    fuel: str | None = None
    strokes: int | None = None
    place: str | None = None
    from_date: datetime | None = None
    to_date: datetime | None = None
    build: int | None = None
    cut_after: CutAfter | None = None
    setup: tuple[str, str] | None = None

    def takes_session(self, about: About) -> bool:
        """Return whether a session is looked at."""
        asked = (
            (self.fuel, about.fuel),
            (self.strokes, about.strokes),
            (self.place, about.place),
            (self.build, about.build),
        )
        return (
            all(wanted is None or wanted == given for wanted, given in asked)
            and (self.from_date is None or about.started >= self.from_date)
            and (self.to_date is None or about.started < self.to_date)
        )

    def takes(self, pair: SeasonPair) -> bool:
        """Return whether a pair is looked at."""
        return (
            self.takes_session(pair.about)
            and (self.plug_type is None or self.plug_type == pair.kept.plug_type)
            and (self.cut_after is None or self.cut_after == cut_after(pair))
            and (self.setup is None or _same(pair.setup.get(self.setup[0]), self.setup[1]))
        )

    def to_json(self) -> dict[str, Any]:
        """Return what was asked, without what was not."""
        given = {one.name: getattr(self, one.name) for one in fields(self)}
        said: dict[str, Any] = {key: value for key, value in given.items() if value is not None}
        if self.setup is not None:
            said["setup"] = {self.setup[0]: self.setup[1]}
        return said


def checked(filters: Filters, pairs: tuple[SeasonPair, ...]) -> None:
    """Refuse a filter that no pair could ever pass because its word is none.

    Args:
        filters: what was asked.
        pairs: all of them.

    Raises:
        BadValue: the season has no such plug type, fuel, place, build or key of the set-up; with those it has.
    """
    if not pairs:
        return
    held: dict[str, tuple[object, set[object]]] = {
        "plug type": (filters.plug_type, {pair.kept.plug_type for pair in pairs}),
        "fuel": (filters.fuel, {pair.about.fuel for pair in pairs}),
        "place": (filters.place, {pair.about.place for pair in pairs}),
        "engine build": (filters.build, {pair.about.build for pair in pairs}),
        "kind of cut": (filters.cut_after, {cut_after(pair) for pair in pairs}),
        "key in its set-up": (
            filters.setup[0] if filters.setup else None,
            {key for pair in pairs for key in pair.setup},
        ),
    }
    for what, (wanted, there) in held.items():
        if wanted is not None and wanted not in there:
            words = [str(one) for one in there if one is not None]
            hint = nearest(str(wanted), words) or "; no pair tells any"
            raise BadValue(f"no pair of this season has the {what} '{wanted}'{hint}")


def _same(given: object, wanted: str) -> bool:
    """Return whether a set-up's value is what a person wrote, 160 and 160.0 being one."""
    try:
        return float(str(given)) == float(wanted)
    except ValueError:
        return str(given) == wanted
