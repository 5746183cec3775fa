"""From a capture or a foreign file to samples in the logbook."""

from bridge.sealing.importing import Imported, import_log
from bridge.sealing.recording import Recording, record_session
from bridge.sealing.recover import Left, Recovered, recover
from bridge.sealing.seal import Sealed, seal_capture
from bridge.sealing.wire_frame import frame_from_capture

__all__ = [
    "Imported",
    "Left",
    "Recording",
    "Recovered",
    "Sealed",
    "frame_from_capture",
    "import_log",
    "record_session",
    "recover",
    "seal_capture",
]
