"""Files are whole or absent, the same table gives the same bytes, and no cell runs as a formula."""

import csv
import io
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from condyle.errors import DataError, UsageError
from condyle.files.atomic import atomic_path, is_stale, remove_stale, writable_or_raise, write_bytes, write_text
from condyle.files.fingerprints import sha256_of_file, sha256_of_package, sha256_of_settings
from condyle.files.manifest import read_manifest, write_manifest
from condyle.files.tables import csv_text, neutralised, number, write_csv, write_parquet


def test_a_failing_writer_leaves_the_old_file_and_nothing_else(tmp_path: Path) -> None:
    target = tmp_path / "measures.csv"
    write_text(target, "old\n")

    def half_way() -> None:
        with atomic_path(target) as temporary:
            temporary.write_text("half")
            raise RuntimeError("half-way")

    with pytest.raises(RuntimeError, match="half-way"):
        half_way()
    assert target.read_text() == "old\n"
    assert os.listdir(tmp_path) == ["measures.csv"]


def test_a_killed_writer_leaves_the_old_file_and_a_recognisable_rest(tmp_path: Path) -> None:
    target = tmp_path / "measures.csv"
    write_text(target, "old\n")
    code = (
        "import sys, time\n"
        "from condyle.files.atomic import atomic_path\n"
        f"with atomic_path({str(target)!r}) as temporary:\n"
        "    temporary.write_text('half'); print('writing', flush=True); time.sleep(60)\n"
    )
    with subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True) as writer:
        assert writer.stdout is not None
        assert writer.stdout.readline() == "writing\n"
        writer.send_signal(signal.SIGKILL)
        writer.wait()
    assert target.read_text() == "old\n"
    rest = [path for path in tmp_path.iterdir() if path != target]
    assert [is_stale(path) for path in rest] == [True]
    assert not is_stale(target)
    remove_stale(tmp_path)
    assert list(tmp_path.iterdir()) == [target]


def test_readers_never_see_a_half_written_file(tmp_path: Path) -> None:
    target = tmp_path / "table.csv"
    sizes = (10, 2_000_000)
    write_bytes(target, b"x" * sizes[0])
    code = (
        "from condyle.files.atomic import write_bytes\n"
        f"for i in range(40): write_bytes({str(target)!r}, b'x' * {sizes}[i % 2])\n"
    )
    with subprocess.Popen([sys.executable, "-c", code]) as writer:
        seen = set()
        while writer.poll() is None:
            seen.add(len(target.read_bytes()))
            time.sleep(0.0005)
    assert writer.returncode == 0
    assert seen <= set(sizes)


def test_a_full_disk_is_a_sentence_and_keeps_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    target = tmp_path / "measures.csv"
    write_text(target, "old\n")

    def full(*_: object) -> None:
        raise OSError(28, os.strerror(28))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(DataError, match="could not be written: no space left on device"):
        write_text(target, "new\n")
    assert target.read_text() == "old\n"
    assert os.listdir(tmp_path) == ["measures.csv"]


def test_an_unwritable_place_is_said_before_computing(tmp_path: Path) -> None:
    file = tmp_path / "file"
    file.write_text("")
    with pytest.raises(UsageError, match="is a file, not a folder"):
        writable_or_raise(file)
    with pytest.raises(UsageError, match="results cannot be written into"):
        writable_or_raise(file / "below")
    with pytest.raises(UsageError, match="results cannot be written into"):
        writable_or_raise("/proc/condyle")
    assert writable_or_raise(tmp_path / "a" / "b") == tmp_path / "a" / "b"
    assert not list((tmp_path / "a" / "b").iterdir())


def test_numbers_keep_nine_digits_and_no_negative_zero() -> None:
    values = {-0.0: "0.0", 5.0: "5.0", 1 / 3: "0.333333333", -1e-12: "-1e-12", 123456.789: "123456.789", 1e20: "1e+20"}
    assert {value: number(value) for value in values} == values
    assert number(float("nan")) == ""
    assert number(float("inf")) == "inf"
    random = np.random.default_rng(1).normal(size=1000).astype(np.float32) * np.float32(1000)
    back = pd.read_csv(io.StringIO(csv_text(pd.DataFrame({"value": random}))))["value"].to_numpy()
    assert np.array_equal(back.astype(np.float32), random)


def test_csv_is_what_pandas_reads_back(tmp_path: Path) -> None:
    frame = pd.DataFrame(
        {
            "participant": ["MR01", "MR02", None],
            "note": ['a "quoted", cell', "two\nlines", "Knöchel"],
            "repetition": pd.array([1, None, 3], dtype="Int64"),
            "value": [1.5, np.nan, -2.0],
            "valid": [True, False, True],
        }
    )
    write_csv(tmp_path / "a.csv", frame)
    back = pd.read_csv(tmp_path / "a.csv", dtype={"repetition": "Int64"})
    assert back["note"].tolist() == ['a "quoted", cell', "'two\nlines"[1:], "Knöchel"]
    pd.testing.assert_frame_equal(back, frame, check_dtype=False)
    first = (tmp_path / "a.csv").read_bytes()
    write_csv(tmp_path / "a.csv", frame.copy())
    assert (tmp_path / "a.csv").read_bytes() == first
    assert b"\r" not in first


