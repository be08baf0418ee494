"""Files that mislead: each kind of contradiction, written byte by byte, ends in the right result or a refusal."""

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from condyle.errors import DataError
from condyle.files.c3d import C3DReader, Recording
from condyle.files.c3d_raw import raw_frames
from condyle.files.c3d_settle import settle
from condyle.files.c3d_structure import read_structure
from condyle.files.judging import ReadersDisagree, checked
from tests.c3d_bytes import CHARACTER, C3DFile, Record, real, text, walking_body, word

POINTS, LABELS = walking_body()
FRAMES, N = POINTS.shape[:2]
STORAGES = ("real", "integer")


@pytest.fixture(scope="module")
def reader() -> Iterator[C3DReader]:
    with C3DReader() as one:
        yield one


@pytest.fixture
def read(reader: C3DReader, tmp_path: Path) -> Callable[..., Recording]:
    """Write a file and read it."""

    def written(file: C3DFile | None = None, /, **options: Any) -> Recording:
        own = {
            k: options.pop(k)
            for k in list(options)
            if k in ("accept_truncated", "accept_all_invalid", "zero_is_missing", "forces", "analogue")
        }
        made = file if file is not None else C3DFile(**({"points": POINTS, "labels": LABELS} | options))
        return reader.read(made.write(tmp_path / "trial.c3d"), **own)

    return written


def checks(recording: Recording) -> set[str]:
    """What was found and is not merely a fact."""
    return {f.check for f in recording.findings if f.verdict != "pass"}


def same_points(recording: Recording, points: np.ndarray = POINTS, atol: float = 0.051) -> None:
    np.testing.assert_allclose(recording.points, points, atol=atol)


def analogue(frames: int = FRAMES, per_frame: int = 4, channels: int = 6) -> np.ndarray:
    return np.random.default_rng(1).integers(-2000, 2000, (frames, per_frame, channels)).astype(float)


# --- not a C3D file at all


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


# --- truncated


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


# --- header, parameters and size contradict each other

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


# --- more frames than a word can hold


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


# --- samples


@pytest.mark.parametrize("storage", STORAGES)
@pytest.mark.parametrize("processor", ["intel", "dec", "mips"])
def test_missing_samples_are_missing_however_they_are_marked(
    read: Callable[..., Recording], storage: str, processor: str
) -> None:
    points, residual = POINTS.copy(), np.zeros((FRAMES, N))
    points[10, 1] = 0.0  # at the origin, residual 0
    points[20:25, 2] = points[19, 2]  # the last position repeated
    residual[20:25, 2] = -1
    residual[30, 3] = 2.5
    file = C3DFile(points, residual, labels=LABELS, storage=storage, processor=processor)
    recording = read(file)
    expected = points.copy()
    expected[10, 1] = expected[20:25, 2] = np.nan
    same_points(recording, expected)
    assert (recording.counts.zero, recording.counts.negative_residual) == (1, 5)
    kept = read(file, zero_is_missing=False)
    np.testing.assert_array_equal(kept.points[10, 1], 0.0)
    assert kept.counts.zero == 0


@pytest.mark.parametrize("value", [3000.0, 40000.0, 1e30, float("nan"), 0.4])
def test_a_residual_word_of_any_size_leaves_the_sample_valid(read: Callable[..., Recording], value: float) -> None:
    fourth = np.zeros((FRAMES, N))
    fourth[::3] = value
    same_points(read(raw_fourth=fourth))


@pytest.mark.parametrize("value", [-0.25, -1.0, -77.0, -40000.0, -1e30])
def test_a_negative_residual_word_of_any_size_means_missing(read: Callable[..., Recording], value: float) -> None:
    fourth = np.zeros((FRAMES, N))
    fourth[::3, 4] = value
    recording = read(raw_fourth=fourth)
    expected = POINTS.copy()
    expected[::3, 4] = np.nan
    same_points(recording, expected)


