"""Header, parameters and size contradict each other: the size settles it and it is said, or the file is refused."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from condyle.errors import DataError
from condyle.files.c3d import Recording
from condyle.files.c3d_settle import settle
from condyle.files.c3d_structure import read_structure
from tests.c3d_bytes import C3DFile, real, word
from tests.c3d_hazards.shared import FRAMES, LABELS, POINTS, STORAGES, N, analogue, checks, same_points

LIES: dict[str, dict[str, Any]] = {
    "header points": {"header": {"points": N + 3}},
    "header no points": {"header": {"points": 0}},
    "header last frame": {"header": {"last": FRAMES + 7}},
    "header first frame": {"header": {"first": 9}},
    "header one frame": {"header": {"first": 1, "last": 1}},
    "header no frames": {"header": {"first": 0, "last": 0}},
    "header analogue": {"header": {"analogue": 60}},
    "header no analogue": {"header": {"analogue": 0}},
    "header samples per frame": {"header": {"per_frame": 8}},
    "header no samples per frame": {"header": {"per_frame": 0}},
    "header data start early": {"header": {"data_start": 4}},
    "header data start late": {"header": {"data_start": 6}},
    "header no data start": {"header": {"data_start": 0}},
    "header far data start": {"header": {"data_start": 40000}},
    "USED too many": {"replace": [word("POINT", "USED", N + 1)]},
    "USED too few": {"replace": [word("POINT", "USED", N - 1)]},
    "USED as a real": {"replace": [real("POINT", "USED", float(N))]},
    "USED absent": {"drop": {"POINT:USED"}},
    "FRAMES too many": {"replace": [word("POINT", "FRAMES", FRAMES + 1)]},
    "FRAMES too few": {"replace": [word("POINT", "FRAMES", FRAMES // 2)]},
    "FRAMES -1": {"replace": [word("POINT", "FRAMES", -1)]},
    "FRAMES 0": {"replace": [word("POINT", "FRAMES", 0)]},
    "FRAMES as a real": {"replace": [real("POINT", "FRAMES", float(FRAMES))]},
    "FRAMES absent": {"drop": {"POINT:FRAMES"}},
    "DATA_START late": {"replace": [word("POINT", "DATA_START", 9)]},
    "DATA_START absent": {"drop": {"POINT:DATA_START"}},
    "ANALOG:USED too many": {"replace": [word("ANALOG", "USED", 7)]},
    "ANALOG:USED too few": {"replace": [word("ANALOG", "USED", 2)]},
    "ANALOG:USED 0": {"replace": [word("ANALOG", "USED", 0)]},
    "ANALOG:USED absent": {"drop": {"ANALOG:USED"}},
    "ANALOG:RATE no multiple": {"replace": [real("ANALOG", "RATE", 437.0)]},
    "ANALOG:RATE another multiple": {"replace": [real("ANALOG", "RATE", 1000.0)]},
    "ANALOG:RATE 0": {"replace": [real("ANALOG", "RATE", 0.0)]},
    "TRIAL as numbers that are none": {
        "add": [real("TRIAL", "ACTUAL_START_FIELD", [np.nan, 1.0]), real("TRIAL", "ACTUAL_END_FIELD", [np.inf, 0.0])]
    },
    "FORCE_PLATFORM:USED not a number": {"add": [real("FORCE_PLATFORM", "USED", np.nan)]},
    "ROTATION group": {"add": [word("ROTATION", "USED", 0), real("ROTATION", "RATE", 100.0)]},
}


@pytest.mark.parametrize("storage", STORAGES)
@pytest.mark.parametrize("with_analogue", [False, True])
@pytest.mark.parametrize("lie", LIES)
def test_a_contradiction_is_settled_by_the_size_and_reported(
    read: Callable[..., Recording], lie: str, with_analogue: bool, storage: str
) -> None:
    channels = analogue() if with_analogue else None
    recording = read(C3DFile(POINTS, labels=LABELS, storage=storage, analogue=channels, data_block=5, **LIES[lie]))
    same_points(recording)
    assert recording.rate_hz == 100.0
    of_analogue = any(
        word in lie for word in ("ANALOG:RATE", "samples per frame", "ANALOG:USED 0", "ANALOG:USED absent")
    )
    silent = {name for name in LIES if "number" in name} | {
        "USED as a real",
        "FRAMES as a real",
        "ROTATION group",
        "ANALOG:RATE 0",
    }
    silent |= {"header no analogue"} if not with_analogue else set()
    if lie not in silent and (with_analogue or not of_analogue):
        assert checks(recording), "settled without a word"


@pytest.mark.parametrize("storage", STORAGES)
@pytest.mark.parametrize("where", ["header", "parameter"])
def test_the_sign_of_the_scale_is_settled_by_the_size(read: Callable[..., Recording], storage: str, where: str) -> None:
    wrong = 0.1 if storage == "real" else -0.1
    lie: dict[str, Any] = (
        {"header": {"scale": wrong}} if where == "header" else {"replace": [real("POINT", "SCALE", wrong)]}
    )
    recording = read(C3DFile(POINTS, labels=LABELS, storage=storage, **lie))
    same_points(recording)
    assert "storage by header, parameters and size" in checks(recording)


@pytest.mark.parametrize("storage", STORAGES)
def test_analogue_samples_never_become_coordinates(read: Callable[..., Recording], storage: str) -> None:
    samples = analogue()
    for lie in ("ANALOG:USED too few", "header points", "header data start late", "header samples per frame"):
        recording = read(C3DFile(POINTS, labels=LABELS, storage=storage, analogue=samples, **LIES[lie]), analogue=True)
        same_points(recording)
        assert recording.analogue is not None
        np.testing.assert_allclose(recording.analogue, samples.reshape(-1, 6), atol=0.5)
        assert recording.analogue_rate_hz == 400.0


def test_what_the_size_cannot_settle_is_refused(read: Callable[..., Recording]) -> None:
    with pytest.raises(DataError, match="contradict each other and the size"):
        read(header={"points": N + 4}, replace=[word("POINT", "USED", N + 1)])
    with pytest.raises(DataError, match="scale"):
        read(storage="integer", header={"scale": 0.2})
    with pytest.raises(DataError, match="points: the header says 12, POINT:USED says 18"):  # 18 x 4 = 12 x 4 + 6 x 4
        read(
            C3DFile(
                POINTS,
                labels=LABELS,
                analogue=analogue(),
                replace=[word("POINT", "USED", 18), word("ANALOG", "USED", 0)],
            )
        )


def long_file(frames: int, **changes: Any) -> C3DFile:
    points = np.repeat(POINTS[:1, [0, 5, 7, 11]], frames, axis=0)
    points[..., 0] += np.arange(frames)[:, None] * 0.01
    return C3DFile(points.astype(np.float32).astype(float), labels=["A", "B", "C", "D"], storage="real", **changes)


LONG: dict[str, Callable[[int], dict[str, Any]]] = {
    "by the size": lambda n: {},
    "LONG_FRAMES": lambda n: {"add": [real("POINT", "LONG_FRAMES", float(n))]},
    "FRAMES as a real": lambda n: {"replace": [real("POINT", "FRAMES", float(n))]},
    "TRIAL": lambda n: {
        "add": [
            word("TRIAL", "ACTUAL_START_FIELD", [1, 0]),
            word("TRIAL", "ACTUAL_END_FIELD", [n % 65536, n // 65536]),
        ]
    },
    "wrapped header": lambda n: {"header": {"last": n % 65536}, "replace": [word("POINT", "FRAMES", n % 65536)]},
}


@pytest.mark.parametrize(
    ("how", "frames"), [("by the size", 65535), ("LONG_FRAMES", 70000), ("FRAMES as a real", 65536)]
)
def test_more_than_65535_frames_are_neither_lost_nor_invented(
    read: Callable[..., Recording], how: str, frames: int
) -> None:
    changes = LONG[how](frames)
    changes["add"] = [*changes.get("add", []), word("ROTATION", "USED", 0)]
    file = long_file(frames, **changes)
    recording = read(file)
    same_points(recording, file.points, atol=1e-6)


@pytest.mark.parametrize("frames", [65534, 65535, 65536, 70000, 131080])
@pytest.mark.parametrize("how", LONG)
def test_the_count_of_a_long_recording_is_settled(tmp_path: Path, how: str, frames: int) -> None:
    path = long_file(frames, **LONG[how](frames)).write(tmp_path / "long.c3d")
    layout = settle(read_structure(path))
    assert layout.frames == frames
    if how == "by the size" and frames > 65535:
        assert "frames counted by size" in {f.check for f in layout.findings}
