"""Files without anything to read, events, first frame, force plates, and machines that ezc3d does not read."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from condyle.errors import DataError
from condyle.files.c3d import C3DReader, Recording
from tests.c3d_bytes import C3DFile, Record, real, text, word
from tests.c3d_hazards.shared import FRAMES, LABELS, POINTS, analogue, checks, same_points


def test_a_file_without_points_or_frames_is_refused(read: Callable[..., Recording]) -> None:
    nothing = np.zeros((FRAMES, 0, 3))
    with pytest.raises(DataError, match="no points"):
        read(C3DFile(nothing, labels=[], analogue=analogue()))
    with pytest.raises(DataError, match="no points"):
        read(C3DFile(nothing, labels=[], add=[word("ROTATION", "USED", 4)]))
    with pytest.raises(DataError, match=r"no frames|contradict"):
        read(C3DFile(POINTS[:0], labels=LABELS, header={"first": 1, "last": 0}))


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
