"""The curves of pulls as files, below ``/_pulls``: CSV with the correction named in every row.

The gate stands in front of them as of everything. What cannot be had is the bridge's own sentence with status 404.
"""

import asyncio
import re
from collections.abc import Callable

import polars as pl
from fastapi import FastAPI
from fastapi.responses import Response

from bridge.errors import BadValue, SootlineError
from bridge.pulls import Pull, Pulls
from bridge.pulls.best import Best
from bridge.pulls.compare import Comparison
from bridge.pulls.corrected import STANDARDS
from dashboard.components.parts import as_sentence
from dashboard.data import Source
from dashboard.pulls_data import Asked

_AS_MEASURED = "as measured"
_NUMBER = re.compile(r"[0-9]{1,9}")


def add_pull_routes(server: FastAPI, source: Source) -> None:
    """Put the files' addresses into the server."""

    @server.get("/_pulls/session/{number}/curves.csv")
    async def curves(number: str, correct: str = STANDARDS[0]) -> Response:
        def make() -> pl.DataFrame:
            return curves_frame(source.pulls(_number(number), Asked(correct)).found)

        return await _file(make, f"pulls-session-{number}.csv")

    @server.get("/_pulls/compare.csv")
    async def compared(bike: str, before: str, after: str, correct: str = STANDARDS[0]) -> Response:
        def make() -> pl.DataFrame:
            return comparison_frame(source.compare_pulls(bike, numbers(before), numbers(after), correct))

        return await _file(make, "pulls-compared.csv")

    @server.get("/_pulls/best.csv")
    async def best_mixture(bike: str, sessions: str, rpm: float, correct: str = STANDARDS[0]) -> Response:
        return await _file(
            lambda: best_frame(source.best_mixture(bike, numbers(sessions), rpm, correct)[0]),
            f"best-mixture-{rpm:.0f}.csv",
        )


async def _file(make: Callable[[], pl.DataFrame], name: str) -> Response:
    try:
        text = await asyncio.to_thread(lambda: make().write_csv())
    except SootlineError as error:
        return Response(as_sentence(str(error)), status_code=404, media_type="text/plain; charset=utf-8")
    said = {"content-disposition": f'attachment; filename="{name}"'}
    return Response(text, media_type="text/csv; charset=utf-8", headers=said)


def _number(text: str) -> int:
    """Read a session's number.

    Raises:
        BadValue: it is none that a logbook counts to.
    """
    if not _NUMBER.fullmatch(text):
        raise BadValue(f"'{text[:40]}' is no session's number; write it as 12")
    return int(text)


def numbers(text: str) -> list[int]:
    """Read sessions' numbers parted by commas.

    Raises:
        BadValue: there is something else between the commas.
    """
    words = [part.strip() for part in text.split(",") if part.strip()]
    if not all(_NUMBER.fullmatch(word) for word in words):
        raise BadValue(f"'{text[:40]}' is no list of sessions; write it as 12,13")
    return [int(word) for word in words]


def curves_frame(found: Pulls) -> pl.DataFrame:
    """Return all curves of a session below each other, each row with its pull and its correction.

    Raises:
        BadValue: there is no pull.
    """
    if not found.pulls:
        raise BadValue(f"session {found.run.session.id} has no pull, so there is no curve to write")
    return pl.concat([_curve(pull) for pull in found.pulls], how="diagonal_relaxed")


def _curve(pull: Pull) -> pl.DataFrame:
    by, along = pull.corrected.by, pull.along
    own = [
        pl.lit(pull.session).alias("session"),
        pl.lit(pull.number).alias("pull"),
        pl.lit(pull.gear, dtype=pl.Int64).alias("gear"),
        pl.lit(by.name if by else _AS_MEASURED).alias("corrected_by"),
        pl.lit(pull.corrected.factor).alias("correction_factor"),
        pl.lit(along.at if along else None, dtype=pl.String).alias("power_at"),
    ]
    return pull.curve.select(*own, pl.all())


def comparison_frame(found: Comparison) -> pl.DataFrame:
    """Return mean curves and gain by engine speed with their intervals."""
    return found.curve.select(
        pl.col("rpm"), pl.lit(found.corrected_by or _AS_MEASURED).alias("corrected_by"), pl.exclude("rpm")
    )


def best_frame(found: Best) -> pl.DataFrame:
    """Return the runs and the fitted curve, told apart by the column ``what``."""
    by = found.corrected_by or _AS_MEASURED
    runs = pl.DataFrame(
        {
            "what": ["run"] * len(found.points),
            "session": [one.session for one in found.points],
            "pull": [one.pull for one in found.points],
            "lambda": [one.lambda_ for one in found.points],
            "power_kw": [one.power_kw for one in found.points],
            "left_out": pl.Series([one.left_out for one in found.points], dtype=pl.String),
        }
    ).with_columns(pl.col("lambda", "power_kw").fill_nan(None))
    frames = [runs]
    if found.top is not None:
        frames.append(
            pl.DataFrame({"lambda": found.top.x, "power_kw": found.top.y}).select(
                pl.lit("fit").alias("what"), pl.all()
            )
        )
    whole = pl.concat(frames, how="diagonal_relaxed")
    return whole.select(
        pl.col("what"), pl.lit(found.rpm).alias("rpm"), pl.lit(by).alias("corrected_by"), pl.exclude("what")
    )