@pytest.mark.parametrize("storage", STORAGES)
def test_all_samples_marked_invalid_is_said_and_accepted_only_on_purpose(
    read: Callable[..., Recording], storage: str
) -> None:
    file = C3DFile(POINTS, -np.ones((FRAMES, N)), labels=LABELS, storage=storage)
    with pytest.raises(DataError, match="every single sample is marked invalid"):
        read(file)
    recording = read(file, accept_all_invalid=True)
    same_points(recording)
    assert "all samples marked invalid" in checks(recording)
    with pytest.raises(DataError, match="no valid sample"):
        read(
            C3DFile(np.zeros_like(POINTS), -np.ones((FRAMES, N)), labels=LABELS, storage=storage),
            accept_all_invalid=True,
        )
    with pytest.raises(DataError, match="no valid sample"):
        read(C3DFile(np.zeros_like(POINTS), labels=LABELS, storage=storage))


@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf, 1e30, -3e38, 2e6])
@pytest.mark.parametrize("axis", [0, 1, 2])
def test_what_is_no_coordinate_is_missing_and_flagged(read: Callable[..., Recording], value: float, axis: int) -> None:
    points = POINTS.copy()
    points[7, 5, axis] = value
    recording = read(points=points)
    expected = POINTS.copy()
    expected[7, 5] = np.nan
    same_points(recording, expected)
    assert recording.counts.not_finite + recording.counts.out_of_range == 1
    assert checks(recording) & {"samples not finite", "samples out of range"}


@pytest.mark.parametrize("end", [32767, -32767, -32768])
def test_integers_at_the_end_of_their_range_are_missing_and_flagged(read: Callable[..., Recording], end: int) -> None:
    points = POINTS.copy()
    points[7:30, 5, 0] = end * 0.1
    recording = read(points=points, storage="integer")
    assert np.isnan(recording.points[7:30, 5]).all()
    assert recording.counts.out_of_range == 23
    assert "samples out of range" in checks(recording)


@pytest.mark.parametrize("rate", [50.0, 100.0, 240.0])
@pytest.mark.parametrize(("frame", "gap"), [(0, ()), (30, ()), (FRAMES - 1, ()), (30, (31, 32)), (31, (29, 30))])
def test_a_sample_that_leaves_its_neighbours_is_flagged_with_its_time(
    read: Callable[..., Recording], rate: float, frame: int, gap: tuple[int, ...]
) -> None:
    points, _ = walking_body(rate=rate)
    clean = read(points=points, rate=rate)
    assert "leap of a sample" not in checks(clean)
    points[list(gap), 6] = 0.0
    points[frame, 6, 1] += 45.0
    recording = read(points=points, rate=rate)
    leap = [f for f in recording.findings if f.check == "leap of a sample"]
    assert [f.subject for f in leap] == ["L_KNEE"]
    to_the_frame = 2 if rate <= 100 else 3
    assert f"at {frame / rate:.{to_the_frame}f} s (1 samples)" in leap[0].advice
    assert leap[0].value is not None
    assert leap[0].value > 20


@pytest.mark.parametrize(("rate", "times_a_second"), [(50.0, 2.5), (100.0, 5.0)])
def test_a_fast_foot_is_no_leap(read: Callable[..., Recording], rate: float, times_a_second: float) -> None:
    points, labels = walking_body(frames=120, rate=rate)
    t = np.arange(120) / rate
    points[:, 9, 0] += 300 * np.sin(2 * np.pi * times_a_second * t)
    points[:, 9, 2] += 100 + 100 * np.cos(2 * np.pi * times_a_second * t)
    bend = np.linalg.norm(points[1:-1] - (points[:-2] + points[2:]) / 2, axis=-1)
    assert bend.max() > 10  # as far off the line as many a leap
    assert "leap of a sample" not in checks(read(points=points, labels=labels, rate=rate))


