"""What is exported can be imported again, value for value."""

import math
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from polars.testing import assert_frame_equal

from bridge.channels import CATALOGUE
from bridge.errors import BadFile, BadValue, DiskTrouble
from bridge.imports import export_run
from bridge.imports.delimited import read_delimited
from bridge.imports.parquet import read_parquet
from bridge.logbook import files, samples
from bridge.model import Run, Session, Setup


def run(frame):
    """A session with these samples."""
    session = Session(
        id=1, started=datetime(2026, 5, 14, tzinfo=UTC), bike=None, build=None, place=None, kind=None,
        seconds=1.0, samples=frame.height, state="sealed", source="x",
    )  # fmt: skip  # a list of fields reads best in lines
    return Run(session, None, Setup(), frame.lazy())


FRAME = pl.DataFrame(
    {
        "t_s": [0.0, 0.1, 0.30000000000000004, 1e3],
        "lambda_1": pl.Series([0.871, None, 2 / 3, 0.4], dtype=pl.Float32),
        "egt_1": pl.Series([588.0, 588.1, None, -60.0], dtype=pl.Float32),
        "extra": pl.Series([1e-7, 2e12, None, -3.25], dtype=pl.Float32),
    }
)


@pytest.mark.parametrize("ending", [".csv", ".parquet", ".CSV"])
def test_out_and_in_again(tmp_path, ending):
    """A session that was written out and read in without a map is the same, value for value."""
    path = tmp_path / f"out{ending}"

    assert export_run(run(FRAME), path) == 4
    back = read_parquet(path) if ending == ".parquet" else read_delimited(path, path.read_bytes(), None)

    assert_frame_equal(back.frame, FRAME, check_exact=True)
    assert back.units == {"lambda_1": "1", "egt_1": "Cel", "extra": ""}
    assert back.counts == {"rows_read": 4, "rows_refused": 0}


@settings(max_examples=50, deadline=None)
@given(
    st.lists(st.floats(0, 80_000, width=64), min_size=1, max_size=8, unique=True),
    st.sampled_from(sorted(CATALOGUE)),
    st.data(),
)
def test_any_samples_out_and_in_again(tmp_path_factory, times, name, data):
    """Whatever values a channel may have, they come back from CSV to the last bit."""
    channel = CATALOGUE[name]
    number = st.none() | st.floats(channel.low, channel.high).map(np.float32).map(float)
    column = data.draw(st.lists(number, min_size=len(times), max_size=len(times)))
    inside = [v if v is not None and channel.low <= v <= channel.high else None for v in column]
    frame = pl.DataFrame({"t_s": sorted(times), name: pl.Series(inside, dtype=pl.Float32)})
    path = tmp_path_factory.mktemp("out") / "out.csv"

    export_run(run(frame), path)
    back = read_delimited(path, path.read_bytes(), None)

    assert_frame_equal(back.frame, frame, check_exact=True)


def test_units_stand_in_the_parquet_file(tmp_path):
    """A Parquet export says the unit of each channel in its own metadata."""
    export_run(run(FRAME), tmp_path / "out.parquet")

    assert samples.units(tmp_path / "out.parquet") == {
        "t_s": "s",
        "lambda_1": "1",
        "egt_1": "Cel",
        "extra": "",
    }


def test_parquet_of_somebody_else(tmp_path):
    """A foreign Parquet file needs a time and a channel; what does not rise is refused."""
    path = tmp_path / "other.parquet"
    pl.DataFrame({"t_s": [0, 1, 1], "rpm": [5000, 99_999, 5], "who": ["a", "b", "c"]}).write_parquet(path)

    back = read_parquet(path)

    assert back.frame.to_dict(as_series=False) == {"t_s": [0.0, 1.0], "rpm": [5000.0, None]}
    assert back.counts == {"rows_read": 2, "rows_refused": 1}
    assert any("who" in note for note in back.notes)
    pl.DataFrame({"a": [1]}).write_parquet(path)
    with pytest.raises(BadFile, match="t_s"):
        read_parquet(path)
    path.write_bytes(b"PAR1 but not really")
    with pytest.raises(BadFile, match="no Parquet"):
        read_parquet(path)


