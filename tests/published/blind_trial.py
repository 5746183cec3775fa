"""How well the delay and the bands' means are found in blind rides.

    python tests/published/blind_trial.py --rides 300 [--first 0] [--no-bands]

prints how far they were from the truth, how often the standard errors held, and which rides were refused.
"""

import argparse
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import polars as pl

if __name__ == "__main__":
    # another package named tests may stand before this one where no pytest sorts it out
    sys.path.insert(0, str(Path(__file__).parent))
    from blind_rides import Ridden, blind_ride, blind_spec
else:
    from tests.published.blind_rides import Ridden, blind_ride, blind_spec

from bridge.align import Found, filled_in, session_delay
from bridge.bands import bands, running
from bridge.model import Weather

RPM_STEP = 500.0


@dataclass(frozen=True)
class Outcome:
    """What a ride came to."""

    seed: int
    error_s: float
    """Delay less the truth [s]."""
    sd_s: float
    refused: str | None


def found_in(ride: Ridden, **changes) -> Found:
    """Return the delay of a ride; ``changes`` stand in for its columns by name, None for no such channel."""
    t_s = ride.frame["t_s"].to_numpy()
    columns = {
        name: ride.frame[name].cast(pl.Float64).fill_null(np.nan).to_numpy()
        for name in ride.frame.columns
        if name != "t_s"
    } | changes
    lambdas = {name: values for name, values in columns.items() if name.startswith("lambda")}
    throttle = columns.get("throttle")
    return session_delay(
        t_s,
        filled_in(t_s, columns["rpm"]),
        None if throttle is None else filled_in(t_s, throttle),
        columns.get("egt"),
        lambdas,
        ride.bike,
        Weather(),
    )


def outcome(ride: Ridden, found: Found) -> Outcome:
    """Return how far a delay is from the truth."""
    refused = None if found.delay.from_ == "ride" else (found.delay.note or "refused")
    return Outcome(ride.spec.seed, found.delay.seconds - ride.delay_s, found.delay.sd_s, refused)


def band_errors(ride: Ridden) -> tuple[np.ndarray, np.ndarray]:
    """Return each band's mean less the true mean of its steady rows, and its standard error."""
    run = ride.run
    told = bands(run, throttle_edges=(0.0, 12.5, 25.0, 50.0, 75.0, 100.0), rpm_step=RPM_STEP)
    samples = running(run).samples.collect()
    errors, sds = [], []
    for cell in told.cells.filter(~pl.col("too_little") & pl.col("lambda_se").is_not_null()).iter_rows(
        named=True
    ):
        if cell["circuit"] in ("idle", "overrun"):
            continue
        name = "lambda" if "lambda" in ride.burned else f"lambda_{cell['cylinder'] or 1}"
        inside = samples.select(
            pl.col("steady")
            & (pl.col("throttle") >= cell["throttle_from"])
            & ((pl.col("throttle") < cell["throttle_to"]) | (cell["throttle_to"] == 100.0))
            & (pl.col("rpm") >= cell["rpm_from"])
            & (pl.col("rpm") < cell["rpm_to"])
            & ~pl.col("state").cast(pl.String).is_in(["idle", "overrun"])
        )
        true = ride.burned[name][inside.to_series().fill_null(value=False).to_numpy()]
        if np.isfinite(true).any():
            errors.append(cell["lambda_mean"] - np.nanmean(true))
            sds.append(cell["lambda_se"])
    return np.array(errors), np.array(sds)


def main() -> None:
    """Ride them all and print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rides", type=int, default=300)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--no-bands", action="store_true")
    asked = parser.parse_args()
    outcomes, errors, sds = [], [], []
    for seed in range(asked.first, asked.first + asked.rides):
        ride = blind_ride(blind_spec(seed))
        outcomes.append(outcome(ride, found_in(ride)))
        if not asked.no_bands:
            error, sd = band_errors(ride)
            errors.append(error)
            sds.append(sd)
        print(outcomes[-1], flush=True)
    said = [one for one in outcomes if one.refused is None]
    off = np.array([one.error_s for one in said])
    sure = np.array([one.sd_s for one in said])
    print(f"{len(said)} of {len(outcomes)} rides told their delay, {len(outcomes) - len(said)} were refused")
    print(f"  within 20 ms: {np.mean(np.abs(off) < 0.02):.1%}, median {np.median(np.abs(off)) * 1e3:.1f} ms,")
    print(f"  95th percentile {np.quantile(np.abs(off), 0.95) * 1e3:.1f} ms, mean {off.mean() * 1e3:+.1f} ms")
    print(f"  95 % intervals hold: {np.mean(np.abs(off) <= 1.96 * sure):.1%}")
    if errors:
        off, sure = np.concatenate(errors), np.concatenate(sds)
        print(f"{len(off)} bands: 95th percentile of the error {np.quantile(np.abs(off), 0.95):.4f} lambda,")
        print(f"  mean {off.mean():+.5f}, 95 % intervals hold: {np.mean(np.abs(off) <= 1.96 * sure):.1%}")


if __name__ == "__main__":
    main()
