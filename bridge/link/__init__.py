"""Ports, threads and clocks: reading a logger and writing its capture."""

from bridge.link.capture import (
    Capture,
    CaptureWriter,
    Chunk,
    Followed,
    Note,
    follow_capture,
    read_capture,
)
from bridge.link.disk import Clock
from bridge.link.notes import Kind, Told, read_note
from bridge.link.ports import DEFAULT_BAUD, Port, PortInfo, list_ports, open_port
from bridge.link.reconnect import PortFinder
from bridge.link.recorder import Recorded, record
from bridge.link.room import check_room

__all__ = [
    "DEFAULT_BAUD",
    "Capture",
    "CaptureWriter",
    "Chunk",
    "Clock",
    "Followed",
    "Kind",
    "Note",
    "Port",
    "PortFinder",
    "PortInfo",
    "Recorded",
    "Told",
    "check_room",
    "follow_capture",
    "list_ports",
    "open_port",
    "read_capture",
    "read_note",
    "record",
]
