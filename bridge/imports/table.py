"""A delimited text as columns of text: encoding, delimiter, header, and the rows that do not fit it."""

import csv
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path

import polars as pl

from bridge.channels.catalogue import is_plain
from bridge.errors import BadFile, printable

DELIMITERS = (",", ";", "\t")
LINE, ROW = "\0line", "\0row"
"""Columns of our own; a name with a control character is refused, so no column of a file can be called that."""
MISSING = ("", "-", "nan")
"""Fields, in small letters, that hold no value."""
_NOT_TEXT = dict.fromkeys(set(range(32)) - set(b"\t\n\r\f"))
_MARKS = {
    b"\xff\xfe\0\0": "utf-32",
    b"\0\0\xfe\xff": "utf-32",
    b"\xff\xfe": "utf-16",
    b"\xfe\xff": "utf-16",
}
"""What a text in a wide encoding begins with; the longer marks first, since one holds the other."""


@dataclass(frozen=True)
class TextTable:
    """What a delimited file holds, still as text.

    Attributes:
        frame: ``LINE`` (number in the file, from 1), ``ROW`` (of the rows below the header, from 0), then the
            columns, each a string without blanks at its ends.
        columns: names of the columns as the file has them.
        delimiter: what stands between fields.
        refused: lines with more or fewer fields than the header.
        notes: what the reader had to decide.
    """

    frame: pl.DataFrame
    columns: list[str]
    delimiter: str
    refused: list[int]
    notes: tuple[str, ...]


def read_table(path: Path, data: bytes, delimiter: str | None = None) -> TextTable:
    """Read a delimited file as text.

    Args:
        path: its name, for sentences.
        data: its bytes.
        delimiter: what stands between fields; found from the header where left out.

    Raises:
        BadFile: it is no text, or has no header with rows below.
    """
    text, notes = _decode(path, data)
    lines = pl.DataFrame({"text": text.replace("\r\n", "\n").replace("\r", "\n").split("\n")})
    lines = lines.with_row_index(LINE, offset=1).filter(pl.col("text").str.strip_chars() != "")
    if lines.height < 2:
        raise BadFile(f"{path} is no log: it needs a header with the names of its columns, and rows below it")
    header = str(lines["text"][0])
    delimiter = delimiter or max(DELIMITERS, key=lambda d: _outside_quotes(header).count(d))
    names = [name.strip() for name in next(csv.reader([header], delimiter=delimiter))]
    check_names(f"{path}, line {lines[LINE][0]}", names)
    below = lines[1:].with_row_index(ROW)
    # a delimiter between quotes is part of a field
    unquoted = pl.col("text")
    if '"' in text:
        unquoted = unquoted.str.replace_all(r'"[^"]*"', "")
    whole = ~unquoted.str.contains('"', literal=True)
    fits = whole & (unquoted.str.count_matches(delimiter, literal=True) == len(names) - 1)
    refused = below.filter(~fits)[LINE].to_list()
    below = below.filter(fits)
    twice = [name for name, count in Counter(names).items() if count > 1 and name]
    if twice:
        notes.append(f"the columns {', '.join(twice)} stand there more than once; the first of each was read")
    if below.is_empty():
        frame = pl.DataFrame(schema=dict.fromkeys(map(str, range(len(names))), pl.String))
    else:
        frame = pl.read_csv(
            BytesIO("\n".join(below["text"]).encode()),
            has_header=False,
            separator=delimiter,
            infer_schema=False,
            new_columns=[f"{index}" for index in range(len(names))],
            quote_char='"' if '"' in text else None,
        ).with_columns(pl.all().fill_null(""))
    first = {name: str(index) for index, name in reversed(list(enumerate(names))) if name}
    frame = frame.select(
        below[LINE],
        below[ROW],
        *(pl.col(first[name]).str.strip_chars().alias(name) for name in dict.fromkeys(names) if name),
    )
    return TextTable(frame, [name for name in dict.fromkeys(names) if name], delimiter, refused, tuple(notes))


def numbers(frame: pl.DataFrame, columns: list[str], decimal: str) -> pl.DataFrame:
    """Return columns of text as numbers; null where there is none.

    Args:
        frame: the text.
        columns: names of its columns.
        decimal: the decimal sign, a point or a comma.
    """
    return frame.select(_number(pl.col(name), decimal) for name in dict.fromkeys(columns))


def _number(text: pl.Expr, decimal: str) -> pl.Expr:
    if decimal == ",":
        text = text.str.replace(",", ".", literal=True)
    missing = text.str.to_lowercase().is_in(MISSING)
    number = pl.when(missing).then(None).otherwise(text.cast(pl.Float64, strict=False))
    return number.alias(text.meta.output_name())


def rows(count: int) -> str:
    """Return a number of rows in words."""
    return "1 row" if count == 1 else f"{count} rows"


def check_names(place: str, names: Iterable[str]) -> None:
    """Refuse names of columns that hold a control character: no screen can show them and a terminal obeys them.

    Args:
        place: the file, and where in it.
        names: of its columns.

    Raises:
        BadFile: one does.
    """
    for name in names:
        if not is_plain(name):
            raise BadFile(
                f"{place}: the column '{printable(name)}' has a character in its name that cannot be shown; give it"
                " a plain name"
            )


def _decode(path: Path, data: bytes) -> tuple[str, list[str]]:
    text, notes = _as_text(data)
    if text[:4096].translate(_NOT_TEXT) != text[:4096]:
        raise BadFile(
            f"{path} is no log: it holds bytes that are no text; give a delimited text file with a header"
        )
    return text, notes


def _as_text(data: bytes) -> tuple[str, list[str]]:
    encoding = next((name for mark, name in _MARKS.items() if data.startswith(mark)), "utf-8-sig")
    try:
        return data.decode(encoding), []
    except UnicodeDecodeError:
        return data.decode("latin-1"), ["the text is not UTF-8 and was read as Latin-1"]


def _outside_quotes(text: str) -> str:
    return "".join(text.split('"')[::2])
