"""Recording: a session begun, its capture written, and sealed at the end, however it ended."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime

from bridge.errors import DiskTrouble, NotCarriedThrough
from bridge.link import CaptureWriter, Kind, PortFinder, record
from bridge.link.ports import Port
from bridge.logbook import Logbook
from bridge.sealing.seal import Sealed, seal_capture


@dataclass(frozen=True)
class Recording:
    """A recording that has ended."""

    sealed: Sealed
    trouble: NotCarriedThrough | None
    """What ended it before its time; what came until then is sealed all the same."""


def record_session(  # noqa: PLR0913  # what the command line takes
    logbook: Logbook,
    port: Port,
    *,
    source: str,
    stop: Callable[[], bool],
    finder: PortFinder | None = None,
    seconds: float | None = None,
    on_note: Callable[[Kind, str], None] | None = None,
    bike: str | None = None,
    place: str | None = None,
) -> Recording:
    """Record one session from an open port and seal it.

    Args:
        logbook: open to write.
        port: an open port.
        source: its name, as the session keeps it.
        stop: ends the recording when it returns True.
        finder: finds the port again when it goes away; None to end with it.
        seconds: ends it after so long [s]; None for no end.
        on_note: called with what befalls the recording; must return at once.
        bike: name of the bike.
        place: where.

    Raises:
        UnknownThing: there is no such bike.
        WireTooNew: the logger speaks a later version; its bytes are kept.
        DiskTrouble: the capture cannot be made, or the samples not written; what was recorded then waits for
            ``recover``.
    """
    session = logbook.new_session(bike=bike, place=place, source=source, started=datetime.now(UTC))
    trouble = None
    writer = CaptureWriter(logbook.raw_path(session))
    try:
        record(port, writer, finder=finder, stop=stop, seconds=seconds, on_note=on_note)
    except NotCarriedThrough as error:
        trouble = error
    finally:
        writer.close()
    try:
        return Recording(seal_capture(logbook, session), trouble)
    except DiskTrouble as error:
        said = (
            trouble or f"session {session} could not be sealed ({error}); its bytes are kept in {writer.path}"
        )
        raise DiskTrouble(f"{said}; it is sealed by 'sootline recover' once there is room") from error
