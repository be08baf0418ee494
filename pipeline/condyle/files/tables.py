"""Tables on disk: the same numbers give the same bytes, and no cell runs as a formula."""

import re
from collections.abc import Container, Iterable
from numbers import Integral, Real
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from condyle.files.atomic import atomic_path, write_text
from condyle.mechanics.arrays import FloatArray

_FORMULA = re.compile(r"\s*[=+\-@\uff1d\uff0b\uff0d\uff20]|[\t\r\n]")  # the full-width signs start formulas too
_SPECIAL = re.compile(r'[",\r\n]')
_PLAIN_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")


DIGITS, SUMMED_DIGITS = 9, 13


def write_csv(path: str | Path, frame: pd.DataFrame, summed: Container[str] = ()) -> None:
    """Write a table as CSV: UTF-8, comma, a line feed a row, numbers to 9 significant digits, missing values empty.

    Columns in ``summed`` have 13, so that what they sum to is met within 1e-9.
    """
    write_text(path, csv_text(frame, summed))


def csv_text(frame: pd.DataFrame, summed: Container[str] = ()) -> str:
    """The table as CSV text; ``-0.0`` is written ``0.0``, true and false as words, no text as a formula."""
    columns = [_cells(column, SUMMED_DIGITS if name in summed else DIGITS) for name, column in frame.items()]
    if len(columns) == 1:
        columns = [[cell or '""' for cell in columns[0]]]  # readers skip an empty line
    rows = map(",".join, zip(*columns, strict=True))
    return "\n".join([",".join(_quoted(neutralised(str(name))) for name in frame.columns), *rows, ""])


def write_parquet(path: str | Path, frame: pd.DataFrame) -> None:
    """Write a table as Parquet, without the index; the same table gives the same bytes."""
    import pyarrow as pa  # heavy: imported only where Parquet is written
    import pyarrow.parquet as pq

    with atomic_path(path) as temporary:
        pq.write_table(pa.Table.from_pandas(frame, preserve_index=False).replace_schema_metadata(None), temporary)


def neutralised(text: str) -> str:
    """The text, with an apostrophe before what a spreadsheet would run; a plain number in text stays as it is."""
    if _FORMULA.match(text) and not _PLAIN_NUMBER.fullmatch(text):
        text = f"'{text}"
    return text.replace("\r\n", "\n").replace("\r", "\n")  # a bare carriage return would end the row


def _quoted(text: str) -> str:
    # the library's writer would look at every number too: a third of the time of a table
    return '"' + text.replace('"', '""') + '"' if _SPECIAL.search(text) else text


def number(value: float) -> str:
    """A number to 9 significant digits, the shortest way, always with a point or an exponent; empty where missing."""
    return _numbers(np.array([value], dtype=float), DIGITS)[0]


def _numbers(values: FloatArray, digits: int) -> list[str]:
    # 9 digits: float32 coordinates come back bit for bit, and another machine's rounding does not show;
    # one formatting of the whole column is several times as fast as one a cell
    cells = (f"%.{digits}g " * values.size % tuple(values + 0.0)).split()  # -0.0 + 0.0 is 0.0
    for i in np.flatnonzero(np.isnan(values)):
        cells[i] = ""
    with np.errstate(invalid="ignore"):
        near_whole = np.abs(values - np.rint(values)) <= 1e-8 * np.abs(values)
    for i in np.flatnonzero(near_whole):
        if cells[i].lstrip("-").isdigit():
            cells[i] += ".0"
    return cells


def _cells(column: "pd.Series[Any]", digits: int) -> Iterable[str]:
    kind = column.dtype.kind if isinstance(column.dtype, np.dtype) else ""
    if kind == "f":
        return _numbers(column.to_numpy(dtype=float), digits)
    values: list[Any] = column.tolist()
    if kind in {"i", "u"}:
        return map(str, values)
    if {*map(type, values)} <= {
        str,
        type(None),
        float,
    }:  # a missing text may be NaN; most text columns hold a few words many times
        words = {value: _quoted(_cell(value)) for value in set(values)}
        return map(words.__getitem__, values)
    return (_quoted(_cell(value)) for value in values)


def _cell(value: Any) -> str:
    if isinstance(value, str):
        return neutralised(value)
    if value is None or value is pd.NA or value is pd.NaT:
        return ""
    if isinstance(value, bool | np.bool_):
        return "true" if value else "false"
    if isinstance(value, Integral):
        return str(int(value))
    if isinstance(value, Real):
        return number(float(value))
    if isinstance(value, list | tuple):
        return neutralised(";".join(map(str, value)))
    return neutralised(str(value))