@pytest.mark.parametrize("text", ["=HYPERLINK(1)", "+1+cmd", "-2+3", "@SUM(A1)", "\t=1", "\r=1", " =1", "＝1"])
def test_no_cell_and_no_heading_runs_as_a_formula(text: str) -> None:
    frame = pd.DataFrame({text: [text, "R_ASIS"]})
    cells = [row[0] for row in csv.reader(io.StringIO(csv_text(frame), newline=""))]
    assert cells == [*["'" + text.replace("\r", "\n")] * 2, "R_ASIS"]


def test_numbers_and_plain_labels_are_not_touched() -> None:
    for text in ("-2.5", "+3", "-1e-3", "R_ASIS", "a=b", "", "MR01"):
        assert neutralised(text) == text
    assert csv_text(pd.DataFrame({"value": [-2.5], "text": ["-2.5"]})) == "value,text\n-2.5,-2.5\n"


def test_half_a_surrogate_does_not_stop_a_table() -> None:
    frame = pd.DataFrame({"label": pd.Series(["R\udcff"], dtype=object)})
    assert csv_text(frame).encode("utf-8", "backslashreplace") == b"label\nR\\udcff\n"


def test_parquet_is_deterministic_and_what_pandas_reads_back(tmp_path: Path) -> None:
    frame = pd.DataFrame({"participant": ["MR01", "MR02"], "value": [1.25, np.nan]})
    write_parquet(tmp_path / "a.parquet", frame)
    write_parquet(tmp_path / "b.parquet", frame.set_axis([7, 9]))
    assert (tmp_path / "a.parquet").read_bytes() == (tmp_path / "b.parquet").read_bytes()
    pd.testing.assert_frame_equal(pd.read_parquet(tmp_path / "a.parquet"), frame)


def test_sha256_vs_fips_180_4_example(tmp_path: Path) -> None:
    (tmp_path / "abc").write_bytes(b"abc")  # FIPS 180-4, the one-block example
    assert sha256_of_file(tmp_path / "abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    with pytest.raises(DataError, match="could not be read"):
        sha256_of_file(tmp_path / "missing")


def test_settings_have_one_fingerprint_by_content() -> None:
    assert sha256_of_settings({"a": 1, "b": 2.5}) == sha256_of_settings({"b": 2.5, "a": 1})
    assert sha256_of_settings({"a": 1}) != sha256_of_settings({"a": 2})
    assert sha256_of_settings({"a": 1}) != sha256_of_settings({"a": "1"})


def test_the_code_version_follows_every_source(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from condyle.files import fingerprints

    (tmp_path / "package" / "configs").mkdir(parents=True)
    (tmp_path / "package" / "a.py").write_text("x = 1\n")
    setting = tmp_path / "package" / "configs" / "limits.yaml"
    setting.write_text("limit: 1\n")
    monkeypatch.setattr(fingerprints, "_PACKAGE", tmp_path / "package")

    def version() -> str:
        sha256_of_package.cache_clear()
        return sha256_of_package()

    first = version()
    (tmp_path / "package" / "__pycache__").mkdir()
    (tmp_path / "package" / "__pycache__" / "a.pyc").write_bytes(b"1")
    assert version() == first
    setting.write_text("limit: 2\n")
    assert version() != first
    setting.write_text("limit: 1\n")
    assert version() == first
    sha256_of_package.cache_clear()


def test_manifest_holds_plain_json_and_reads_back(tmp_path: Path) -> None:
    content = {"seconds": {"read": np.float64(0.5)}, "n": np.int64(3), "bad": float("nan"), "words": ("a", "b")}
    write_manifest(tmp_path / "manifest.json", content)
    back = read_manifest(tmp_path / "manifest.json")
    assert back == {"seconds": {"read": 0.5}, "n": 3, "bad": None, "words": ["a", "b"]}
    assert read_manifest(tmp_path / "none.json") is None
    (tmp_path / "half.json").write_text('{"a": ')
    assert read_manifest(tmp_path / "half.json") is None
    with pytest.raises(TypeError, match="cannot hold"):
        write_manifest(tmp_path / "manifest.json", {"a": object()})


@settings(deadline=None)
@given(st.lists(st.tuples(st.text(), st.floats(allow_nan=False, width=32), st.booleans()), max_size=5))
def test_any_text_comes_back_from_the_library_reader(rows: list[tuple[str, float, bool]]) -> None:
    frame = pd.DataFrame(rows, columns=['a "heading", of text', "value", "valid"])
    for part in (frame, frame.iloc[:, :1]):
        back = list(csv.reader(io.StringIO(csv_text(part), newline="")))
        assert back[0] == list(part.columns)
        assert [row[0] for row in back[1:]] == [neutralised(text) for text, *_ in rows]
        assert {len(row) for row in back} == {part.shape[1]}
