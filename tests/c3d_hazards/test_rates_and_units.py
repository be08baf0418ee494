"""Rate, scale and unit: what cannot be is refused, what is doubtful is judged by the size of a body."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from condyle.errors import DataError
from condyle.files.c3d import Recording
from condyle.files.c3d_raw import raw_frames
from condyle.files.c3d_settle import settle
from condyle.files.c3d_structure import read_structure
from condyle.files.judging import ReadersDisagree, checked
from tests.c3d_bytes import C3DFile, real, walking_body
from tests.c3d_hazards.shared import FRAMES, LABELS, POINTS, STORAGES, N, analogue, checks, same_points


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
