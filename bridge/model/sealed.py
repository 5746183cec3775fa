"""What a recording or a foreign file comes to, before it is put in the logbook."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

import polars as pl

from bridge.model.session import Mark, PartState


@dataclass(frozen=True)
class SealedFrame:
    """Samples and all that goes with them.

    ``frame`` has ``t_s`` [s] (float64, strictly rising), then one float32 column a channel; null where there
    was no valid reading.
    """

    frame: pl.DataFrame
    units: Mapping[str, str]
    """UCUM code of each channel; empty where nobody said it."""
    marks: tuple[Mark, ...] = ()
    states: tuple[PartState, ...] = ()
    counts: Mapping[str, int] = field(default_factory=dict)
    """Lines of the wire by their fate, or ``rows_read`` and ``rows_refused``."""
    notes: tuple[str, ...] = ()
    """One sentence each."""
    started_utc: datetime | None = None
    """When it began, where the bytes or their arrival tell."""

    @property
    def seconds(self) -> float:
        """Length of the session, to its last sample [s]."""
        return float(self.frame["t_s"][-1]) if self.frame.height else 0.0
