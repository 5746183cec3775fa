"""What the bike's file and the sensor's history make of a session's samples, when it is loaded."""

from collections.abc import Mapping, Sequence
from functools import lru_cache
from pathlib import Path

import polars as pl

from bridge.channels.calibrate import Calibrated, Plan, calibrate
from bridge.channels.correct import Correction, correction_of
from bridge.channels.sensor import SensorEvent
from bridge.channels.sound import unsound
from bridge.logbook import samples
from bridge.model import Bike, PartState, Session
from bridge.model.sensor_known import state_at


def worked_out(path: Path, session: Session, bike: Bike | None, events: Sequence[SensorEvent]) -> Calibrated:
    """Return a session's samples with its channels worked out; read when they are needed.

    Args:
        path: of the samples as recorded.
        session: whose.
        bike: that ran; None where nobody said, and then nothing is known of its channels.
        events: the history of its sensors.

    Raises:
        BadFile: the samples are gone.
    """

    def correction(cylinder: int | None) -> Correction:
        state = state_at(bike, events, cylinder, session.started)
        return correction_of(state, bike.sensor_cell.pressure_share if bike else None)

    def look(_: pl.LazyFrame, plan: Plan) -> Mapping[str, str]:
        status = path.stat()
        return _looked(path, status.st_mtime_ns, status.st_size, plan)

    recorded = samples.scan(path, session.id)
    told = {name: how.calibration(name) for name, how in bike.channel.items()} if bike else {}
    return calibrate(recorded, told, correction, look)


@lru_cache(maxsize=256)
def _looked(path: Path, _mtime_ns: int, _size: int, plan: Plan) -> Mapping[str, str]:
    """Return the channels that cannot be believed; looked for once, as long as the file stays as it is."""
    return unsound(pl.scan_parquet(path), plan)


def with_sources(states: Sequence[PartState], sources: Mapping[str, str]) -> tuple[PartState, ...]:
    """Return the parts' states, where a worked-out channel has those of the one that it comes from.

    Args:
        states: as the logger told them.
        sources: of each worked-out channel, the recorded one.
    """
    told = {state.part for state in states}
    taken_over = {name: source for name, source in sources.items() if source in told and source != name}
    own = [state for state in states if state.part not in taken_over]
    copies = [
        PartState(state.t_s, name, state.state)
        for name, source in taken_over.items()
        for state in states
        if state.part == source
    ]
    return tuple(sorted([*own, *copies], key=lambda state: state.t_s))
