"""Exports open in other people's readers with the same numbers, and carry no text from the recording."""

import json
import os
import re
import shutil
import subprocess
import warnings
from pathlib import Path

import ezc3d
import numpy as np
import pandas as pd
import pytest
import xarray as xr

from condyle.archive.export import export
from condyle.archive.export_c3d import write_c3d
from condyle.archive.exported import Exported, label
from condyle.body_names import JOINT_ANGLES, JOINTS, SEGMENTS, SIDES
from condyle.command import main
from condyle.errors import DataError, UsageError
from condyle.files.netcdf import write_trial
from condyle.trial_data import put

SECRET = "Jane_Doe:1971"
FRAMES = 240


def trial(name: str = "squat_right", participant: str = "MR01", frames: int = FRAMES) -> xr.Dataset:
    random = np.random.default_rng(5)
    markers = ["asis_r", "lateral_epicondyle_r", SECRET, "R_THIGH_2"]
    point = random.normal(500, 200, (frames, 4, 3))
    point[20:25, 0] = np.nan
    tracking = np.zeros((len(SEGMENTS), 4 + len(JOINTS)), dtype=bool)
    tracking[SEGMENTS.index("thigh_r"), 1:4] = True
    angle = random.normal(20, 15, (frames, 2, len(JOINT_ANGLES)))
    angle[:, :, JOINT_ANGLES.index("trunk_lean")] = np.nan
    angle[100:110, 1, JOINT_ANGLES.index("hip_flexion")] = np.nan
    base = xr.Dataset(coords={"time": np.arange(frames) / 200, "marker": markers})
    dataset = put(
        base,
        {"body_point": [*markers, *JOINTS], "label": markers, "repetition": [1, 2]},
        point=point,
        tracking=tracking,
        angle=angle,
        joint_centre=random.normal(400, 100, (frames, len(JOINTS), 3)),
        repetition_number=[1, 2],
        repetition_side=["right", "right"],
        repetition_start_s=[0.1, 0.6],
        repetition_bottom_s=[0.3, 0.8],
        repetition_end_s=[0.5, 1.1],
    )
    return dataset.assign_attrs(
        participant=participant, session="2026-11-03", trial=name, task="single_leg_squat", side="right", rate_hz=200.0,
        first_frame=41, file=f"{SECRET}.c3d", sha256="ab" * 32, participant_sex="female", participant_height_mm=1720.0,
        history=json.dumps([{"filter": {"cutoff_hz": 6.0}}]),
    )  # fmt: skip


@pytest.fixture
def results(tmp_path: Path) -> Path:
    for name in ("squat_right", "squat_left"):
        (tmp_path / "results" / "trials").mkdir(parents=True, exist_ok=True)
        write_trial(tmp_path / "results" / "trials" / f"{name}.nc", trial(name))
    return tmp_path / "results"


def expected_points(dataset: xr.Dataset) -> dict[str, np.ndarray]:
    names = ("asis_r", "lateral_epicondyle_r", "thigh_r_1", "thigh_r_2")
    points = {name: dataset["point"].values[:, i] for i, name in enumerate(names)}
    return points | {f"{joint}_centre": dataset["joint_centre"].values[:, i] for i, joint in enumerate(JOINTS)}


def expected_angles(dataset: xr.Dataset) -> dict[str, np.ndarray]:
    of = {(a, s): dataset["angle"].values[:, k, i] for i, a in enumerate(JOINT_ANGLES) for k, s in enumerate(SIDES)}
    hip = ("hip_flexion", "hip_adduction", "hip_internal_rotation")
    return {
        "hip_angles_r": np.column_stack([of[name, "right"] for name in hip]),
        "pelvis_angles_l": np.column_stack([of[f"pelvis_{n}", "left"] for n in ("rotation", "obliquity", "tilt")]),
        "thigh_angles_r": np.column_stack([of["thigh_axial_rotation", "right"], of["fppa", "right"], np.zeros(FRAMES)]),
    }


def assert_same(found: np.ndarray, missing: np.ndarray, expected: np.ndarray) -> None:
    assert np.array_equal(missing, np.isnan(expected).any(axis=1))
    assert np.allclose(found[~missing], expected[~missing], rtol=1e-6, atol=1e-4)


