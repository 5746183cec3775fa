"""What the logbook knows of a session that is being recorded."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from bridge.bands import session_fuel
from bridge.errors import RequestError
from bridge.logbook import Logbook
from bridge.model import Session
from bridge.physics.fuel import Fuel, fuel_by_name


@dataclass(frozen=True)
class About:
    """A session as the logbook has it."""

    session: Session
    capture: Path
    pid: int | None
    """The recorder's process; None where none records it any more."""
    fuel: Fuel
    fuel_assumed: str | None
    """Why the fuel is not the session's own word, as a sentence."""
    own_kind: str | None = None
    """What was written for this session itself: a ride takes a dynamometer day's kind over, which arms no alarm."""
    hand_marks: tuple[tuple[float, str], ...] = ()
    """(UTC since 1970 [s], what) of each mark that a person made."""

    def to_json(self) -> dict[str, Any]:
        """Return what the page shows of it."""
        session = self.session
        return {
            "session": session.id,
            "state": session.state,
            "place": session.place,
            "bike": session.bike,
            "kind": self.own_kind,
            "source": session.source,
            "started": session.started.timestamp(),
            "seconds": session.seconds,
            "sessionNotes": list(session.notes),
            "fuel": {
                "name": self.fuel.name,
                "stoich": round(self.fuel.stoich_afr, 4),
                "assumed": self.fuel_assumed,
            },
        }


def look_up(folder: Path, number: int) -> About:
    """Ask the logbook for a session.

    Raises:
        UnknownThing: there is no such session.
    """
    with Logbook.open(folder, write=False) as logbook:
        session = logbook.session(number)
        try:
            fuel, assumed = session_fuel(logbook.setup(number))
        except RequestError as error:  # the file names a fuel that is none: lambda needs none
            fuel, assumed = fuel_by_name("petrol"), f"{error}; AFR is that of petrol"
        began = session.started.timestamp()
        return About(
            session=session,
            capture=logbook.raw_path(number),
            pid=logbook.recorder(number) if session.state == "recording" else None,
            fuel=fuel,
            fuel_assumed=assumed,
            own_kind=logbook.written_setup(number).kind,
            hand_marks=tuple((began + m.t_s, m.what) for m in logbook.marks(number) if m.by == "hand"),
        )
