"""A Parquet file whose row groups come one after another, in memory that does not grow with them.

The library's writer keeps about 1 kB in memory for each column of each row group until the file ends: 40 MB for the tables
of 1,000 sessions. Here it writes each row group as a small file of its own; the pages are copied, and what the footer says
of them goes to a scratch file with its offsets moved. The footer is Thrift in its compact protocol (apache/parquet-format,
parquet.thrift; apache/thrift, thrift-compact-protocol.md).
"""

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, BinaryIO, NamedTuple

import pyarrow as pa
import pyarrow.parquet as pq

_MAGIC = b"PAR1"
_TRUE, _FALSE, _BYTE, _DOUBLE, _BINARY, _LIST, _SET, _STRUCT = 1, 2, 3, 7, 8, 9, 10, 12
_INTEGERS = {4, 5, 6}
# fields of parquet.thrift
_FILE_ROWS, _FILE_ROW_GROUPS = 3, 4
_GROUP_COLUMNS, _GROUP_OFFSET, _GROUP_ORDINAL = 1, 5, 7
_CHUNK_OFFSET, _CHUNK_METADATA = 2, 3
_PAGE_OFFSETS = (9, 10, 11)  # data, index, dictionary


class Field(NamedTuple):
    """A value with its Thrift type; a list's value is (type of its items, items), a struct's its fields by number."""

    kind: int
    value: Any


@contextmanager
def row_group_writer(path: Path, schema: pa.Schema) -> Iterator["RowGroupWriter"]:
    """A writer for ``path``; the file is complete when the block has ended."""
    with open(path, "wb") as stream, tempfile.TemporaryFile(dir=path.parent) as scratch:
        writer = RowGroupWriter(stream, scratch, schema)
        yield writer
        writer.write_footer()


class RowGroupWriter:
    """Appends tables as row groups, each once and for all."""

    def __init__(self, stream: BinaryIO, scratch: Any, schema: pa.Schema) -> None:
        self.stream, self.scratch, self.schema = stream, scratch, schema
        self.groups = self.rows = 0
        stream.write(_MAGIC)

    def write_table(self, table: pa.Table) -> None:
        """Append the table as one row group."""
        pages, footer = self._small_file(table)
        shift = self.stream.tell() - len(_MAGIC)
        self.stream.write(pages)
        for group in footer[_FILE_ROW_GROUPS].value[1]:
            moved = _moved(group, shift)
            moved.pop(_GROUP_ORDINAL, None)  # only encrypted files need it
            self.scratch.write(_struct(moved))
            self.groups += 1
        self.rows += table.num_rows

    def write_footer(self) -> None:
        """End the file: schema, row groups, and where the footer begins."""
        _, template = self._small_file(self.schema.empty_table())
        before = {number: field for number, field in template.items() if number < _FILE_ROW_GROUPS}
        before[_FILE_ROWS] = template[_FILE_ROWS]._replace(value=self.rows)
        after = {number: field for number, field in template.items() if number > _FILE_ROW_GROUPS}
        start = self.stream.tell()
        last, head = _fields(before, 0)
        self.stream.write(head + _field_start(_FILE_ROW_GROUPS - last, _FILE_ROW_GROUPS, _LIST))
        self.stream.write(_list_start(_STRUCT, self.groups))
        self.scratch.seek(0)
        while part := self.scratch.read(1 << 20):
            self.stream.write(part)
        self.stream.write(_fields(after, _FILE_ROW_GROUPS)[1] + b"\0")
        self.stream.write((self.stream.tell() - start).to_bytes(4, "little") + _MAGIC)

    def _small_file(self, table: pa.Table) -> tuple[bytes, dict[int, Field]]:
        sink = pa.BufferOutputStream()
        with pq.ParquetWriter(
            sink, self.schema, compression="zstd", write_statistics=False, use_dictionary=False
        ) as one:
            if table.num_rows:
                one.write_table(table, row_group_size=table.num_rows)
        content = sink.getvalue().to_pybytes()
        end = len(content) - 8
        start = end - int.from_bytes(content[end : end + 4], "little")
        return content[len(_MAGIC) : start], _Reading(content[start:end]).struct()


