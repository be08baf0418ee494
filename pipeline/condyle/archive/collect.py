"""From each session's results to one set of tables: session after session, in order of folder, never all at once."""

import csv
import io
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any, Protocol, TextIO

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv as pa_csv

from condyle.archive.doubled import Names
from condyle.archive.record import TABLES, Record
from condyle.archive.row_groups import RowGroupWriter, row_group_writer
from condyle.errors import DataError
from condyle.files.atomic import atomic_path
from condyle.files.tables import neutralised, number

_TEXT, _NUMBER, _COUNT, _TRUTH = pa.string(), pa.float64(), pa.int64(), pa.bool_()
_IDENTITY = {"participant": _TEXT, "session": _TEXT, "trial": _TEXT}
_VALUE = {"value": _NUMBER, "unit": _TEXT, "lower": _NUMBER, "upper": _NUMBER}
_COUNTED = {"side": _TEXT, "bout": _COUNT, "repetition": _COUNT}
COLUMNS: dict[str, dict[str, pa.DataType]] = {
    "measures": {
        **_IDENTITY,
        "task": _TEXT,
        "condition": _TEXT,
        **_COUNTED,
        "measure": _TEXT,
        **_VALUE,
        "overridden": _TEXT,
    },
    "contributions": {**_IDENTITY, **_COUNTED, "measure": _TEXT, "source": _TEXT, **_VALUE, "overridden": _TEXT},
    "repetitions": {
        **_IDENTITY,
        **_COUNTED,
        **dict.fromkeys(("start_s", "bottom_s", "end_s", "depth_mm"), _NUMBER),
        **dict.fromkeys(("direction", "cause", "explains"), _TEXT),
        "confidence": _NUMBER,
        **dict.fromkeys(("from_below", "findings"), _TEXT),
        "valid": _TRUTH,
        **dict.fromkeys(("planar_reading", "misread"), _TEXT),
    },
    "quality": {
        **_IDENTITY,
        **dict.fromkeys(("subject", "check"), _TEXT),
        **dict.fromkeys(("value", "limit"), _NUMBER),
        **dict.fromkeys(("unit", "verdict", "advice"), _TEXT),
    },
}
MOST_ROW_GROUPS = 10_000
SESSIONS = ("folder", "participant", "session", "status", "reason", "seconds")


class Reader(Protocol):
    """Someone who wants to see every session's tables pass by: the overview."""

    def see(self, record: Record, tables: dict[str, pa.Table]) -> None:
        """One session, in order of folder."""


