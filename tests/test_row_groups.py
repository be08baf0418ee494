"""A Parquet file appended row group by row group is what the library's own writer would have made of it."""

import gc
import tracemalloc
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.dataset
import pyarrow.parquet as pq
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from condyle.archive import row_groups
from condyle.archive.collect import COLUMNS
from condyle.archive.row_groups import Field, _Reading, _struct, row_group_writer

SCHEMA = pa.schema(list(COLUMNS["repetitions"].items()))


def table(rows: int, seed: int) -> pa.Table:
    random = np.random.default_rng(seed)
    columns = {}
    for name, kind in COLUMNS["repetitions"].items():
        if kind == pa.string():
            columns[name] = pa.array(random.choice(["", "MR01", "at_the_hip", "Knöchel, links"], rows), kind)
        elif kind == pa.float64():
            columns[name] = pa.array(random.normal(size=rows), kind, mask=random.random(rows) < 0.2)
        else:
            columns[name] = pa.array(random.integers(0, 2, rows).astype(bool if kind == pa.bool_() else int), kind)
    return pa.table(columns, SCHEMA)


def written(path: Path, tables: list[pa.Table]) -> Path:
    with row_group_writer(path, SCHEMA) as writer:
        for part in tables:
            writer.write_table(part)
    return path


@pytest.mark.parametrize("count", [0, 1, 14, 15, 300])  # the footer's lists change their form at 15 and 128
def test_row_groups_vs_the_library_writer(tmp_path: Path, count: int) -> None:
    tables = [table(1 + i % 7, i) for i in range(count)]
    mine = pq.ParquetFile(written(tmp_path / "a.parquet", tables))
    options = {"compression": "zstd", "write_statistics": False, "use_dictionary": False}
    with pq.ParquetWriter(tmp_path / "b.parquet", SCHEMA, **options) as library:
        for part in tables:
            library.write_table(part)
    theirs = pq.ParquetFile(tmp_path / "b.parquet")
    assert mine.schema_arrow.equals(theirs.schema_arrow)
    assert mine.metadata.num_rows == theirs.metadata.num_rows == sum(part.num_rows for part in tables)
    assert mine.num_row_groups == count
    for i, part in enumerate(tables):
        assert mine.read_row_group(i).equals(part)
        for column in range(len(SCHEMA)):
            a = mine.metadata.row_group(i).column(column).to_dict()
            b = theirs.metadata.row_group(i).column(column).to_dict()
            assert a == b  # offsets and sizes included
    assert mine.read().equals(theirs.read())
    assert pyarrow.dataset.dataset(tmp_path / "a.parquet").to_table().equals(theirs.read())
    assert [path.name for path in sorted(tmp_path.iterdir())] == ["a.parquet", "b.parquet"]


def test_the_same_tables_give_the_same_bytes(tmp_path: Path) -> None:
    tables = [table(3, i) for i in range(4)]
    assert written(tmp_path / "a", tables).read_bytes() == written(tmp_path / "b", tables).read_bytes()


def test_memory_does_not_grow_with_the_row_groups(tmp_path: Path) -> None:
    part = table(5, 1)
    with row_group_writer(tmp_path / "a.parquet", SCHEMA) as writer:
        for _ in range(50):
            writer.write_table(part)
        tracemalloc.start()
        for _ in range(150):
            writer.write_table(part)
        gc.collect()
        own = tracemalloc.Filter(True, row_groups.__file__)  # other threads of a test run take memory too
        grown = sum(trace.size for trace in tracemalloc.take_snapshot().filter_traces([own]).traces)
        tracemalloc.stop()
    assert grown < 50_000  # 150 footers of 1.2 kB are three times that


kinds = st.one_of(
    st.integers(-(2**63), 2**63 - 1).map(lambda value: Field(6, value)),
    st.binary(max_size=300).map(lambda value: Field(8, value)),
    st.booleans().map(lambda value: Field(1 if value else 2, value)),
    st.lists(st.integers(-(2**31), 2**31 - 1), max_size=40).map(lambda values: Field(9, (5, values))),
)
structs = st.recursive(
    st.dictionaries(st.integers(1, 40), kinds, max_size=6),
    lambda inner: st.dictionaries(st.integers(1, 40), inner.map(lambda fields: Field(12, fields)) | kinds, max_size=4),
    max_leaves=8,
)


@settings(deadline=None)
@given(structs)
def test_what_is_written_in_the_compact_protocol_is_read_back(fields: dict[int, Field]) -> None:
    content = _struct(fields)
    reading = _Reading(content)
    assert reading.struct() == fields
    assert reading.at == len(content)


def test_compact_protocol_vs_the_worked_example_of_its_description() -> None:
    # thrift-compact-protocol.md: zigzag turns 0, -1, 1, -2 into 0, 1, 2, 3; varint turns 50399 into DF 89 03
    assert _struct({1: Field(6, -1), 2: Field(6, 1)}) == bytes([0x16, 1, 0x16, 2, 0])
    assert _Reading(bytes([0xDF, 0x89, 0x03])).varint() == 50399
    assert _struct({20: Field(8, b"ab")}) == bytes([0x08, 40, 2]) + b"ab\0"