def test_a_marker_held_through_a_gap_is_flagged(read: Callable[..., Recording]) -> None:
    points = POINTS.copy()
    points[10:45, 3] = points[10, 3]
    recording = read(points=points)
    assert [f.subject for f in recording.findings if f.check == "marker stands still"] == ["R_THIGH"]


# --- rate, scale, unit


@pytest.mark.parametrize("rate", [0.0, -100.0, float("nan"), 1e9])
def test_a_rate_that_cannot_be_is_refused(read: Callable[..., Recording], rate: float) -> None:
    with pytest.raises(DataError, match="frame rate"):
        read(rate=rate)


@pytest.mark.parametrize("rate", [59.94, 29.97, 119.88, 100.0])
def test_a_rate_is_never_rounded(read: Callable[..., Recording], rate: float) -> None:
    points, _ = walking_body(rate=rate)
    recording = read(points=points, rate=rate, header={"rate": round(rate)})
    assert recording.rate_hz == float(np.float32(rate))
    assert ("frame rate by header and parameters" in checks(recording)) == (rate != round(rate))


def test_a_header_rate_unlike_the_parameter_is_settled_by_the_analogue_rate_or_refused(
    read: Callable[..., Recording],
) -> None:
    with pytest.raises(DataError, match="100 Hz by POINT:RATE but 200 Hz by the header"):
        read(header={"rate": 200.0})
    recording = read(C3DFile(POINTS, labels=LABELS, analogue=analogue(), header={"rate": 200.0}))
    assert recording.rate_hz == 100.0
    assert "frame rate by header and parameters" in checks(recording)
    wrong = C3DFile(
        POINTS, labels=LABELS, analogue=analogue(), replace=[real("POINT", "RATE", 50.0), real("ANALOG", "RATE", 400.0)]
    )
    recording = read(wrong)
    assert recording.rate_hz == 100.0
    assert "frame rate by header and parameters" in checks(recording)
    with pytest.raises(DataError, match="nothing settles"):
        read(
            C3DFile(
                POINTS,
                labels=LABELS,
                analogue=analogue(),
                header={"rate": 200.0},
                replace=[real("ANALOG", "RATE", 1200.0)],
            )
        )
    recording = read(header={"rate": 0.0})
    assert recording.rate_hz == 100.0
    assert "frame rate by header and parameters" in checks(recording)


@pytest.mark.parametrize("missing", ["SCALE", "RATE", "DATA_START"])
@pytest.mark.parametrize("storage", STORAGES)
def test_one_missing_parameter_is_confirmed_elsewhere_or_refused(
    read: Callable[..., Recording], missing: str, storage: str
) -> None:
    file = C3DFile(POINTS, labels=LABELS, storage=storage, drop={f"POINT:{missing}"})
    if missing == "RATE" or (missing == "SCALE" and storage == "integer"):
        with pytest.raises(DataError, match=r"rate|scale"):
            read(file)
    else:
        same_points(read(file))


def test_scale_rate_and_data_start_missing_together_are_refused(read: Callable[..., Recording]) -> None:
    with pytest.raises(DataError, match="has no POINT:SCALE and no POINT:RATE and no POINT:DATA_START"):
        read(drop={"POINT:SCALE", "POINT:RATE", "POINT:DATA_START"}, unit=None)


UNITS = [("mm", "mm"), ("m", "m"), ("cm", "cm"), (None, "mm"), (None, "m"), (None, "cm"), ("mm", "m"), ("mm", "cm")]
UNITS += [("m", "mm"), ("cm", "m"), ("inch", "mm"), ("Meters", "m"), ("", "cm"), ("MM ", "mm")]


@pytest.mark.parametrize(("said", "true"), UNITS)
def test_units_are_judged_against_the_size_of_a_body(
    read: Callable[..., Recording], said: str | None, true: str
) -> None:
    per_unit = {"mm": 1.0, "cm": 10.0, "m": 1000.0}[true]
    recording = read(points=POINTS / per_unit, unit=said)
    assert recording.unit == true
    assert recording.unit_factor == per_unit
    same_points(recording, atol=1e-3)
    honest = (said or "").strip().lower().rstrip("s") in (true, {"m": "meter"}.get(true))
    assert ("unit against body size" in checks(recording)) == (not honest)


