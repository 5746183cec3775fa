"""Makes the sample logs anew: `python sample_logs/make.py` writes every log and its note from seeds.

The rides are invented. Each note says the scenario, the seed and the truth, so that what the tool makes of a log
can be held against it.
"""

from dataclasses import dataclass, replace
from pathlib import Path

import polars as pl

from bridge.emulator import (
    Circuits,
    Faults,
    LoggerSettings,
    Ride,
    Scenario,
    VirtualBike,
    channel,
    damaged,
    dyno_day,
    make_ride,
    practice,
)
from bridge.emulator.ride import Ending
from bridge.wire import decode

HERE = Path(__file__).parent
RATE_HZ = 20.0

SALTMARSH = VirtualBike(
    strokes=4,
    cylinders=2,
    displacement_cc=398.0,
    circuits=Circuits(pilot=0.91, cutaway=0.895, needle=0.89, main=0.875),
    cylinder_offset=(0.0, 0.008),
)
TEASEL = VirtualBike(
    strokes=2,
    cylinders=1,
    displacement_cc=124.0,
    idle_rpm=1800.0,
    top_rpm=11_500.0,
    circuits=Circuits(pilot=0.86, cutaway=0.87, needle=0.86, main=0.85),
    cylinder_offset=(0.0,),
    sensor_distance_mm=650.0,
    pipe_bore_mm=40.0,
)
FURROW = VirtualBike(
    strokes=4,
    cylinders=1,
    displacement_cc=497.0,
    idle_rpm=1400.0,
    top_rpm=8400.0,
    circuits=Circuits(pilot=0.90, cutaway=0.91, needle=0.93, main=0.985),
    cylinder_offset=(0.0,),
    sensor_distance_mm=700.0,
    pipe_bore_mm=45.0,
)


@dataclass(frozen=True)
class Log:
    """One sample log."""

    file: str
    scenario: Scenario
    seed: int
    to_see: str
    """What the tool should make of it."""


def twin_channels() -> tuple[str, ...]:
    """What the twin's logger prints."""
    return ("lambda_1", "lambda_2", "egt_1", "egt_2", "rpm", "throttle", "battery")


def scenario(bike: VirtualBike, names: tuple[str, ...], **wishes: object) -> Scenario:
    """Return a scenario at the sample logs' own rate."""
    return replace(Scenario(bike=bike, rate_hz=RATE_HZ, channels=tuple(channel(n) for n in names)), **wishes)


def saltmarsh_ride(
    note: str, *, boot: int, laps: int = 3, faults: Faults | None = None, ending: Ending = "chop"
) -> Scenario:
    """Return a ride of the twin."""
    return scenario(
        SALTMARSH,
        twin_channels(),
        script=practice(laps=laps, last_full_s=14.0, ending=ending, top_rpm=SALTMARSH.top_rpm),
        faults=faults or Faults(),
        logger=LoggerSettings(boot=boot, serial="0107"),
        note=note,
    )


def saltmarsh_jets(note: str, *, boot: int, main: float, faults: Faults | None = None) -> Scenario:
    """Return a short ride of the twin on other main jets: one lap and a chop, at half the rate."""
    ride = saltmarsh_ride(note, boot=boot, laps=1, faults=faults)
    bike = replace(SALTMARSH, circuits=replace(SALTMARSH.circuits, main=main))
    return replace(ride, bike=bike, rate_hz=10.0)


def teasel_ride(note: str, *, boot: int, ending: Ending, restarts_s: tuple[float, ...] = ()) -> Scenario:
    """Return a ride of the two-stroke."""
    return scenario(
        TEASEL,
        ("lambda_1", "egt_1", "cht_1", "rpm", "throttle"),
        script=practice(
            laps=3, last_full_s=12.0, ending=ending, idle_rpm=TEASEL.idle_rpm, top_rpm=TEASEL.top_rpm
        ),
        faults=Faults(short_circuit=0.12),
        logger=LoggerSettings(boot=boot, serial="0042", restarts_s=restarts_s),
        note=note,
    )


