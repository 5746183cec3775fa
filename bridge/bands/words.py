"""What is to be known of a session's bands, one sentence each."""

from bridge.bands.edges import Banding
from bridge.bands.running import Running
from bridge.bands.steady import STATES
from bridge.channels import find
from bridge.model import Run
from bridge.model.needle import needle_geometry
from bridge.model.sensor_known import state_of
from bridge.model.weather import weather_notes
from bridge.physics.jets import shares_status


def notes_of(
    run: Run, found: Running, division: Banding, fuel_note: str | None, seconds: dict[str, float]
) -> tuple[str, ...]:
    """Return what was assumed or left out.

    Args:
        run: the session.
        found: it as it burned.
        division: its bands.
        fuel_note: what was assumed of the fuel; None where nothing was.
        seconds: of each state.
    """
    edges = division.throttle_edges or (0.0, 100.0)
    several = found.lambda_columns == ("lambda",) and (run.bike is None or run.bike.cylinders > 1)
    found_notes = (
        found.delay.note,
        fuel_note,
        *run.notes,
        *weather_notes(run.setup.weather),
        *_of_sensors(run, found),
        None if found.has_throttle else "there is no throttle channel: bands of engine speed alone",
        None
        if division.circuits or not found.has_throttle
        else "the carburettor is of constant depression: its slide follows the air and not the hand, so an"
        " opening of the throttle stands for no circuit",
        shares_status(needle_geometry(run.setup.of_cylinder(1)))
        if division.circuits and found.has_throttle
        else None,
        f"openings under {edges[0]:g} % and over {edges[-1]:g} % are in no band, but for a shut throttle"
        if division.leaves_out
        else None,
        "one lambda channel stands for the engine as a whole: no cylinder can be told from another"
        if several
        else None,
        _misfire(seconds),
        _left_out(seconds),
    )
    return tuple(dict.fromkeys(note for note in found_notes if note))


def _of_sensors(run: Run, found: Running) -> list[str]:
    """Return what was assumed of the sensors."""
    numbers = [hit[1] for name in found.lambda_columns if (hit := find(name))]
    return [note for number in numbers for note in state_of(run, number).assumed]


def _misfire(seconds: dict[str, float]) -> str | None:
    lost = seconds["misfire suspected"]
    if lost < 0.05:
        return None
    return (
        f"for {lost:.1f} s lean spikes came together with a stumble or a cooling exhaust: misfire is suspected there,"
        " which reads lean whatever the mixture was; look for its cause before any jet is changed"
    )


def _left_out(seconds: dict[str, float]) -> str:
    others = [f"{why} {s:.1f} s" for why, s in seconds.items() if why != "steady" and s >= 0.05]
    whole = sum(seconds[state] for state in STATES)
    return f"{seconds['steady']:.1f} s of {whole:.1f} s are steady running" + (
        f"; besides: {', '.join(others)}" if others else ""
    )