class Collector:
    """The tables of an archive in the making. Sessions are given to it in order of folder, each once."""

    def __init__(
        self,
        stack: ExitStack,
        sessions_folder: Path,
        out: Path,
        as_csv: bool,
        readers: tuple[Reader, ...],
        sessions_in_group: int,
    ) -> None:
        self.sessions_folder = sessions_folder
        self.sessions_in_group = sessions_in_group
        self.group: dict[str, list[pa.Table]] = {name: [] for name in TABLES}
        self.sessions = 0
        self.readers = readers
        self.names = Names()
        self.parquet: dict[str, RowGroupWriter] = {}
        self.csv: dict[str, TextIO] = {}
        for name in TABLES:
            temporary = stack.enter_context(atomic_path(out / f"{name}.parquet"))
            schema = pa.schema(list(COLUMNS[name].items()))
            self.parquet[name] = stack.enter_context(row_group_writer(temporary, schema))
        for name in (*(TABLES if as_csv else ()), "sessions"):
            temporary = stack.enter_context(atomic_path(out / f"{name}.csv"))
            stream = open(temporary, "w", encoding="utf-8", errors="backslashreplace", newline="")  # noqa: SIM115
            self.csv[name] = stack.enter_context(stream)
            _write_row(stream, SESSIONS if name == "sessions" else tuple(COLUMNS[name]))

    def add(self, record: Record) -> Record:
        """Take a session into the tables; returns its record as it then stands in sessions.csv.

        A second session of the same participant and name stays out.
        """
        tables: dict[str, pa.Table] = {}
        record, _ = self.names.met(record)
        if record.status in ("done", "rejected"):
            record, tables = self._read(record)
        for name, table in tables.items():
            if table.num_rows:
                self.group[name].append(table)
            if name in self.csv:
                self.csv[name].write(self._text(record, name))
        self.sessions += 1
        if self.sessions % self.sessions_in_group == 0:
            self.end_group()
        row = (record.folder, record.participant, record.session, record.status, record.reason, number(record.seconds))
        _write_row(self.csv["sessions"], row)
        for reader in self.readers:
            reader.see(record, tables)
        return record

    def end_group(self) -> None:
        """Write the sessions since the last row group as one."""
        for name, parts in self.group.items():
            if parts:
                self.parquet[name].write_table(pa.concat_tables(parts))
                parts.clear()

    def _read(self, record: Record) -> tuple[Record, dict[str, pa.Table]]:
        folder = self.sessions_folder / record.folder
        try:
            return record, {name: read_table(folder / f"{name}.csv", name) for name in TABLES if name in record.tables}
        except DataError as error:
            return replace(record, status="failed", reason=str(error)), {}

    def _text(self, record: Record, name: str) -> str:
        path = self.sessions_folder / record.folder / f"{name}.csv"
        with open(path, encoding="utf-8", newline="") as stream:
            rows = csv.reader(stream)
            heading = next(rows, [])
            place = [heading.index(column) if column in heading else None for column in COLUMNS[name]]
            out = io.StringIO()
            writer = csv.writer(out, lineterminator="\n")
            writer.writerows([row[i] if i is not None and i < len(row) else "" for i in place] for row in rows)
        return out.getvalue()


@contextmanager
def collecting(
    sessions_folder: Path, out: Path, as_csv: bool, *readers: Reader, sessions: int = 0
) -> Iterator[Collector]:
    """A collector whose tables appear in ``out`` when the block ends well, and not at all otherwise.

    Each of the ``sessions`` is a row group of its own, but there are at most 10,000: a reader holds 10 kB in memory for
    each of them, so larger archives put as many sessions into one as needed.
    """
    with ExitStack() as stack:
        in_group = max(1, -(-sessions // MOST_ROW_GROUPS))
        collector = Collector(stack, sessions_folder, out, as_csv, readers, in_group)
        yield collector
        collector.end_group()


def read_table(path: Path, name: str) -> pa.Table:
    """A results table of one session in the columns and types of the archive's; missing columns are empty."""
    columns = COLUMNS[name]
    options = pa_csv.ConvertOptions(
        column_types=columns,
        null_values=[""],
        strings_can_be_null=False,
        true_values=["true", "True"],
        false_values=["false", "False"],
    )
    parsing = pa_csv.ParseOptions(newlines_in_values=True)
    reading = pa_csv.ReadOptions(use_threads=False)
    try:
        table = pa_csv.read_csv(path, read_options=reading, parse_options=parsing, convert_options=options)
    except (OSError, pa.ArrowInvalid) as error:
        words = str(error).splitlines()[0]
        raise DataError(
            f"its {name}.csv cannot be read as a table ({words}); process it again with --overwrite."
        ) from error
    return pa.table({column: _column(table, column, kind) for column, kind in columns.items()})


def _column(table: pa.Table, name: str, kind: pa.DataType) -> Any:
    if name not in table.column_names:
        return pa.array([""] * table.num_rows, kind) if kind == _TEXT else pa.nulls(table.num_rows, kind)
    return pc.cast(table[name], kind)


def _write_row(stream: TextIO, row: tuple[str, ...]) -> None:
    csv.writer(stream, lineterminator="\n").writerow([neutralised(cell) for cell in row])
