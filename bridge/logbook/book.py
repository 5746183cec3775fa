"""The logbook as the rest of the program sees it."""

from pathlib import Path
from types import TracebackType
from typing import Self

from bridge.logbook.opening import open_to_read, open_to_write
from bridge.logbook.store.amends import Amends
from bridge.logbook.store.bikes import Bikes
from bridge.logbook.store.fuels import Fuels
from bridge.logbook.store.kept import Kept
from bridge.logbook.store.lives import Lives
from bridge.logbook.store.photos import Photos
from bridge.logbook.store.readings import Readings
from bridge.logbook.store.recordings import Recordings
from bridge.logbook.store.scales import Scales
from bridge.logbook.store.sensors import Sensors
from bridge.logbook.store.sessions import Sessions
from bridge.logbook.store.setups import Setups
from bridge.logbook.store.stories import Stories
from bridge.logbook.store.todos import Todos
from bridge.logbook.store.tray import Tray


class Logbook(
    Bikes,
    Setups,
    Sessions,
    Recordings,
    Tray,
    Amends,
    Lives,
    Stories,
    Readings,
    Scales,
    Sensors,
    Fuels,
    Kept,
    Photos,
    Todos,
):
    """A logbook: bikes, sessions, set-ups, plugs and readings, and where their files lie.

    The subjects stand in ``store/``, one file each. One logbook object may be used by many threads.
    """

    @classmethod
    def open(cls, folder: Path, *, write: bool) -> "Logbook":
        """Open a logbook.

        Args:
            folder: where it is.
            write: to write (it is made where missing, and brought up to date), or only to look.

        Raises:
            UnknownThing: it is to be read and is not there.
            BadFile: it is no logbook, or one that a later version wrote.
            DiskTrouble: the folder cannot be made or written.
        """
        folder = Path(folder)
        return cls(folder, open_to_write(folder) if write else open_to_read(folder), write=write)

    def close(self) -> None:
        """Close it; a recording that it held is left for ``recover``."""
        self._let_go()
        self._engine.dispose()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()
