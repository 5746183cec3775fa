"""A plug's stay in a cylinder, where it stands in time, and what else was told of the plug."""

from dataclasses import dataclass
from datetime import datetime

from bridge.model.plug import Fitting

Position = tuple[datetime, int]
"""Where a session stands in time: its start, and its number where two started at once."""


@dataclass(frozen=True)
class Stay:
    """A fitting and where it stands in time."""

    fitting: Fitting
    bike: str | None
    """Name of the bike, or None for a session without one."""
    fitted: Position
    pulled: Position | None
    written: int | None = None
    """The cylinder that was first written down, which a correction leaves on record."""
    was_lost: bool = False
    """The order was lost at some time, found again since or not."""

    def covers(self, session: Position) -> bool:
        """Return whether the plug was in during this session."""
        return self.fitted <= session and (self.pulled is None or session <= self.pulled)

    def over_before(self, other: "Stay") -> bool:
        """Return whether the plug was out before the other one went in."""
        return self.pulled is not None and self.pulled < other.fitted

    def in_words(self) -> str:
        """Return where it is or was."""
        f = self.fitting
        of = f" of {self.bike}" if self.bike else ""
        when = f"in session {f.fitted}" if f.pulled == f.fitted else f"from session {f.fitted} on"
        if f.pulled not in {None, f.fitted}:
            when = f"from session {f.fitted} to session {f.pulled}"
        return f"cylinder {f.cylinder}{of} {when}"


@dataclass(frozen=True)
class Told:
    """What was written down of one plug beside its stays."""

    new: bool = False
    """It was put in the box as new."""
    cleaned: frozenset[int] = frozenset()
    """Numbers of the sessions after which it was cleaned."""
    scrapped: bool = False
