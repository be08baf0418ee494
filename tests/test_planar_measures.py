"""Planar measures and the camera: known projections, both sides, any facing."""

from dataclasses import replace

import numpy as np
import pytest

from condyle.study.body import repetitions_of
from condyle.study.camera_sweep import camera_table, camera_values
from condyle.study.figures import camera_figure
from condyle.study.planar import leg_shares, planar_courses, planar_table
from condyle.study.settings import CameraSetting, SweepSetting
from tests.study_tables import about, squat, trial_of

KEY = {"participant": "MR01", "session": "1", "trial": "a", "task": "single_leg_squat", "condition": ""}
FAR = CameraSetting(distance_mm=1e7, focal_length_px=1e6)


def one(side: str, change: dict[str, float], heading: float = 0.0, lean: float = 0.0):  # type: ignore[no-untyped-def]
    (repetition,) = repetitions_of(trial_of(KEY, side, [squat(side, change, lean=lean)], heading))
    return repetition


# the four movements of the check model: change of FPPA in the participant's frontal plane, and in the pelvis' own
MOVEMENTS = [
    ({"pelvis_rotation": 22}, 36.0, 0.0),
    ({"hip_adduction": 18, "hip_internal_rotation": 8}, 31.9, 47.3),
    ({"pelvis_obliquity": 12, "hip_adduction": 12}, 16.3, 29.4),
    (
        {"pelvis_rotation": 12, "pelvis_obliquity": 5, "hip_adduction": 10, "hip_internal_rotation": 8,
         "knee_adduction": -3, "knee_internal_rotation": 4},
        43.3, 35.9,
    ),
]  # fmt: skip


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("heading", [0.0, 137.0])
@pytest.mark.parametrize(("change", "frontal", "own"), MOVEMENTS)
def test_fppa_of_the_check_model_in_two_planes(side: str, heading: float, change, frontal, own) -> None:  # type: ignore[no-untyped-def]
    repetition = one(side, change, heading)
    for view, expected in (("frontal", frontal), ("pelvis_plane", own)):
        fppa = planar_courses(repetition, view, FAR)["fppa"]
        assert fppa[50] - fppa[0] == pytest.approx(expected, abs=0.06), view


def test_a_far_camera_sees_the_frontal_plane() -> None:
    repetition = one("right", {"hip_adduction": 10, "pelvis_rotation": 5, "pelvis_obliquity": 4}, lean=6)
    flat, filmed = (planar_courses(repetition, view, FAR) for view in ("frontal", "camera"))
    for name in ("fppa", "fppa_asis", "hip_adduction", "pelvis_drop", "trunk_lean"):
        assert filmed[name] == pytest.approx(flat[name], abs=0.02), name
    assert filmed["knee_over_foot"] == pytest.approx(flat["knee_over_foot"], abs=0.1)


@pytest.mark.parametrize("side", ["left", "right"])
def test_planar_measures_follow_their_3d_quantity(side: str) -> None:
    repetition = one(side, {"pelvis_obliquity": 7, "hip_adduction": 9}, lean=11)
    flat = planar_courses(repetition, "frontal", FAR)
    assert flat["pelvis_drop"][50] == pytest.approx(7, abs=0.3)  # a tilted pelvis turns its line a little
    assert flat["trunk_lean"][50] == pytest.approx(11, abs=0.01)
    assert flat["trunk_lean"][0] == pytest.approx(0, abs=0.01)
    assert flat["hip_adduction"][0] == pytest.approx(0, abs=0.05)
    hardly_bent = squat(side, {"hip_adduction": 9})
    hardly_bent["angle"]["hip_flexion"] = np.zeros(101)
    knee, hip = (repetition.point[n] for n in ("knee", "hip"))
    assert knee[50, 0] > hip[50, 0]  # the knee is in front: the projected thigh is short, the planar angle larger
    assert flat["hip_adduction"][50] > 9


def test_camera_distance_and_height_change_what_depth_makes_of_it() -> None:
    repetition = one("right", {"hip_adduction": 10, "hip_internal_rotation": 5})
    near, far = (
        planar_courses(repetition, "camera", CameraSetting(distance_mm=d))["fppa"][50] for d in (1500.0, 6000.0)
    )
    assert abs(near - far) > 1.0  # the knee is nearer to the lens than hip and ankle
    low, high = (planar_courses(repetition, "camera", CameraSetting(height_mm=h))["fppa"][50] for h in (300.0, 1500.0))
    assert abs(low - high) > 0.5


