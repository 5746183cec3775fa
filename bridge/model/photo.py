"""Photographs of plugs."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any


@dataclass(frozen=True)
class Photo:
    """A photograph of one plug after one session."""

    id: int
    plug: str
    session: int
    written: datetime
    """UTC."""
    file: str
    """Name of the stripped picture in the logbook's folder of photos."""
    sha256: str
    """Of that file."""
    view: str
    nose_mm: float
    tip: tuple[float, float] | None
    """Where the tuner tapped the tip [px of the stored picture]; None where the tool proposed it."""
    seat: tuple[float, float] | None
    answer: dict[str, Any]
    """What was read off it: the keys of the command line's answer."""
