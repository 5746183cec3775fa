"""Sealing what an interrupted recording left."""

from bridge.errors import RequestError, WireTooNew
from bridge.logbook import Logbook
from bridge.sealing.seal import Sealed, seal_capture


def recover(logbook: Logbook) -> list[Sealed]:
    """Seal the recordings whose recorder is gone, and leave alone those that go on.

    A capture that cannot be read is marked as interrupted with the reason and its bytes are kept; it does not
    keep the others from being sealed.

    Args:
        logbook: open to write.

    Returns:
        What was sealed.
    """
    found = []
    for session in logbook.unfinished():
        with logbook.left_behind(session) as left:
            if not left:
                continue
            try:
                found.append(seal_capture(logbook, session))
            except (RequestError, WireTooNew):
                continue  # seal_capture has written the reason into the session
    return found
