"""Recording: a session begun, its capture written, and sealed at the end, however it ended."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime

from bridge.errors import NotCarriedThrough
from bridge.link import CaptureWriter, record
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
    seconds: float | None = None,
    bike: str | None = None,
    place: str | None = None,
) -> Recording:
    """Record one session from an open port and seal it.

    Args:
        logbook: open to write.
        port: an open port.
        source: its name, as the session keeps it.
        stop: ends the recording when it returns True.
        seconds: ends it after so long [s]; None for no end.
        bike: name of the bike.
        place: where.

    Raises:
        UnknownThing: there is no such bike.
        WireTooNew: the logger speaks a later version; its bytes are kept.
        DiskTrouble: the capture cannot be made, or the samples not written.
    """
    session = logbook.new_session(bike=bike, place=place, source=source, started=datetime.now(UTC))
    trouble = None
    writer = CaptureWriter(logbook.raw_path(session))
    try:
        record(port, writer, stop=stop, seconds=seconds)
    except NotCarriedThrough as error:
        trouble = error
    finally:
        writer.close()
    return Recording(seal_capture(logbook, session), trouble)
