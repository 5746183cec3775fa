"""Ports, threads and clocks: reading a logger and writing its capture."""

from bridge.link.capture import Capture, CaptureWriter, Note, follow_capture, read_capture
from bridge.link.ports import DEFAULT_BAUD, Port, PortInfo, list_ports, open_port
from bridge.link.recorder import Recorded, record

__all__ = [
    "DEFAULT_BAUD",
    "Capture",
    "CaptureWriter",
    "Note",
    "Port",
    "PortInfo",
    "Recorded",
    "follow_capture",
    "list_ports",
    "open_port",
    "read_capture",
    "record",
]