@pytest.mark.parametrize(
    ("name", "part"), [("out.mf4", "MDF 4"), ("out.xlsx", r"\.csv or \.parquet"), ("out", "end the name")]
)
def test_an_ending_that_nobody_writes(tmp_path, name, part):
    """Another ending is refused with those that can be written, and no file is made."""
    with pytest.raises(BadValue, match=part):
        export_run(run(FRAME), tmp_path / name)
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_not_there(tmp_path):
    """A folder that is not there is named."""
    with pytest.raises(BadFile, match="no folder"):
        export_run(run(FRAME), tmp_path / "none" / "out.csv")


@pytest.mark.parametrize("ending", [".csv", ".parquet"])
def test_a_folder_where_the_file_should_be(tmp_path, ending):
    """A folder that stands where the file should is refused, and stays."""
    (tmp_path / f"out{ending}").mkdir()
    with pytest.raises(BadFile, match=r"out\.\w+ is a folder"):
        export_run(run(FRAME), tmp_path / f"out{ending}")
    assert (tmp_path / f"out{ending}").is_dir()


@pytest.mark.parametrize("ending", [".csv", ".parquet"])
def test_a_link_goes_on_pointing_to_the_export(tmp_path, ending):
    """Where a link stands, the file that it points to is written and the link stays one."""
    target, link = tmp_path / "far" / f"real{ending}", tmp_path / f"out{ending}"
    target.parent.mkdir()
    link.symlink_to(target)

    export_run(run(FRAME), link)

    assert link.is_symlink()
    assert [p.name for p in target.parent.iterdir()] == [target.name]
    assert target.stat().st_size > 0


@pytest.mark.parametrize("ending", [".csv", ".parquet"])
def test_a_full_disk_leaves_no_half_export(tmp_path, monkeypatch, ending):
    """When the disk fills up while an export is written, what stood there still stands there, alone."""
    path = tmp_path / f"out{ending}"
    path.write_text("an earlier export", encoding="utf-8")

    def full(_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(files, "_sync", full)
    with pytest.raises(DiskTrouble, match="No space left"):
        export_run(run(FRAME), path)
    assert path.read_text(encoding="utf-8") == "an earlier export"
    assert list(tmp_path.iterdir()) == [path]


def test_parquet_rows_without_a_time_are_told_as_such(tmp_path):
    """A row without a time is refused for that, and one whose time does not come after the last for that."""
    path = tmp_path / "other.parquet"
    pl.DataFrame({"t_s": [0.0, None, math.nan, math.inf, 1.0, 0.5], "rpm": [1.0] * 6}).write_parquet(path)

    back = read_parquet(path)

    assert back.counts == {"rows_read": 2, "rows_refused": 4}
    assert back.notes[:2] == (
        "3 rows refused that had no time",
        "1 row refused whose time did not come after the row before",
    )


def test_parquet_of_decimals(tmp_path):
    """Times and values that are decimals are read like any number."""
    path = tmp_path / "other.parquet"
    exact = pl.DataFrame({"t_s": ["0.00", "0.25"], "rpm": ["5000.5", "5001"]})
    exact.with_columns(pl.all().cast(pl.Decimal(10, 2))).write_parquet(path)

    assert read_parquet(path).frame.to_dict(as_series=False) == {"t_s": [0.0, 0.25], "rpm": [5000.5, 5001.0]}


def test_parquet_that_counts_since_long_ago_begins_with_the_session(tmp_path):
    """A time that counts since 1970 begins at zero with the session; one longer than any session is refused."""
    path = tmp_path / "other.parquet"
    pl.DataFrame({"t_s": [1.78e9, 1.78e9 + 2], "rpm": [1.0, 2.0]}).write_parquet(path)
    assert read_parquet(path).frame["t_s"].to_list() == [0.0, 2.0]
    pl.DataFrame({"t_s": [None, 0.0, 1e12], "rpm": [1.0, 2.0, 3.0]}).write_parquet(path)
    with pytest.raises(BadFile, match=r"row 3: .*366 days"):
        read_parquet(path)


def test_an_export_leaves_no_half_file(tmp_path):
    """When the samples cannot be read to the end, what stood at the target still stands there."""
    path = tmp_path / "out.csv"
    path.write_text("an earlier export", encoding="utf-8")
    broken = replace(run(FRAME), samples=pl.scan_parquet(Path(tmp_path / "gone.parquet")))
    with pytest.raises(FileNotFoundError):
        export_run(broken, path)
    assert path.read_text(encoding="utf-8") == "an earlier export"
