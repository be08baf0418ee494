"""What is no C3D file, or not all of one, is refused with its reason, or used on purpose."""

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from condyle.errors import DataError
from condyle.files.c3d import C3DReader
from tests.c3d_bytes import C3DFile
from tests.c3d_hazards.shared import FRAMES, LABELS, POINTS, STORAGES, same_points


def _folder(path: Path) -> None:
    path.mkdir()


NO_FILES: dict[str, tuple[Callable[[Path], Any], str]] = {
    "absent": (lambda p: None, "no such file"),
    "folder": (_folder, "is a folder"),
    "pipe": (os.mkfifo, "not an ordinary file"),
    "empty": (lambda p: p.write_bytes(b""), "0 bytes"),
    "short": (lambda p: p.write_bytes(b"\x02\x50" + bytes(500)), "fewer than the 512"),
    "text": (lambda p: p.write_bytes(b"time,knee\n" * 200), "not a C3D file"),
    "zeros": (lambda p: p.write_bytes(bytes(4096)), "not a C3D file"),
    "header only": (lambda p: p.write_bytes(b"\x02\x50" + bytes(510)), "parameter section should begin"),
    "parameters at block 0": (lambda p: p.write_bytes(b"\x00\x50" + bytes(4094)), "parameter section should begin"),
    "unknown processor": (lambda p: p.write_bytes(b"\x02\x50" + bytes(4094)), "processor type is 0"),
}


@pytest.mark.parametrize("kind", NO_FILES)
def test_what_is_no_c3d_file_is_refused_by_name(reader: C3DReader, tmp_path: Path, kind: str) -> None:
    path = tmp_path / "trial.c3d"
    make, reason = NO_FILES[kind]
    make(path)
    with pytest.raises(DataError, match=rf"trial\.c3d.*{reason}"):
        reader.read(path)


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read everything")
def test_an_unreadable_file_is_refused(reader: C3DReader, tmp_path: Path) -> None:
    path = C3DFile(POINTS, labels=LABELS).write(tmp_path / "trial.c3d")
    path.chmod(0)
    with pytest.raises(DataError, match=r"trial\.c3d: cannot be read"):
        reader.read(path)


@pytest.mark.parametrize("storage", STORAGES)
@pytest.mark.parametrize("kept", [0.0, 0.02, 0.31, 0.5, 0.97])
def test_a_truncated_file_is_refused_or_used_on_purpose(
    reader: C3DReader, tmp_path: Path, storage: str, kept: float
) -> None:
    whole = C3DFile(POINTS, labels=LABELS, storage=storage)
    path = whole.write(tmp_path / "trial.c3d")
    data = len(whole.data_section())
    start = path.stat().st_size - len(whole.tobytes()[-(data + (-data % 512)) :])
    os.truncate(path, start + int(kept * data))
    with pytest.raises(DataError, match=r"truncated"):
        reader.read(path)
    there = int(kept * data) // (data // FRAMES)
    if there:
        recording = reader.read(path, accept_truncated=True)
        same_points(recording, POINTS[:there])
        assert [(f.value, f.limit) for f in recording.findings if f.check == "truncated"] == [(there, FRAMES)]
    else:
        with pytest.raises(DataError, match=r"truncated"):
            reader.read(path, accept_truncated=True)


def test_a_file_cut_inside_its_parameters_is_refused(reader: C3DReader, tmp_path: Path) -> None:
    path = C3DFile(POINTS, labels=LABELS).write(tmp_path / "trial.c3d")
    for size in (600, 800, 1024):
        os.truncate(path, size)
        with pytest.raises(DataError, match=r"trial\.c3d"):
            reader.read(path)
