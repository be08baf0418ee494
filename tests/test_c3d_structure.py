"""The structure reader: every number type of every machine, bounded on any content; and a process that may be lost."""

import sys
from pathlib import Path

import numpy as np
import pytest

from condyle.errors import DataError
from condyle.files import reading_process
from condyle.files.c3d import C3DReader
from condyle.files.c3d_settle import settle
from condyle.files.c3d_structure import read_structure
from condyle.files.c3d_values import reals
from condyle.files.reading_process import ReadError, ReadingProcess
from tests.c3d_bytes import BYTE, C3DFile, Record, real, real_bytes, text, walking_body, word

POINTS, LABELS = walking_body(frames=20)
PROCESSORS = ["intel", "dec", "mips"]


@pytest.mark.parametrize("processor", PROCESSORS)
def test_every_parameter_type_reads_on_every_machine(tmp_path: Path, processor: str) -> None:
    numbers = [0.0, 1.0, -0.08333334, 59.94, 1e-6, 65536.0]
    extra = [
        real("OWN", "REALS", np.reshape(numbers, (2, 3)), processor=processor),
        word("OWN", "WORDS", [1, 65535, 300], processor=processor),
        Record("OWN", "BYTES", BYTE, (3,), b"\x01\x7f\xff"),
        text("OWN", "TEXTS", ["one", "two words"]),
        Record("OWN", "ONE", -1, (4,), b"mm  "),
        Record("OWN", "NONE", 4, (0,), b""),
    ]
    structure = read_structure(C3DFile(POINTS, labels=LABELS, processor=processor, add=extra).write(tmp_path / "a.c3d"))
    assert structure.processor == processor
    np.testing.assert_allclose(structure.numbers("OWN", "REALS"), numbers, rtol=1e-7)
    assert structure.numbers("OWN", "WORDS") == (1, 65535, 300)
    assert structure.numbers("OWN", "BYTES") == (1, 127, 255)
    assert structure.texts("OWN", "TEXTS") == (b"one      ", b"two words")
    assert structure.texts("OWN", "ONE") == (b"mm  ",)
    assert (
        structure.numbers("OWN", "NONE") == structure.texts("OWN", "REALS") == structure.numbers("OWN", "TEXTS") == ()
    )
    assert structure.header.rate_hz == 100.0
    assert structure.oddities == ()


def test_dec_reals_of_the_published_format() -> None:
    # F_floating 1.0 is the words 0x4080, 0x0000 (VAX architecture reference manual; from memory)
    assert reals(bytes.fromhex("80400000"), "dec") == (1.0,)
    assert real_bytes(1.0, "dec") == bytes.fromhex("80400000")


def test_any_bytes_end_in_a_structure_or_a_refusal(tmp_path: Path) -> None:
    rng = np.random.default_rng(11)
    path = tmp_path / "a.c3d"
    whole = bytearray(C3DFile(POINTS, labels=LABELS, add=[text("OWN", "T", ["x"] * 40)]).tobytes())
    refused: list[str] = []
    for _ in range(400):
        broken = whole.copy()
        for at in rng.integers(0, 2000, rng.integers(1, 60)):
            broken[at] = rng.integers(256)
        broken[1] = 0x50
        path.write_bytes(broken)
        try:
            settle(read_structure(path), accept_truncated=True)
        except DataError as error:
            refused.append(str(error))
    assert refused
    assert all(str(path) in sentence for sentence in refused)


@pytest.mark.parametrize("fill", [b"\x00", b"\x01", b"\x7f", b"\xff", b"\x01\x01", b"\x01\xff\x02\x00"])
def test_a_parameter_section_of_one_pattern_does_not_loop(tmp_path: Path, fill: bytes) -> None:
    path = tmp_path / "a.c3d"
    head = C3DFile(POINTS, labels=LABELS).tobytes()[:516]
    path.write_bytes(head + (fill * 40000)[:40000])
    with pytest.raises(DataError):
        settle(read_structure(path))


# --- the reading process is lost, the reader is not