LOGS = (
    Log(
        "1-saltmarsh-agree.wire",
        saltmarsh_ride("First practice, new plugs, a clean chop at the end.", boot=11),
        101,
        "On both cylinders ring and sensor agree, by the scale that the tuner stated.",
    ),
    Log(
        "2-saltmarsh-used-plug.wire",
        saltmarsh_ride("Second practice; cylinder 2 got its old plug back, coloured as it was.", boot=12),
        102,
        "Cylinder 2's reading is not valid, whatever its ring shows: the plug was used when it went in.",
    ),
    Log(
        "3-saltmarsh-leak.wire",
        saltmarsh_ride(
            "Third practice; the exhaust joint of cylinder 2 has come loose and draws in air before its sensor.",
            boot=13,
            faults=Faults(leak=(0.0, 0.10)),
        ),
        103,
        "Cylinder 2's sensor reads lean, its ring does not: the ring is richer than the sensor. Cylinder 1 is as"
        " before.",
    ),
    Log(
        "4-teasel-rolled-in.csv",
        teasel_ride(
            "The rider shut the throttle and rolled back to the pit at idle.", boot=5, ending="roll in"
        ),
        104,
        "The reading is not valid: the engine ran on after the last full throttle and coloured the plug."
        " The log is another program's delimited text, so it comes with a map.",
    ),
    Log(
        "5-teasel-damaged.wire",
        teasel_ride(
            "A bad cable hurt some of the lines, and the logger lost its supply once.",
            boot=6,
            ending="chop",
            restarts_s=(61.0,),
        ),
        105,
        "Damaged lines and the restart are counted and cost nothing else. On a two-stroke the sensor's own accuracy is"
        " too poor for a verdict.",
    ),
    Log(
        "6-furrow-dyno.wire",
        scenario(
            FURROW,
            ("lambda_1", "egt_1", "rpm", "throttle", "roller_rpm", "air_temp", "air_pressure", "humidity"),
            script=dyno_day(pulls=4, pull_s=9.0, idle_rpm=FURROW.idle_rpm, top_rpm=FURROW.top_rpm),
            logger=LoggerSettings(boot=77, serial="0311", first_tick=2**32 - 30_000_000),
            note="A dynamometer day with a main jet that is far too small. The logger's clock wraps on the way.",
        ),
        106,
        "There is no ring on the nose: leaner than any ring. The sensor says the same. Nothing leaner than this.",
    ),
    Log(
        "7-saltmarsh-road.wire",
        saltmarsh_ride(
            "A road ride; at home the tray with the plugs was knocked off the bench.", boot=21, laps=2
        ),
        107,
        "Both plugs were read, but nobody knows which came from where: kept, and counted for no cylinder.",
    ),
    Log(
        "8-saltmarsh-165.wire",
        saltmarsh_jets("Main jets 160 to 165, which should be richer by about 0.02.", boot=31, main=0.853),
        108,
        "The promise of -0.02 was kept; ring and sensor move together.",
    ),
    Log(
        "9-saltmarsh-170.wire",
        saltmarsh_jets("Main jets 165 to 170.", boot=32, main=0.836),
        109,
        "Richer again, in both methods.",
    ),
    Log(
        "10-saltmarsh-160.wire",
        saltmarsh_jets("Main jets back to the 160 of spring.", boot=33, main=0.872),
        111,
        "As in spring: the bike's own pairs make a ring scale of their own by now.",
    ),
    Log(
        "11-saltmarsh-158.wire",
        saltmarsh_jets("Main jets 158, one small step leaner.", boot=34, main=0.884),
        110,
        "The leanest of the season, still far from stoichiometric; both methods say so.",
    ),
    Log(
        "12-saltmarsh-162.wire",
        saltmarsh_jets("Main jets 162.", boot=35, main=0.865),
        112,
        "Ring and sensor as they were against each other all season.",
    ),
    Log(
        "13-saltmarsh-162-cold.wire",
        saltmarsh_jets("Main jets 162, a cold morning.", boot=36, main=0.878),
        113,
        "Cold air is leaner by itself; both methods say so.",
    ),
    Log(
        "14-saltmarsh-joint.wire",
        saltmarsh_jets(
            "Main jets 162; the exhaust joint of cylinder 1 has come loose and draws in air before its sensor.",
            boot=37,
            main=0.867,
            faults=Faults(leak=(0.07, 0.0)),
        ),
        114,
        "Cylinder 1 departs from the bike's own history: its ring is richer than its sensor says.",
    ),
)


def foreign(ride: Ride) -> str:
    """Write a ride as another program might: semicolons, decimal commas, an AFR column, Fahrenheit, volts."""
    segment = decode(ride.wire).segments[0]
    names = [c.name for c in segment.channels]
    frame = segment.frame.rename({f"v{i}": name for i, name in enumerate(names)})
    tick = pl.col("tick").cast(pl.Int64)
    out = frame.select(
        ((tick - tick.first()) // 1000).alias("ms"),
        (pl.col("lambda_1") * 14.7).round(2).alias("afr"),
        (pl.col("egt_1") * 9 / 5 + 32).round(0).alias("egt F"),
        (pl.col("cht_1") * 9 / 5 + 32).round(0).alias("head F"),
        (0.52 + pl.col("throttle") / 100 * (4.31 - 0.52)).round(3).alias("tps"),
        pl.col("rpm").round(0).cast(pl.Int64).alias("revs"),
    )
    return out.write_csv(separator=";", null_value="-", decimal_comma=True)


def exposure(truth: pl.DataFrame, cylinder: int) -> float:
    """Return a cylinder's true lambda at full throttle, weighted to the last minute before the cut."""
    full = truth.filter(pl.col("burning"), pl.col("throttle") >= 95.0)
    age = full["t_s"].max() - full["t_s"]
    weight = (-age / 60.0).exp()
    return float((full[f"lambda_true_{cylinder}"] * weight).sum() / weight.sum())


def make(log: Log) -> None:
    """Write one log and its note."""
    ride = make_ride(log.scenario, log.seed)
    path = HERE / log.file
    if path.suffix == ".csv":
        path.write_text(foreign(ride), encoding="utf-8")
    else:
        path.write_bytes(damaged(ride.wire, log.seed) if "damaged" in log.file else ride.wire)
    numbers = range(1, log.scenario.bike.cylinders + 1)
    true = ", ".join(f"cylinder {n} {exposure(ride.truth, n):.4f}" for n in numbers)
    path.with_suffix(".md").write_text(
        f"# {log.file}\n\n{ride.note}\n\nTrue lambda at full throttle, weighted by exp(-age/60 s) before the cut:"
        f" {true}.\n\nTo be seen: {log.to_see}\n",
        encoding="utf-8",
    )
    print(f"{log.file}: {path.stat().st_size} bytes, {true}")


if __name__ == "__main__":
    for each in LOGS:
        make(each)
