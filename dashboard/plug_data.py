"""What the pages load of plugs, and what a person does to them; a part of dashboard.data."""

from typing import Any

from bridge.agreement.scales import layers
from bridge.agreement.season import Gathered
from bridge.errors import BadValue, SootlineError, UnknownThing, nearest
from bridge.logbook import Logbook
from bridge.model import Fitting, PlugLife, PlugStory, Reading
from bridge.plug.hours import Worked, add_up, with_hours, worked
from bridge.plug.scale import RingScale, scale_for
from dashboard.compared import Compared
from dashboard.pictures import AtHand, ScalePicture, Story


class PlugData(Compared):
    """Plugs: the one in the hand, all of them, and what is told of them."""

    def plugs(self, bike: str | None = None) -> list[PlugStory]:
        """Return every plug with what happened to it: those that are in first, then the box, then the bin."""
        with self._reading() as logbook:
            return logbook.plugs(bike)

    def bikes(self) -> list[str]:
        """Return the bikes' names."""
        with self._reading() as logbook:
            return [bike.name for bike, _ in logbook.bikes()]

    def ring_scale(self, name: str, *, pairs: bool = True) -> ScalePicture:
        """Return the ring scale of a bike's usual plug in its engine build of now, with all that made it.

        Args:
            name: of the bike.
            pairs: with its pairs, for which each session that has changed is compared anew: seconds a session.

        Raises:
            UnknownThing: there is no such bike.
        """
        with self._reading() as logbook:
            bike, build = logbook.bike_and_build(name)
            found = (
                self._gathered(logbook, name)
                if pairs
                else Gathered(statements={name: tuple(logbook.statements(name))})
            )
        made = None
        if bike.plug.nose_mm is not None:
            made = layers(
                found.of_bike(name),
                found.statements.get(name, ()),
                plug_type=bike.plug.type,
                nose_mm=bike.plug.nose_mm,
                build=build,
                strokes=bike.strokes,
            )
        return ScalePicture(name, made, found.left_out)

    def label(self, asked: str) -> str:
        """Return the plug that somebody typed or scanned, whatever its capitals and blanks.

        Raises:
            UnknownThing: there is none; the nearest one is named.
        """
        with self._reading() as logbook:
            known = [story.label for story in logbook.plugs()]
        wanted = _plain(asked)
        # the very same label first: two labels of old may differ in nothing else
        found = next((one for one in known if one == asked.strip()), None)
        found = found or next((one for one in known if _plain(one) == wanted), None)
        if found is None:
            raise UnknownThing(f"there is no plug {asked.strip()}{nearest(asked.strip(), known)}")
        return found

    def story(self, label: str) -> Story:
        """Return a plug's whole life, and the plug in the hand for the session that it was in last.

        Raises:
            UnknownThing: there is no such plug.
        """
        with self._reading() as logbook:
            story = logbook.plug_story(label)
            time = _time(logbook, story)
            numbers = sorted({event.session for event in story.events if event.session is not None})
            photos = tuple(
                photo for number in numbers for photo in logbook.photos(number) if photo.plug == label
            )
            hand, why = None, None
            last = _last_session(story)
            if last is None:
                why = "It was in no engine yet, so there is nothing to read on it."
            else:
                try:
                    hand = self._at_hand(logbook, label, last)
                except SootlineError as error:  # its story can be told all the same
                    why = str(error)
        return Story(with_hours(story, time), time, photos, hand, why)

    def at_hand(self, label: str, number: int) -> AtHand:
        """Return a plug as the reading form needs it for one session.

        Raises:
            UnknownThing: there is no such session.
            BadValue: the plug was not in then.
        """
        with self._reading() as logbook:
            return self._at_hand(logbook, label, number)

    def _at_hand(self, logbook: Logbook, label: str, number: int) -> AtHand:
        session = logbook.session(number)
        life = next((one for one in logbook.plug_lives(number) if one.fitting.plug == label), None)
        if life is None:
            raise BadValue(f"plug {label} was not in during session {number}")
        photos = tuple(photo for photo in logbook.photos(number) if photo.plug == label)
        return AtHand(life, number, session.place, session.started, _scale(logbook, life), photos)

    def fit(self, label: str, **told: Any) -> Fitting:  # noqa: ANN401  # handed on as the form has it
        """Put a plug into a cylinder; errors are the logbook's own sentences."""
        with self._writing() as logbook:
            return logbook.fit(label, **told)

    def pull(self, label: str, number: int) -> Fitting:
        """Take a plug out after a session."""
        with self._writing() as logbook:
            return logbook.pull(label, session=number)

    def pull_all(self, number: int, *, order_lost: bool) -> list[Fitting]:
        """Take all plugs out after a session."""
        with self._writing() as logbook:
            return list(logbook.pull_all(number, order_lost=order_lost))

    def read(self, label: str, **told: Any) -> Reading:  # noqa: ANN401  # handed on as the form has it
        """Write a reading down."""
        with self._writing() as logbook:
            return logbook.read(label, **told)

    def swap(self, a: str, b: str, number: int, state: str) -> tuple[Fitting, Fitting]:
        """Write down that two plugs changed places from a session on."""
        with self._writing() as logbook:
            return logbook.swap(a, b, number, state=state)

    def mixed_up(self, a: str, b: str, number: int) -> tuple[Fitting, Fitting]:
        """Correct the record: two plugs sat in each other's cylinder all along."""
        with self._writing() as logbook:
            return logbook.mixed_up(a, b, number)

    def order_lost(self, number: int) -> list[Fitting]:
        """Write down that the tray was upset after its plugs were pulled."""
        with self._writing() as logbook:
            return logbook.order_lost(number)

    def order_found(self, number: int, told: dict[str, int]) -> list[Fitting]:
        """Write down which cylinder each plug was in."""
        with self._writing() as logbook:
            return logbook.order_found(number, told)

    def clean(self, label: str, note: str | None) -> PlugStory:
        """Write down that a plug was cleaned."""
        with self._writing() as logbook:
            return logbook.clean(label, note)

    def scrap(self, label: str, note: str | None, *, take_back: bool = False) -> PlugStory:
        """Write down that a plug was scrapped, or was not after all."""
        with self._writing() as logbook:
            return logbook.scrap(label, note, take_back=take_back)

    def new_plugs(self, labels: list[str]) -> list[PlugStory]:
        """Put new plugs into the box."""
        with self._writing() as logbook:
            return logbook.new_plugs(labels)


def _plain(label: str) -> str:
    return "".join(label.split()).casefold()


def _last_session(story: PlugStory) -> int | None:
    """Return the session that a plug was in last: the last one that it lived through, else the one it went in for."""
    if story.sessions:
        return story.sessions[-1]
    return next((event.session for event in reversed(story.events) if event.what == "fitted"), None)


def _scale(logbook: Logbook, life: PlugLife) -> RingScale | None:
    """Return what a ring on this plug stands for, without the comparison, which takes seconds on a long log."""
    run = life.runs[-1]
    if run.bike is None or life.nose_mm is None:
        return None
    statements = logbook.statements(run.bike.name)
    return scale_for(statements, plug_type=life.type, nose_mm=life.nose_mm, build=run.session.build)


def _time(logbook: Logbook, story: PlugStory) -> Worked:
    """Return how long an engine ran on a plug, as far as the logs can be read."""
    found = []
    for number in story.sessions:
        try:
            found.append(worked([logbook.run(number)]))
        except SootlineError:  # its samples cannot be read, which is no reason to hide the rest
            found.append(Worked(None, None, (number,)))
    return add_up(found)