def test_yaw_turns_pelvis_rotation_into_fppa() -> None:
    # a far camera carried round by the pelvis' own turn sees the thigh straight ahead again: what the pelvis did is gone
    for side, yaw in (("right", 22.0), ("left", -22.0)):
        turned = one(side, {"pelvis_rotation": 22})
        seen = planar_courses(turned, "camera", FAR.model_copy(update={"yaw_deg": yaw}))["fppa"][50]
        straight = planar_courses(one(side, {}), "camera", FAR)["fppa"][50]
        assert seen == pytest.approx(straight, abs=0.05)


def test_camera_moved_and_turned_vs_a_pinhole_written_out() -> None:
    repetition = one("right", {"hip_adduction": 10}, lean=4)
    camera = CameraSetting(yaw_deg=25, sideways_mm=400, distance_mm=2500, height_mm=800)
    foot = repetition.point["ankle"][0] * [1, 0, 1]
    yaw = np.deg2rad(25.0)
    towards = np.array([np.cos(yaw), 0, -np.sin(yaw)])  # from the participant to the lens: front, turned to their left
    right = np.array([np.sin(yaw), 0, np.cos(yaw)])
    lens = foot + 2500 * towards + 400 * right + [0, 800, 0]

    def picture(name: str) -> np.ndarray:
        line = repetition.point[name][50] - lens
        depth = line @ -towards
        return np.array([line @ right, -line[1]]) / depth

    hip, knee, ankle = (picture(n) for n in ("hip", "knee", "ankle"))
    thigh, shank = (np.arctan2(-(b - a)[0], (b - a)[1]) for a, b in ((hip, knee), (knee, ankle)))
    assert planar_courses(repetition, "camera", camera)["fppa"][50] == pytest.approx(
        np.rad2deg(thigh - shank), abs=1e-6
    )


def test_a_camera_from_the_side_sees_the_whole_bent_thigh() -> None:
    repetition = one("right", {})
    ahead, aside = (
        leg_shares(repetition, "camera", CameraSetting(yaw_deg=y, distance_mm=1e6))[0][50] for y in (0.0, 80.0)
    )
    across = repetition.point["knee"][50] - repetition.point["hip"][50]
    assert ahead == pytest.approx(np.hypot(across[1], across[2]) / np.linalg.norm(across), abs=1e-3)
    assert aside > 0.95
    turned = one(
        "right", {"pelvis_rotation": 30}
    )  # the thigh points in: from the left it is seen end on, from the right not
    from_left, from_right = (leg_shares(turned, "camera", CameraSetting(yaw_deg=y))[0][50] for y in (30.0, -30.0))
    assert from_left < from_right - 0.1


def test_change_is_bottom_minus_start() -> None:
    rows = planar_table([one("left", {"hip_adduction": 12})], FAR, 1).set_index("measure")["value"]
    assert rows["fppa_frontal_change"] > 10
    assert rows["fppa_frontal_change"] == rows["fppa_frontal_at_bottom"] - rows["fppa_frontal_at_start"]


def test_camera_table_gives_degrees_of_fppa_per_degree_of_yaw() -> None:
    people = [
        repetition
        for p in range(4)
        for side in ("left", "right")
        for repetition in repetitions_of(
            trial_of({**KEY, "participant": f"MR{p}"}, side, [squat(side, {"hip_adduction": 3.0 * p})])
        )
    ]
    values = camera_values(people, CameraSetting(), SweepSetting())
    table = camera_table(values, CameraSetting(), 200, 1, 0.95)
    rows = table[(table["measure"] == "fppa") & (table["moved"] == "yaw_deg")]
    assert rows.loc[rows["at"] == 0, "value"].iloc[0] == 0.0
    by_hand = values[(values["measure"] == "fppa") & (values["moved"] == "yaw_deg")]
    slopes = [np.polyfit(g["at"], g["value"], 1)[0] for _, g in by_hand.groupby(["participant", "side"])]
    assert rows.loc[rows["statistic"] == "slope", "value"].iloc[0] == pytest.approx(np.mean(slopes))
    # turned towards the stance side the camera sees either knee, which is in front, go in; both legs alike
    by_side = {s: np.polyfit(g["at"], g["value"], 1)[0] for s, g in by_hand.groupby("side")}
    assert by_side["right"] > 0.5
    assert by_side["left"] == pytest.approx(by_side["right"], abs=1e-6)
    aside = values[(values["measure"] == "fppa") & (values["moved"] == "sideways_mm")]
    moved = {s: np.polyfit(g["at"], g["value"], 1)[0] for s, g in aside.groupby("side")}
    assert moved["left"] == pytest.approx(moved["right"], abs=1e-6)
    assert moved["right"] > 0.005


