"""The main job on real recordings: public walking trials of the C3D standard's sample data."""

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from condyle.session import process
from tests.open_sessions import CLUSTERS, SKIN, write_open_session


def percentiles(trial: xr.Dataset, side: str, angle: str) -> tuple[float, float]:
    values = trial["angle"].sel(side=side, joint_angle=angle).values
    return float(np.nanpercentile(values, 2)), float(np.nanpercentile(values, 98))


@pytest.fixture(scope="module")
def walking_2(tmp_path_factory: pytest.TempPathFactory) -> xr.Dataset:
    folder = write_open_session(tmp_path_factory.mktemp("p2"), "cluster_walk", "standing_2", ["walking_2"], CLUSTERS)
    result = process(folder)
    assert result.exit_status == 0
    return xr.load_dataset(folder / "results" / "trials" / "walking_2.nc")


# Ranges: an independent computation on the same files, see the README beside the public files; a textbook walk is hip
# about -10 to 30 and knee 0 to 60 degrees (common knowledge in gait analysis, e.g. Perry, Winter).
@pytest.mark.parametrize(
    ("side", "angle", "low", "high", "within"),
    # at heel strike the left knee dips below -5 degrees for few frames, of which a 6 Hz filter takes a degree
    [("right", "hip_flexion", -5, 37, 1), ("right", "knee_flexion", -3, 60, 1), ("left", "knee_flexion", -6, 64, 2)],
)
def test_angles_of_a_walk_vs_independent_computation(
    walking_2: xr.Dataset, side: str, angle: str, low: float, high: float, within: float
) -> None:
    found = percentiles(walking_2, side, angle)
    assert found == pytest.approx((low, high), abs=within)


def test_clean_clusters_fit_within_published_residuals(walking_2: xr.Dataset) -> None:
    rms = walking_2["fit_rms"]
    for segment in ("thigh_r", "thigh_l", "shank_r", "shank_l"):
        assert 0.3 < float(rms.sel(segment=segment).median()) < 1.5  # README of the public files: 0.9-1.4 mm


def test_pelvis_width_of_the_public_standing_trial(walking_2: xr.Dataset) -> None:
    static = walking_2["static_point"]
    width = float(np.linalg.norm(static.sel(marker="asis_r") - static.sel(marker="asis_l")))
    assert width == pytest.approx(218, abs=1)


def test_another_persons_static_is_rejected_by_name(tmp_path) -> None:
    folder = write_open_session(tmp_path, "cluster_walk", "standing_1", ["walking_2"], CLUSTERS)
    result = process(folder)
    assert result.exit_status == 1
    assert result.rejected == ("walking_2",)
    quality = pd.read_csv(folder / "results" / "quality.csv")
    rejected = quality[quality.verdict == "reject"]
    assert set(rejected.trial) == {"walking_2"}
    assert not (folder / "results" / "trials" / "walking_2.nc").exists()


def test_a_shank_cluster_put_back_elsewhere_is_named(tmp_path) -> None:
    folder = write_open_session(tmp_path, "cluster_walk", "standing_1", ["walking_1_1"], CLUSTERS)
    process(folder)
    quality = pd.read_csv(folder / "results" / "quality.csv")
    fit = quality[(quality.trial == "walking_1_1") & (quality.check == "cluster fit")].set_index("subject").verdict
    assert fit["shank_r"] == "reject"
    assert fit["shank_l"] == "review"
    assert fit["thigh_r"] == fit["thigh_l"] == "pass"


def test_a_sparse_set_gives_flexion_and_says_what_falls_away(tmp_path) -> None:
    folder = write_open_session(tmp_path, "skin_walk", "standing", ["walk_1"], SKIN)
    result = process(folder)
    assert result.exit_status == 0
    trial = xr.load_dataset(folder / "results" / "trials" / "walk_1.nc")
    hip, knee, ankle = (trial["joint_centre"].sel(joint=f"{n}_r").values for n in ("hip", "knee", "ankle"))
    thigh, shank = hip - knee, ankle - knee
    cosine = np.sum(thigh * shank, axis=-1) / np.linalg.norm(thigh, axis=-1) / np.linalg.norm(shank, axis=-1)
    bent = 180.0 - np.rad2deg(np.arccos(cosine))
    low, high = np.nanpercentile(bent, [2, 98])  # README of the public files: about 10 to 65 degrees, between the lines
    assert low == pytest.approx(10, abs=2.5)  # hip centre - lateral knee and lateral knee - ankle
    assert high == pytest.approx(65, abs=2.5)
    assert percentiles(trial, "right", "knee_flexion")[1] == pytest.approx(65, abs=2.5)
    for gone in ("knee_adduction", "hip_internal_rotation", "thigh_axial_rotation"):
        assert trial["angle"].sel(joint_angle=gone).isnull().all()
    quality = pd.read_csv(folder / "results" / "quality.csv")
    assert quality.advice.str.contains("knee_adduction").any()