def child(tmp_path: Path, body: str) -> list[str]:
    script = tmp_path / "child.py"
    script.write_text(f"import os, sys, time\nsys.stdin.readline()\n{body}\n")
    return [sys.executable, str(script)]


LOST = {
    "crash": "os.abort()",
    "memory": "sys.stderr.write('what():  std::bad_alloc'); sys.stderr.flush(); os.abort()",
    "time": "time.sleep(60)",
}


@pytest.mark.parametrize("kind", LOST)
def test_a_lost_process_costs_one_file_and_says_how(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, kind: str) -> None:
    monkeypatch.setattr(reading_process, "BASE_SECONDS", 0.5 if kind == "time" else 20.0)
    process = ReadingProcess(child(tmp_path, LOST[kind]))
    path = tmp_path / "a.c3d"
    with pytest.raises(ReadError, match=r"a\.c3d") as caught:
        process.ask(path, ["points"], 1000, said=path).answer()
    assert caught.value.kind == kind
    words = {"crash": "crashed", "memory": "memory", "time": "stopped after"}
    assert words[kind] in str(caught.value)
    process.close()


def test_memory_is_limited_in_the_reading_process(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    if sys.platform == "darwin":
        pytest.skip("the platform does not limit address space")
    path = C3DFile(np.repeat(POINTS, 2000, axis=0), labels=LABELS).write(tmp_path / "a.c3d")
    process = ReadingProcess()
    monkeypatch.setattr(reading_process, "BASE_MEMORY", 130 * 1024 * 1024)
    monkeypatch.setattr(reading_process, "MEMORY_PER_BYTE", 1)
    with pytest.raises(ReadError) as caught:
        process.ask(path, ["points"], path.stat().st_size, said=path).answer()
    assert caught.value.kind == "memory"
    monkeypatch.undo()
    _, arrays = process.ask(path, ["points"], path.stat().st_size, said=path).answer()  # the next one reads
    assert arrays["points"].shape == (3, 12, 40000)
    process.close()


def test_a_folder_in_place_of_a_file_is_never_shown_to_ezc3d(tmp_path: Path) -> None:
    with C3DReader() as reader, pytest.raises(DataError, match="is a folder"):
        reader.read(tmp_path)


def test_one_process_serves_many_files_and_is_renewed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reading_process, "RENEW_AFTER", 3)
    path = C3DFile(POINTS, labels=LABELS).write(tmp_path / "a.c3d")
    with C3DReader() as reader:
        pids = []
        for _ in range(6):
            np.testing.assert_array_equal(reader.read(path).points, POINTS)
            pids.append(reader._process.pid)
    assert pids[0] == pids[2] != pids[3] == pids[5]


def test_a_file_that_breaks_ezc3d_is_read_from_a_plain_copy_and_that_is_said(tmp_path: Path) -> None:
    # ezc3d wants DATA_START in a group ROTATION and refuses the whole file without it
    path = C3DFile(POINTS, labels=LABELS, add=[word("ROTATION", "USED", 0)]).write(tmp_path / "a.c3d")
    with C3DReader() as reader:
        recording = reader.read(path)
    np.testing.assert_array_equal(recording.points, POINTS)
    assert [f.verdict for f in recording.findings if f.check == "reading"] == ["review"]


def test_an_interrupted_read_never_answers_the_next_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first = C3DFile(POINTS, labels=LABELS).write(tmp_path / "first.c3d")
    second = C3DFile(POINTS + 7.0, labels=LABELS).write(tmp_path / "second.c3d")
    with C3DReader() as reader:

        def interrupted(*_: object) -> None:
            raise KeyboardInterrupt

        with monkeypatch.context() as patch:
            patch.setattr("condyle.files.c3d.Names", interrupted)
            with pytest.raises(KeyboardInterrupt):
                reader.read(first)
        np.testing.assert_allclose(reader.read(second).points, POINTS + 7.0, atol=1e-3)


def test_a_recording_of_one_frame_reads(tmp_path: Path) -> None:
    with C3DReader() as reader:
        recording = reader.read(C3DFile(POINTS[:1], labels=LABELS).write(tmp_path / "one.c3d"))
    assert recording.n_frames == 1
    assert recording.duration_s == 0.0