@pytest.mark.parametrize("shrunk", [1e-9, 2e-4, 0.008, 30.0])
def test_what_makes_no_body_in_any_unit_is_refused(read: Callable[..., Recording], shrunk: float) -> None:
    with pytest.raises(DataError, match="no body"):
        read(points=POINTS * shrunk)


def test_noise_is_refused(read: Callable[..., Recording]) -> None:
    noise = np.random.default_rng(3).normal(0, 300, POINTS.shape)
    with pytest.raises(DataError, match="noise"):
        read(points=noise)


# --- the library is not believed either


@pytest.mark.parametrize("wrong", ["value", "lost sample", "frames", "points"])
def test_what_the_library_returns_is_looked_at_twice(tmp_path: Path, wrong: str) -> None:
    layout = settle(read_structure(C3DFile(POINTS, labels=LABELS).write(tmp_path / "trial.c3d")))
    frames = raw_frames(layout)
    read = np.ascontiguousarray(POINTS.transpose(2, 1, 0))
    none = np.zeros((FRAMES, N), dtype=bool)
    np.testing.assert_array_equal(checked(read, layout, frames, none), POINTS)
    if wrong == "value":
        read[:, :, 0] += 0.01
    elif wrong == "lost sample":
        read[:, 3, 17] = np.nan
    read = read[:, :, :-1] if wrong == "frames" else read[:, :-1] if wrong == "points" else read
    with pytest.raises(ReadersDisagree):
        checked(read, layout, frames, none)


# --- names


def test_parameter_names_in_lower_case_are_read(read: Callable[..., Recording]) -> None:
    recording = read(lower_case=True)
    same_points(recording)
    assert recording.labels == tuple(LABELS)


def test_a_second_point_group_is_reported(read: Callable[..., Recording]) -> None:
    same = read(add=[real("POINT#2", "RATE", 100.0)])
    assert "parameter section" in checks(same)
    same_points(same)
    with pytest.raises(DataError, match="POINT:RATE stands twice"):
        read(add=[real("POINT#2", "RATE", 200.0)])


@pytest.mark.parametrize(
    "record",
    [
        Record("OTHER", "ODD", 3, (4,), bytes(12)),
        Record("OTHER", "ODD", -7, (), bytes(1)),
        Record("OTHER", "ODD", CHARACTER, (), b"x"),
        Record("OTHER", "ODD", CHARACTER, (0, 0), b""),
        Record("OTHER", "ODD", CHARACTER, (255, 255, 255), b"short"),
        Record("OTHER", "ODD", 2, (2,) * 7, bytes(256)),
        Record("OTHER", "", 2, (), bytes(2)),
        Record("OTHER", "ODD", 2, (), bytes(2), offset=1),
        Record("OTHER", "ODD", 2, (), bytes(2), offset=65000),
    ],
    ids=[
        "type 3",
        "type -7",
        "text without dimensions",
        "empty text",
        "more than there is",
        "seven dimensions",
        "no name",
        "back",
        "far",
    ],
)
def test_a_strange_parameter_costs_no_coordinate(read: Callable[..., Recording], record: Record) -> None:
    recording = read(add=[record])
    same_points(recording)
    assert recording.labels == tuple(LABELS)


@pytest.mark.parametrize("count", [1, 254, 255, 256, 300, 600])
def test_more_than_255_labels_are_joined(read: Callable[..., Recording], count: int) -> None:
    labels = [f"P{k:03d}" for k in range(count)]
    points = np.resize(POINTS[:8].transpose(1, 0, 2), (count, 8, 3)).transpose(1, 0, 2)
    if count < 4:
        assert read(points=points, labels=labels).labels == tuple(labels)
        return
    recording = read(points=points, labels=labels)
    assert recording.labels == tuple(labels)
    same_points(recording, points)