def test_ezc3d_reads_the_same_numbers(results: Path, tmp_path: Path) -> None:
    export([results], tmp_path / "out", ("c3d",))
    file = ezc3d.c3d(str(tmp_path / "out" / "c3d" / "MR01" / "2026-11-03" / "squat_right.c3d"))
    labels = file["parameters"]["POINT"]["LABELS"]["value"]
    data, residuals = file["data"]["points"], file["data"]["meta_points"]["residuals"][0]
    dataset = trial()
    for name, values in (expected_points(dataset) | expected_angles(dataset)).items():
        i = labels.index(name)
        assert_same(data[:3, i].T, residuals[i] < 0, values)
    groups = file["parameters"]["POINT"]
    assert groups["ANGLES"]["value"] == [name for name in labels if "_angles_" in name]
    assert groups["ANGLE_UNITS"]["value"] == ["deg"]
    assert groups["UNITS"]["value"] == ["mm"]
    assert file["header"]["points"]["frame_rate"] == 200
    assert file["header"]["points"]["first_frame"] == 0  # counted from 0 there: frame 1
    events = file["parameters"]["EVENT"]
    assert events["LABELS"]["value"] == ["start", "bottom", "end"] * 2
    assert np.allclose(events["TIMES"]["value"], [[0] * 6, [0.1, 0.3, 0.5, 0.6, 0.8, 1.1]])


def test_the_pure_python_reader_reads_the_same_numbers(results: Path, tmp_path: Path) -> None:
    c3d = pytest.importorskip("c3d", reason="the extra `legacy` is not installed")
    export([results], tmp_path / "out", ("c3d",))
    with (
        open(tmp_path / "out" / "c3d" / "MR01" / "2026-11-03" / "squat_right.c3d", "rb") as stream,
        warnings.catch_warnings(),
    ):
        warnings.simplefilter("ignore")
        reader = c3d.Reader(stream)
        labels = [text.strip() for text in reader.point_labels]
        points = np.stack([points for _, points, _ in reader.read_frames()])
        assert reader.point_rate == 200
    assert len(points) == FRAMES
    dataset = trial()
    for name, values in (expected_points(dataset) | expected_angles(dataset)).items():
        i = labels.index(name)
        assert_same(points[:, i, :3], points[:, i, 3] < 0, values)


def read_bids(out: Path, name: str) -> pd.DataFrame:
    stem = f"sub-MR01_ses-20261103_task-singleLegSquat_tracksys-optical_acq-{name}"
    folder = out / "motion_bids" / "sub-MR01" / "ses-20261103" / "motion"
    channels = pd.read_csv(folder / f"{stem}_channels.tsv", sep="\t")
    motion = pd.read_csv(folder / f"{stem}_motion.tsv", sep="\t", header=None, na_values="n/a", keep_default_na=False)
    sidecar = json.loads((folder / f"{stem}_motion.json").read_text())
    assert motion.shape == (FRAMES, len(channels)) == (FRAMES, sidecar["MotionChannelCount"])
    assert channels["name"].is_unique
    assert sidecar["SamplingFrequency"] == 200
    return motion.set_axis(channels["name"], axis=1)


def test_motion_bids_holds_the_same_numbers(results: Path, tmp_path: Path) -> None:
    assert export([results], tmp_path / "out", ("motion-bids",)) == 2
    motion = read_bids(tmp_path / "out", "squatRight")
    dataset = trial()
    for name, values in expected_points(dataset).items():
        assert np.allclose(motion[[f"{name}_{axis}" for axis in "xyz"]], values, rtol=1e-8, atol=0, equal_nan=True)
    assert np.allclose(motion["hip_flexion_r"], dataset["angle"].values[:, 1, 0], rtol=1e-8, atol=0, equal_nan=True)
    assert np.allclose(motion["hip_flexion_l"], dataset["angle"].values[:, 0, 0], rtol=1e-8, atol=0)
    assert "trunk_lean_r" not in motion
    participants = pd.read_csv(tmp_path / "out" / "motion_bids" / "participants.tsv", sep="\t")
    assert participants.iloc[0].tolist()[:3] == ["sub-MR01", "F", 172.0]
    assert pd.isna(participants.loc[0, "weight"])
    events = next((tmp_path / "out" / "motion_bids").rglob("*squatRight_events.tsv"))
    assert pd.read_csv(events, sep="\t")["onset"].tolist() == [0.1, 0.3, 0.6, 0.8]


