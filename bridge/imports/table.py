"""A delimited text as columns of text: encoding, delimiter, header, and the rows that do not fit it."""

import csv
from collections import Counter
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path

import polars as pl

from bridge.errors import BadFile

DELIMITERS = (",", ";", "\t")
LINE, ROW = "\0line", "\0row"
"""Columns of our own; a text file with a zero byte is no text, so none of its columns can be called that."""
_NOT_TEXT = bytes(set(range(32)) - set(b"\t\n\r\f"))


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
    rows = lines[1:].with_row_index(ROW)
    # a delimiter between quotes is part of a field
    unquoted = pl.col("text")
    if '"' in text:
        unquoted = unquoted.str.replace_all(r'"[^"]*"', "")
    whole = ~unquoted.str.contains('"', literal=True)
    fits = whole & (unquoted.str.count_matches(delimiter, literal=True) == len(names) - 1)
    refused = rows.filter(~fits)[LINE].to_list()
    rows = rows.filter(fits)
    twice = [name for name, count in Counter(names).items() if count > 1 and name]
    if twice:
        notes.append(f"the columns {', '.join(twice)} stand there more than once; the first of each was read")
    if rows.is_empty():
        frame = pl.DataFrame(schema=dict.fromkeys(map(str, range(len(names))), pl.String))
    else:
        frame = pl.read_csv(
            BytesIO("\n".join(rows["text"]).encode()),
            has_header=False,
            separator=delimiter,
            infer_schema=False,
            new_columns=[f"{index}" for index in range(len(names))],
            quote_char='"' if '"' in text else None,
        ).with_columns(pl.all().fill_null(""))
    first = {name: str(index) for index, name in reversed(list(enumerate(names))) if name}
    frame = frame.select(
        rows[LINE],
        rows[ROW],
        *(pl.col(first[name]).str.strip_chars().alias(name) for name in dict.fromkeys(names) if name),
    )
    return TextTable(frame, [name for name in dict.fromkeys(names) if name], delimiter, refused, tuple(notes))


def _decode(path: Path, data: bytes) -> tuple[str, list[str]]:
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        try:
            return data.decode("utf-16"), []
        except UnicodeDecodeError:
            pass
    if data[:4096].translate(None, _NOT_TEXT) != data[:4096]:
        raise BadFile(
            f"{path} is no log: it holds bytes that are no text; give a delimited text file with a header"
        )
    try:
        return data.decode("utf-8-sig"), []
    except UnicodeDecodeError:
        return data.decode("latin-1"), ["the text is not UTF-8 and was read as Latin-1"]


def _outside_quotes(text: str) -> str:
    return "".join(text.split('"')[::2])