def test_labels_are_cleaned_and_counted(read: Callable[..., Recording]) -> None:
    odd: list[str | bytes] = [*LABELS]
    odd[0], odd[1], odd[2], odd[3] = b"KN\xcaE", b"A\x1b[2J", "*12", b"   "
    recording = read(labels=odd)
    assert recording.labels[:4] == ("KNÊE", "A?[2J", "*12", "*4")
    assert recording.kinds[:4] == ("marker", "marker", "unlabelled", "unlabelled")
    for label in recording.labels:
        label.encode("utf-8")
    assert "labels" in checks(recording)
    fewer = read(labels=LABELS[:7])
    assert fewer.labels[7:] == ("*8", "*9", "*10", "*11", "*12")
    assert "labels" in checks(fewer)
    none = read(drop={"POINT:LABELS"})
    assert any(f.verdict == "reject" and f.check == "labels" for f in none.findings)


@pytest.mark.parametrize("dims", [(4, N), (8, N // 2), (16, N), (8, N - 1), (7, N)])
def test_labels_read_at_the_wrong_places_are_rejected(read: Callable[..., Recording], dims: tuple[int, int]) -> None:
    raw = b"".join(label.encode().ljust(8) for label in LABELS)
    recording = read(replace=[Record("POINT", "LABELS", CHARACTER, dims, raw)])
    same_points(recording)
    assert any(f.check == "labels" and f.verdict == "reject" for f in recording.findings)


def test_points_that_are_no_markers_are_told(read: Callable[..., Recording]) -> None:
    angles = np.random.default_rng(0).normal(0, 30, (FRAMES, 2, 3))
    forces = np.random.default_rng(0).normal(0, 9e4, (FRAMES, 1, 3))
    made = np.concatenate([POINTS / 1000, angles, forces], axis=1)
    labels = [*LABELS, "R_KNEE_ANGLE", "SPECIAL", "R_FORCE"]
    groups = [
        text("POINT", "ANGLES", ["R_KNEE_ANGLE"]),
        text("POINT", "FORCES", ["R_FORCE"]),
        text("POINT", "OWN_LIST", ["SPECIAL"]),
        Record("POINT", "TYPE_GROUPS", CHARACTER, (10, 2, 1), b"OWN_OUTPUT" + b"OWN_LIST  "),
    ]
    recording = read(points=made, labels=labels, unit="m", add=groups)
    assert recording.kinds[N:] == ("angle", "own_output", "force")
    assert recording.kinds[0] == "marker"
    same_points(recording, np.concatenate([POINTS, angles, forces], axis=1), atol=0.01)
    assert "samples out of range" not in checks(recording)


# --- nothing to read


def test_a_file_without_points_or_frames_is_refused(read: Callable[..., Recording]) -> None:
    nothing = np.zeros((FRAMES, 0, 3))
    with pytest.raises(DataError, match="no points"):
        read(C3DFile(nothing, labels=[], analogue=analogue()))
    with pytest.raises(DataError, match="no points"):
        read(C3DFile(nothing, labels=[], add=[word("ROTATION", "USED", 4)]))
    with pytest.raises(DataError, match=r"no frames|contradict"):
        read(C3DFile(POINTS[:0], labels=LABELS, header={"first": 1, "last": 0}))


# --- events, first frame


def event_group(times: list[tuple[float, float]], labels: list[str]) -> list[Record]:
    return [
        word("EVENT", "USED", len(times)),
        real("EVENT", "TIMES", np.array(times), dims=(2, len(times))),
        text("EVENT", "LABELS", labels),
        text("EVENT", "CONTEXTS", ["Right"] * len(times)),
    ]


def test_events_are_minutes_and_seconds_from_the_first_frame_of_the_capture(read: Callable[..., Recording]) -> None:
    first = 6001  # one minute into the capture at 100 Hz
    recording = read(
        first_frame=first,
        add=event_group([(1, 0.30), (1, 0.10), (0, 59.0), (1, 5.0)], ["bottom", "start", "early", "late"]),
    )
    assert [(round(e.time_s, 4), e.label, e.inside) for e in recording.events] == [
        (-1.0, "early", False),
        (0.1, "start", True),
        (0.3, "bottom", True),
        (5.0, "late", False),
    ]
    assert recording.first_frame == first
    assert [f.value for f in recording.findings if f.check == "events out of range"] == [2.0]
    assert "events out of order" in {f.check for f in recording.findings}


def test_header_events_stand_in_where_there_is_no_event_group(read: Callable[..., Recording]) -> None:
    recording = read(header={"events": [(0.25, "DOWN"), (0.5, "UP")]})
    assert [(round(e.time_s, 4), e.label) for e in recording.events] == [(0.25, "DOWN"), (0.5, "UP")]


def test_the_first_frame_comes_from_trial_where_the_header_cannot_hold_it(read: Callable[..., Recording]) -> None:
    start = 70001
    trial = [
        word("TRIAL", "ACTUAL_START_FIELD", [start % 65536, start // 65536]),
        word("TRIAL", "ACTUAL_END_FIELD", [(start + FRAMES - 1) % 65536, (start + FRAMES - 1) // 65536]),
    ]
    recording = read(add=trial, header={"first": start % 65536, "last": (start + FRAMES - 1) % 65536})
    assert recording.first_frame == start
    same_points(recording)


# --- force plates


def plates(channels: list[int], *, corners: bool = True) -> list[Record]:
    records = [
        word("FORCE_PLATFORM", "USED", 1),
        word("FORCE_PLATFORM", "TYPE", [2]),
        word("FORCE_PLATFORM", "ZERO", [1, 0]),
        word("FORCE_PLATFORM", "CHANNEL", channels, dims=(6, 1)),
        real("FORCE_PLATFORM", "ORIGIN", [0.0, 0.0, -40.0], dims=(3, 1)),
    ]
    square = [500.0, 500.0, 0.0, -500.0, 500.0, 0.0, -500.0, -500.0, 0.0, 500.0, -500.0, 0.0]
    return [*records, *([real("FORCE_PLATFORM", "CORNERS", square, dims=(3, 4, 1))] if corners else [])]


def test_force_plates_never_cost_the_markers(read: Callable[..., Recording]) -> None:
    samples = analogue()
    sound = read(C3DFile(POINTS, labels=LABELS, analogue=samples, add=plates([1, 2, 3, 4, 5, 6])), forces=True)
    assert sound.forces is not None
    assert sound.forces[0].force.shape == (FRAMES * 4, 3)
    assert "force plates" not in checks(sound)
    for broken in (
        plates([1, 2, 3, 4, 5, 99]),
        plates([0, 0, 0, 0, 0, 0]),
        plates([1, 2, 3, 4, 5, 6], corners=False),
        plates([1] * 6)[:2],
    ):
        recording = read(C3DFile(POINTS, labels=LABELS, analogue=samples, add=broken), forces=True)
        same_points(recording)
        assert "force plates" in checks(recording)


# --- what cannot be read without the extra


def test_a_mips_file_names_the_extra_where_it_is_missing(
    read: Callable[..., Recording], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    same_points(read(processor="mips"))
    (tmp_path / "c3d.py").write_text("raise ModuleNotFoundError(\"No module named 'c3d'\", name='c3d')\n")
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    path = C3DFile(POINTS, labels=LABELS, processor="mips").write(tmp_path / "old.c3d")
    with (
        C3DReader() as other,
        pytest.raises(DataError, match=r"old\.c3d: was written by a MIPS machine.*condyle\[legacy\]"),
    ):
        other.read(path)
