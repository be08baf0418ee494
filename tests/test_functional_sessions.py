"""Sessions with functional trials, from the files on disk: what must be declared, and what one recording may be for."""

import shutil
from pathlib import Path

import pytest

from condyle.command import main
from condyle.session import compute, plan

SAMPLE = Path(__file__).parents[1] / "sample_trials" / "MR01" / "2026-11-03"
PIPELINE = "lab: {vertical: +Z}\nstages:\n  - read\n  - fill\n  - filter\n  - calibrate: {hip_centre: %s}\n  - pose\n  - angles\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name in ("static.c3d", "squat_left.c3d"):
        shutil.copy(SAMPLE / name, tmp_path)
    shutil.copy(SAMPLE / "squat_left.c3d", tmp_path / "leg.c3d")
    return tmp_path


def write(place: Path, calibration: str, hip_centre: str = "functional") -> None:
    (place / "pipeline.yaml").write_text(PIPELINE % hip_centre)
    (place / "session.yaml").write_text(
        "participant: {id: MR01}\nsession: s1\nmarker_set: clusters_full_body\npipeline: pipeline.yaml\n"
        f"static: static.c3d\n{calibration}trials: [{{file: squat_left.c3d, task: other}}]\n"
    )


def test_one_recording_serves_the_hip_and_the_knee(folder: Path) -> None:
    write(folder, "calibration: [{file: leg.c3d, for: hip_l}, {file: leg.c3d, for: knee_axis_l}]\n")
    result = compute(plan(folder))
    found = [(f.subject, f.verdict) for name, f in result.findings if f.check == "functional calibration"]
    assert [subject for subject, _ in found] == ["hip_l", "knee_axis_l"]
    assert ("knee_axis_l", "pass") in found  # a squat alone may turn the hip about too few axes
    assert list(result.trials) == ["leg", "static", "squat_left"]


@pytest.mark.parametrize("calibration", ["", "calibration: [{file: leg.c3d, for: knee_axis_l}]\n"])
def test_a_functional_hip_centre_without_a_trial_for_it_is_a_configuration_error(
    folder: Path, capsys: pytest.CaptureFixture[str], calibration: str
) -> None:
    write(folder, calibration)
    assert main(["run", str(folder)]) == 2
    (said,) = capsys.readouterr().err.splitlines()
    assert "pipeline.yaml, line 6: key `hip_centre` in `calibrate` is functional" in said
    assert "session.yaml declares no functional trial of a hip" in said
    assert not (folder / "results").exists()
    write(folder, calibration, "harrington_2007")
    assert plan(folder).session.name == "s1"


@pytest.mark.parametrize("jobs", ["0", "-3"])
def test_fewer_jobs_than_one_is_wrong_usage(folder: Path, capsys: pytest.CaptureFixture[str], jobs: str) -> None:
    write(folder, "", "harrington_2007")
    assert main(["run", str(folder), "--jobs", jobs]) == 2
    assert capsys.readouterr().err == f"--jobs is {jobs}; expected a whole number of at least 1.\n"
    assert not (folder / "results").exists()