def test_camera_figure_names_the_way_its_places_are_counted() -> None:
    people = [one("left", {"hip_adduction": 6.0}), one("right", {"hip_adduction": 6.0})]
    values = camera_values(people, CameraSetting(), SweepSetting())
    picture = camera_figure(values, camera_table(values, CameraSetting(), 200, 1, 0.95), "fppa", "camera")
    # the places are counted from the stance leg, on either side of the body: no panel may name one side of it
    for words in ("turned towards the stance side (deg)", "moved towards the stance side (mm)"):
        assert words in picture
    assert "participant's" not in picture


def test_noise_and_frame_rate_are_seeded_by_the_repetition_itself() -> None:
    camera = CameraSetting(pixel_noise_px=2, frame_rate_hz=30)
    repetitions = [one("right", {"hip_adduction": 8}), one("left", {"hip_adduction": 8})]
    together = planar_table(repetitions, camera, 1)
    alone = planar_table(repetitions[1:], camera, 1)
    assert together[together["side"] == "left"]["value"].to_numpy() == pytest.approx(
        alone["value"].to_numpy(), nan_ok=True
    )
    other = planar_table(repetitions[1:], camera, 2)
    noisy = alone["measure"].str.contains("camera")
    angles = noisy & alone["measure"].str.match("fppa_camera|pelvis_drop_camera")
    assert (alone.loc[angles, "value"] != other.loc[angles, "value"]).all()
    assert (alone.loc[~noisy, "value"].dropna() == other.loc[~noisy, "value"].dropna()).all()


def test_a_thigh_that_points_at_the_camera_has_no_angle() -> None:
    repetition = one("right", {})
    repetition.point["knee"][50] = repetition.point["hip"][50] + np.array([420.0, -20.0, 0.0])
    assert np.isnan(planar_courses(repetition, "frontal", FAR)["fppa"][50])
    assert np.isfinite(planar_courses(repetition, "frontal", FAR)["fppa"][0])


def test_each_view_gives_what_it_shows_itself() -> None:
    level = one("right", {"hip_adduction": 6})
    repetition = replace(
        level, pelvis=level.pelvis @ about("z", np.array(-22.0))
    )  # tilted as with a trunk bent forward
    shown = {v: leg_shares(repetition, v, FAR)[0][50] for v in ("frontal", "pelvis_plane", "camera")}
    assert shown["frontal"] > 0.4
    assert shown["camera"] > 0.4
    assert shown["pelvis_plane"] < 0.3
    flat = planar_courses(repetition, "frontal", FAR)
    assert np.isfinite([flat["fppa"][50], flat["fppa_asis"][50]]).all()
    assert np.isnan(planar_courses(repetition, "pelvis_plane", FAR)["fppa"][50])


def test_times_in_the_table_stand_in_for_repetitions_in_the_file() -> None:
    import pandas as pd

    trial = trial_of(KEY, "right", [squat("right", {"hip_adduction": 8})])
    bare = trial.drop_vars([v for v in trial.variables if str(v).startswith("repetition_")])
    table = pd.DataFrame(
        [{"side": "right", "repetition": "1", "start_s": "0", "bottom_s": "0.5", "end_s": "1.0", "valid": "true"}]
    )
    (by_time,) = repetitions_of(bare, table)
    (by_file,) = repetitions_of(trial)
    assert by_time.point["knee"][:101] == pytest.approx(by_file.point["knee"][:101])
    assert by_time.angle["knee_flexion"][101] == pytest.approx(60, abs=0.5)
    assert not list(repetitions_of(bare))
