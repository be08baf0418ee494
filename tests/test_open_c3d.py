"""The C3D standard's public sample files (c3d.org, sample data 01, 08, 26, 28) read as what they are known to hold."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from condyle.errors import DataError
from condyle.files.c3d import C3DReader
from condyle.files.labels import collapse_duplicates, match_labels
from tests.conftest import open_c3d

ENCODINGS = [f"{machine}_{storage}" for machine in ("intel", "dec", "mips") for storage in ("int", "real")]
LAYOUTS = ["standard", "shifted_a", "shifted_b", "shifted_c", "shifted_d"]
SCALE = 1 / 12  # one step of the integer files, mm


@pytest.fixture(scope="module")
def reader() -> Iterator[C3DReader]:
    with C3DReader() as one:
        yield one


@pytest.mark.parametrize("name", ENCODINGS)
def test_six_encodings_hold_the_published_coordinates(reader: C3DReader, name: str) -> None:
    recording = reader.read(open_c3d(f"encodings/{name}.c3d"))
    assert recording.points.shape == (450, 26, 3)
    assert recording.rate_hz == 50.0
    np.testing.assert_allclose(recording.points[0, 0], [248.583, 226.833, 37.417], atol=0.0006)
    reference = reader.read(open_c3d("encodings/intel_real.c3d"))
    np.testing.assert_allclose(recording.points, reference.points, atol=SCALE / 2 if "int" in name[-4:] else 1e-6)
    assert recording.labels == reference.labels
    assert [(round(e.time_s, 3), e.label) for e in recording.events] == [(2.72, "RIC"), (5.4, "RHS"), (7.32, "RTO")]


@pytest.mark.parametrize("name", LAYOUTS)
def test_five_layouts_hold_the_same_coordinates(reader: C3DReader, name: str) -> None:
    recording = reader.read(open_c3d(f"layouts/{name}.c3d"))
    np.testing.assert_array_equal(recording.points, reader.read(open_c3d("layouts/standard.c3d")).points)
    assert recording.labels[0] == "RFT1"
    assert not [f for f in recording.findings if "header" in f.check]


def test_walking_2_has_73_points_of_25_names_and_the_same_data_three_times(reader: C3DReader) -> None:
    recording = reader.read(open_c3d("cluster_walk/walking_2.c3d"))
    assert recording.points.shape == (541, 73, 3)
    names = list(dict.fromkeys(recording.labels))
    assert len(names) == 25
    assert recording.first_frame == 330
    match = match_labels(recording.labels, names)
    assert len(match.all_columns["R_ASIS"]) == 3
    assert len(match.all_columns["R_SHANK_1"]) == 2
    points, findings = collapse_duplicates(recording.points, match, names)
    assert not [f for f in findings if f.verdict != "pass"]
    assert points.shape == (541, 25, 3)
    standing = reader.read(open_c3d("cluster_walk/standing_2.c3d"))
    right, left = (standing.points[:, standing.labels.index(label)] for label in ("R_ASIS", "L_ASIS"))
    assert np.nanmedian(np.linalg.norm(right - left, axis=-1)) == pytest.approx(218, abs=1)


def test_unseen_samples_of_cluster_walk_are_missing_not_at_the_origin(reader: C3DReader) -> None:
    recording = reader.read(open_c3d("cluster_walk/walking_1_1.c3d"))
    assert recording.counts.zero == 3902
    assert np.isnan(recording.points[..., 0]).sum() == 3902
    pelvis = recording.points[:, [recording.labels.index(m) for m in ("R_ASIS", "L_ASIS", "SACRUM")], 0]
    assert 0.15 <= np.isnan(pelvis).any(axis=1).mean() <= 0.32  # one of three missing in 15-32 % of frames
    kept = reader.read(open_c3d("cluster_walk/walking_1_1.c3d"), zero_is_missing=False)
    assert not np.isnan(kept.points).any()


@pytest.mark.parametrize("name", ["no_scale_dynamic", "no_scale_standing"])
def test_files_without_scale_rate_and_data_start_are_refused_with_the_reason(reader: C3DReader, name: str) -> None:
    path = open_c3d(f"damaged/{name}.c3d")
    with pytest.raises(DataError, match=rf"{name}.c3d: has no POINT:SCALE and no POINT:RATE and no POINT:DATA_START"):
        reader.read(path)


def test_every_sound_file_reads_without_a_contradiction(reader: C3DReader, open_c3d_dir: Path) -> None:
    for path in sorted(open_c3d_dir.glob("*_walk/*.c3d")):
        recording = reader.read(path)
        assert recording.unit == "mm"
        assert {f.check for f in recording.findings} <= {"samples at the origin", "leap of a sample"}, path


def test_force_plates_of_walking_2_carry_the_walker_from_heel_to_toe(reader: C3DReader) -> None:
    recording = reader.read(open_c3d("cluster_walk/walking_2.c3d"), forces=True, analogue=True)
    assert recording.force_plates == 2
    assert recording.forces is not None
    assert recording.analogue is not None
    assert recording.analogue.shape == (541, 16)
    assert recording.analogue_rate_hz == 240.0
    for plate in recording.forces:
        loaded = np.abs(plate.force[:, 2]) > 200
        assert loaded.sum() / plate.rate_hz == pytest.approx(0.55, abs=0.15)  # a stance phase (common knowledge)
        centre = plate.centre_of_pressure[loaded, :2]
        assert (centre >= plate.corners[:, :2].min(axis=0)).all()
        assert (centre <= plate.corners[:, :2].max(axis=0)).all()
        assert 120 < np.ptp(centre[:, 0]) < 300  # the length of a foot
