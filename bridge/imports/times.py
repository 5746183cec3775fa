"""The time of each row of a foreign log: a count, moments in ISO 8601, or even steps."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import polars as pl

from bridge.errors import BadFile
from bridge.imports.map import TimeColumn, TimeStamps, TimeSteps
from bridge.imports.table import LINE, ROW, TextTable, numbers
from bridge.model.moments import FIRST_YEAR, LAST_YEAR, LONGEST, LONGEST_S
from bridge.units import convert

TIME_COLUMNS = ("t_s", "time_s")
"""Names under which a column of seconds needs no map."""
_DAY_S = 86_400.0
_PUT_BACK_S = 60.0
"""A clock on the wall that steps back further was put back; less is a row out of its order [s]."""


def with_time(
    path: Path,
    table: TextTable,
    time: TimeColumn | TimeStamps | TimeSteps,
    decimal: str,
) -> tuple[pl.DataFrame, datetime | None, list[str]]:
    """Lay the rows of a delimited log on time.

    Args:
        path: its name, for sentences.
        table: the log.
        time: where its time is told.
        decimal: its decimal sign.

    Returns:
        ``LINE`` and ``t_s`` [s], null where it cannot be read; when the log began, where it tells; notes.

    Raises:
        BadFile: there is no time in it.
    """
    lines = table.frame.select(LINE)
    if isinstance(time, TimeSteps):
        # a row that is refused further on still took its step of time
        return lines.with_columns(t_s=table.frame[ROW] * time.step_s), None, []
    if isinstance(time, TimeStamps):
        return _stamped(path, lines, table.frame[time.column])
    count = numbers(table.frame, [time.column], decimal).to_series()
    if not count.is_not_null().any():
        raise BadFile(f"{path}: the column '{time.column}' holds no numbers, so it cannot be the time")
    if time.column not in TIME_COLUMNS:
        count = count - count.drop_nulls().first()
    return lines.with_columns(t_s=since_start(convert(count, time.unit, "s"))), None, []


def since_start(seconds: pl.Series) -> pl.Series:
    """Return seconds since the session's start [s].

    A count that began long before, such as since the logger was switched on, begins with the session; one whose
    first row lies within a day is taken as it is.
    """
    known = seconds.drop_nulls().head(1).to_list()
    return seconds if not known or 0.0 <= known[0] <= _DAY_S else seconds - known[0]


def refuse_too_long(path: Path, frame: pl.DataFrame, place: str, word: str) -> None:
    """Refuse a log that is longer than any session.

    Args:
        path: its name, for the sentence.
        frame: ``t_s`` [s] and where each row stands in the file.
        place: the column with the latter.
        word: what that counts, such as ``line``.

    Raises:
        BadFile: it is; the first row that is too late is named.
    """
    late = frame.filter(pl.col("t_s") > LONGEST_S)
    if not late.is_empty():
        raise BadFile(
            f"{path}, {word} {late[place][0]}: its time is {late['t_s'][0]:.6g} s after the start, and no session"
            f" is longer than {LONGEST}; look at this row, and at the unit of the time"
        )


_ISO = (
    r"^((\d{4})-\d\d-\d\d)[T ](\d\d:\d\d:\d\d)(?:[.,](\d{1,9}))?"
    r"\s*(Z|z|[+-](?:0\d|1[0-4]):?[0-5]\d)?$"
)


def _stamped(
    path: Path, lines: pl.DataFrame, stamps: pl.Series
) -> tuple[pl.DataFrame, datetime | None, list[str]]:
    day, year, clock, digits, zone = (stamps.str.extract(_ISO, group) for group in range(1, 6))
    wall = (
        (day + " " + clock)
        .str.to_datetime("%Y-%m-%d %H:%M:%S", strict=False, time_unit="us")
        .dt.epoch("s")
        .set(~year.cast(pl.Int32).is_between(FIRST_YEAR, LAST_YEAR).fill_null(value=False), None)
    )
    known = wall.is_not_null()
    if not known.any():
        raise BadFile(
            f"{path}: the column '{stamps.name}' holds no moment in ISO 8601 from {FIRST_YEAR} to {LAST_YEAR}, such"
            " as 2026-05-14T11:20:00Z"
        )
    # a line that is no moment has no zone either, and stays null
    local = (known & zone.is_null()).arg_true()
    whole = wall - _ahead_s(zone)
    notes: list[str] = []
    if len(local):
        seconds, notes = _by_local_rules(wall.gather(local), all_of_them=len(local) == known.sum())
        whole = whole.scatter(local, seconds)
    fraction = ("0." + digits.fill_null("0")).cast(pl.Float64)
    at = known.arg_true()[0]
    # the whole seconds are taken from each other first: a moment since 1970 leaves a float few digits for the
    # rest
    t_s = (whole - whole[at]).cast(pl.Float64) + (fraction - fraction[at])
    began = datetime.fromtimestamp(0, UTC) + timedelta(seconds=whole[at]) + timedelta(seconds=fraction[at])
    return lines.with_columns(t_s=t_s), began, notes


def _ahead_s(zone: pl.Series) -> pl.Series:
    """Return how far each zone is ahead of UTC [s]; 0 for Z and where there is none."""
    digits = zone.str.replace(":", "", literal=True)
    hours, minutes = (digits.str.slice(at, 2).cast(pl.Int64, strict=False) for at in (1, 3))
    size = (hours * 3600 + minutes * 60).fill_null(0)
    return size.zip_with(~zone.str.starts_with("-").fill_null(value=False), -size)


def _by_local_rules(wall: pl.Series, *, all_of_them: bool) -> tuple[pl.Series, list[str]]:
    """Return the seconds since 1970 in UTC of times on this machine's wall, and what had to be decided.

    Args:
        wall: times on the wall, as seconds since 1970 [s], in the file's order.
        all_of_them: whether no row of the file has a zone.
    """
    frame = pl.DataFrame({"wall": wall, "minute": wall // 60})
    minutes = frame["minute"].unique()
    offsets = pl.DataFrame(
        {"minute": minutes}
        | {f"offset_{fold}": [_offset_s(minute * 60, fold) for minute in minutes] for fold in (0, 1)}
    )
    frame = frame.join(offsets, on="minute", how="left", maintain_order="left")
    ahead, decided = _choose_offsets(frame)
    hours, rest = divmod(abs(ahead[0]) // 60, 60)
    zone = f"{'-' if ahead[0] < 0 else '+'}{hours:02d}{rest:02d}"
    one = "1 moment has no zone and was" if len(wall) == 1 else f"{len(wall)} moments have no zone and were"
    which = "the moments have no zone and were" if all_of_them else one
    return wall - ahead, [f"{which} taken as this machine's time ({zone} at the first)", *decided]


def _choose_offsets(frame: pl.DataFrame) -> tuple[pl.Series, list[str]]:
    """Return how far the clock of each row is ahead of UTC [s], and notes.

    Args:
        frame: ``wall`` [s], and ``offset_0`` and ``offset_1`` [s] by the machine's clock: they differ over the hour
            that it leaves out (the second is larger) and the hour that it goes through twice (the first is larger).
    """
    first, second = frame["offset_0"], frame["offset_1"]
    if (first < second).any():
        # the logger's clock was not put forward, so it will not have been put back either
        same = pl.repeat(first[0], len(first), dtype=first.dtype, eager=True)
        return same, ["this machine's clock was put forward over some of them, so all were taken in one zone"]
    twice = first > second
    if not twice.any():
        return first, []
    count = "1 of them stands" if twice.sum() == 1 else f"{twice.sum()} of them stand"
    return first.zip_with(~_second_time(frame["wall"], twice), second), [
        f"{count} in an hour that this machine's clock went through twice; time was taken to go on there"
    ]


def _second_time(wall: pl.Series, twice: pl.Series) -> pl.Series:
    """Return which rows belong to the second passage of an hour that the clock went through twice.

    Those from where the clock was put back. Where that is not seen, the first passage is as good a guess as the
    second, except for a log that begins in such an hour and goes on behind it: only after the second one does it
    go on without a gap.
    """
    put_back = twice & (wall.diff() < -_PUT_BACK_S).fill_null(value=False)
    frame = pl.DataFrame({"stretch": twice.rle_id(), "put_back": put_back})
    second = twice & frame.select(pl.col("put_back").cum_sum().over("stretch") > 0).to_series()
    if twice[0] and not twice.all() and not put_back.any():
        second = second | (frame["stretch"] == 0)
    return second


def _offset_s(wall_s: int, fold: int) -> int:
    """Return how far this machine's clock is ahead of UTC at a time on the wall [s]."""
    ahead = (datetime(1970, 1, 1) + timedelta(seconds=wall_s)).replace(fold=fold).astimezone().utcoffset()  # noqa: DTZ001  # a time on the wall
    return round(ahead.total_seconds()) if ahead is not None else 0