def test_motion_bids_passes_the_validator_of_the_standard(results: Path, tmp_path: Path) -> None:
    validator = shutil.which("bids-validator-deno") or os.environ.get("BIDS_VALIDATOR")
    if validator is None:
        pytest.skip("bids-validator-deno is not installed (pip install bids-validator-deno)")
    export([results], tmp_path / "out", ("motion-bids",))

    def errors() -> list[str]:
        done = subprocess.run(
            [validator, "--format", "json", "--max-rows", "-1", str(tmp_path / "out" / "motion_bids")],
            capture_output=True, text=True, check=False,
        )  # fmt: skip
        issues = json.loads(done.stdout)["issues"]["issues"]
        return sorted({issue["code"] for issue in issues if issue.get("severity") == "error"})

    assert errors() == []
    channels = next((tmp_path / "out").rglob("*squatRight_tracksys*_channels.tsv"), None) or next(
        (tmp_path / "out").rglob("*squatRight_channels.tsv")
    )
    channels.write_text(channels.read_text().replace("\tPOS\t", "\tPLACE\t"))
    assert errors() != []  # the validator does look


def test_nothing_from_the_recording_is_copied(results: Path, tmp_path: Path) -> None:
    export([results], tmp_path / "out")
    files = [path for path in (tmp_path / "out").rglob("*") if path.is_file()]
    assert len([path for path in files if path.suffix == ".c3d"]) == 2
    for path in files:
        content = path.read_bytes() + path.name.encode()
        for text in (b"Jane", b"Doe", b"R_THIGH_2"):
            assert text not in content, path


def test_an_overridden_reject_goes_with_the_trial(tmp_path: Path) -> None:
    words = "shank_r, cluster fit: plate knocked \N{EN DASH} seen on video; " + "and long ago " * 30
    (tmp_path / "results" / "trials").mkdir(parents=True)
    for dataset in (trial().assign_attrs(accepted=words), trial("squat_left")):
        write_trial(tmp_path / "results" / "trials" / f"{dataset.attrs['trial']}.nc", dataset)
    export([tmp_path / "results"], tmp_path / "out")
    for name, let_through in (("squat_right", True), ("squat_left", False)):
        (path,) = (tmp_path / "out").rglob(f"*{name}.c3d")
        parameters = ezc3d.c3d(str(path))["parameters"]
        assert ("CONDYLE" in parameters) is let_through
        (sidecar,) = (tmp_path / "out").rglob(f"*{name.replace('_l', 'L').replace('_r', 'R')}_motion.json")
        assert ("OverriddenRejects" in json.loads(sidecar.read_text())) is let_through
        if let_through:
            lines = parameters["CONDYLE"]["OVERRIDDEN"]["value"]
            assert " ".join(lines) == words.replace("\N{EN DASH}", "?").strip()
            assert json.loads(sidecar.read_text())["OverriddenRejects"] == words


def test_two_trials_of_one_bids_name_are_an_error(tmp_path: Path) -> None:
    for folder, name in (("a", "squat_1"), ("b", "squat-1")):
        (tmp_path / folder / "trials").mkdir(parents=True)
        write_trial(tmp_path / folder / "trials" / "x.nc", trial(name))
    with pytest.raises(DataError, match="become one name in BIDS"):
        export([tmp_path], tmp_path / "out", ("motion-bids",))
    write_trial(tmp_path / "b" / "trials" / "x.nc", trial("squat_1"))
    with pytest.raises(DataError, match="are both MR01, 2026-11-03, squat_1"):
        export([tmp_path], tmp_path / "elsewhere")


def test_the_command_says_what_is_wrong(results: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "out"
    assert main(["export", str(results), "--out", str(out), "--format", "c3d"]) == 0
    assert capsys.readouterr().out == f"2 trials exported to {out}\n"
    assert main(["export", str(results), "--out", str(out), "--format", "c3d"]) == 2
    assert "is not empty" in capsys.readouterr().err
    assert main(["export", str(results), "--out", str(out), "--overwrite"]) == 0
    with pytest.raises(UsageError, match="no results lie below"):
        export([out / "c3d"], tmp_path / "other")
    with pytest.raises(UsageError, match="is not a folder"):
        export([tmp_path / "missing"], tmp_path / "other")


def test_a_trial_longer_than_the_header_can_say_is_refused(tmp_path: Path) -> None:
    with pytest.raises(DataError, match="has 65536 frames and C3D holds 65535"):
        write_c3d(tmp_path / "long.c3d", Exported(trial(frames=65536)))
    assert not list(tmp_path.iterdir())


def test_labels_are_letters_and_digits() -> None:
    assert [label(text) for text in ("squat_right", "2026-11-03", "MR01", "..")] == [
        "squatRight",
        "20261103",
        "MR01",
        "x",
    ]
    assert re.fullmatch(r"[A-Za-z0-9]+", label("a b/c:d"))