def _moved(group: dict[int, Field], shift: int) -> dict[int, Field]:
    moved = _shifted(group, shift, _GROUP_OFFSET)
    kind, chunks = group[_GROUP_COLUMNS].value
    columns = []
    for chunk in chunks:
        new = _shifted(chunk, shift, _CHUNK_OFFSET)
        new[_CHUNK_METADATA] = Field(_STRUCT, _shifted(chunk[_CHUNK_METADATA].value, shift, *_PAGE_OFFSETS))
        columns.append(new)
    moved[_GROUP_COLUMNS] = Field(_LIST, (kind, columns))
    return moved


def _shifted(fields: dict[int, Field], shift: int, *numbers: int) -> dict[int, Field]:
    # 0 stands for 'not said' where a newer format has dropped the meaning
    present = [number for number in numbers if number in fields and fields[number].value > 0]
    return {**fields, **{number: fields[number]._replace(value=fields[number].value + shift) for number in present}}


class _Reading:
    """Reads Thrift's compact protocol from bytes."""

    def __init__(self, content: bytes) -> None:
        self.content, self.at = content, 0

    def varint(self) -> int:
        value = shift = 0
        while True:
            byte = self.content[self.at]
            self.at += 1
            value |= (byte & 0x7F) << shift
            if byte < 0x80:
                return value
            shift += 7

    def integer(self) -> int:
        value = self.varint()
        return (value >> 1) ^ -(value & 1)

    def taken(self, count: int) -> bytes:
        self.at += count
        return self.content[self.at - count : self.at]

    def struct(self) -> dict[int, Field]:
        fields: dict[int, Field] = {}
        number = 0
        while (start := self.taken(1)[0]) != 0:
            number = number + (start >> 4) if start >> 4 else self.integer()
            kind = start & 0x0F
            fields[number] = Field(kind, kind == _TRUE if kind in (_TRUE, _FALSE) else self.value(kind))
        return fields

    def value(self, kind: int) -> Any:
        if kind in _INTEGERS:
            return self.integer()
        if kind == _BINARY:
            return self.taken(self.varint())
        if kind == _STRUCT:
            return self.struct()
        if kind in (_LIST, _SET):
            start = self.taken(1)[0]
            count = start >> 4 if start >> 4 != 15 else self.varint()
            return start & 0x0F, [self.value(start & 0x0F) for _ in range(count)]
        if kind in (_BYTE, _TRUE, _FALSE):
            return self.taken(1)
        if kind == _DOUBLE:
            return self.taken(8)
        raise ValueError(f"a Parquet footer with the Thrift type {kind} is not known here")


def _varint(value: int) -> bytes:
    out = bytearray()
    while value >= 0x80:
        out.append(value & 0x7F | 0x80)
        value >>= 7
    out.append(value)
    return bytes(out)


def _integer(value: int) -> bytes:
    return _varint(value << 1 if value >= 0 else (-value << 1) - 1)


def _field_start(delta: int, number: int, kind: int) -> bytes:
    return bytes([delta << 4 | kind]) if 0 < delta < 16 else bytes([kind]) + _integer(number)


def _list_start(kind: int, count: int) -> bytes:
    return bytes([count << 4 | kind]) if count < 15 else bytes([0xF0 | kind]) + _varint(count)


def _fields(fields: dict[int, Field], last: int) -> tuple[int, bytes]:
    parts = []
    for number, (kind, value) in sorted(fields.items()):
        parts.append(_field_start(number - last, number, kind))
        if kind not in (_TRUE, _FALSE):
            parts.append(_value(kind, value))
        last = number
    return last, b"".join(parts)


def _struct(fields: dict[int, Field]) -> bytes:
    return _fields(fields, 0)[1] + b"\0"


def _value(kind: int, value: Any) -> bytes:
    if kind in _INTEGERS:
        return _integer(value)
    if kind == _BINARY:
        return _varint(len(value)) + bytes(value)
    if kind == _STRUCT:
        return _struct(value)
    if kind in (_LIST, _SET):
        inner, items = value
        return _list_start(inner, len(items)) + b"".join(_value(inner, item) for item in items)
    return bytes(value)
