"""Which part moved the knee: the angles of a model leg whose answers are known.

Thigh 420, shank 410 mm; start: pelvis tilt 8, hip flexion 5, knee flexion 3 degrees; the squat adds tilt 10, hip
flexion 65, knee flexion 75. Expected numbers: recomputed from the definition alone, to 0.1 degree and 0.1 mm.
"""

from itertools import combinations

import numpy as np
import pytest

from condyle.mechanics.adduction_split import adduction_split
from condyle.mechanics.contributions import FACTORS, MODEL_ANGLES, SAGITTAL, account_from_above
from condyle.mechanics.from_below import account_from_below, mirrored
from condyle.mechanics.joint_angles import Side, joint_matrix, segment_matrix
from condyle.mechanics.projection import frontal_picture, own_frontal_picture, projection_angle
from condyle.mechanics.rotations import rotation_x, rotation_y

THIGH, SHANK = np.array([0.0, -420.0, 0.0]), np.array([0.0, -410.0, 0.0])
START = dict.fromkeys(FACTORS, 0.0) | {"pelvis_tilt": 8.0, "hip_flexion": 5.0, "knee_flexion": 3.0}
SQUAT = {"pelvis_tilt": 10.0, "hip_flexion": 65.0, "knee_flexion": 75.0}

# movement, FPPA change and parts (degrees), knee medial of the hip centre (mm), thigh axial rotation (degrees),
# FPPA in the pelvis' own frontal plane
TABLE = [
    pytest.param(
        {"pelvis_rotation": 22.0},
        (36.0, [36.0, 0, 0, 0, 0, 0]),
        (124.0, [124.0, 0, 0, 0, 0, 0]),
        (22.0, [22.0, 0, 0, 0, 0, 0]),
        0.0,
        id="pelvis rotation",
    ),
    pytest.param(
        {"hip_adduction": 18.0, "hip_internal_rotation": 8.0},
        (31.9, [0, 0, 23.5, 8.4, 0, 0]),
        (129.8, [0, 0, 129.8, 0, 0, 0]),
        (19.1, None),
        47.3,
        id="hip",
    ),
    pytest.param(
        {"pelvis_obliquity": 12.0, "hip_adduction": 12.0},
        (16.3, [0, 0.0, 16.3, 0, 0, 0]),
        (32.8, [0, -54.1, 87.0, 0, 0, 0]),
        (9.5, None),
        29.4,
        id="pelvis drop",
    ),
    pytest.param(
        {
            **{"pelvis_rotation": 12.0, "pelvis_obliquity": 5.0, "hip_adduction": 10.0},
            **{"hip_internal_rotation": 8.0, "knee_adduction": -3.0, "knee_internal_rotation": 4.0},
        },
        (43.3, [19.4, 0.2, 12.4, 8.2, 3.1, 0.0]),
        (117.1, [67.7, -22.3, 71.6, 0, 0, 0]),
        (24.8, [12.0, 0.0, 7.9, 5.0, 0, 0]),
        35.9,
        id="all together",
    ),
]


def angles(posture: dict[str, float]) -> np.ndarray:
    return np.deg2rad([posture[n] for n in MODEL_ANGLES])


def moved(
    change: dict[str, float], start: dict[str, float] = START, squat: dict[str, float] = SQUAT
) -> dict[str, float]:
    return {n: start[n] + squat.get(n, 0.0) + change.get(n, 0.0) for n in MODEL_ANGLES}


def leg(posture: dict[str, float], side: Side) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Pelvis, thigh and shank from the clinical angles, by the matrices of joint_angles."""
    p = {n: np.deg2rad(v) for n, v in posture.items()}
    pelvis = segment_matrix(p["pelvis_rotation"], p["pelvis_obliquity"], p["pelvis_tilt"], side)
    thigh = pelvis @ joint_matrix(p["hip_flexion"], p["hip_adduction"], p["hip_internal_rotation"], "hip", side)
    shank = thigh @ joint_matrix(p["knee_flexion"], p["knee_adduction"], p["knee_internal_rotation"], "knee", side)
    return pelvis, thigh, shank


@pytest.mark.parametrize(("change", "fppa", "knee", "axial", "own_plane"), TABLE)
def test_check_model(change, fppa, knee, axial, own_plane) -> None:
    start, bottom = angles(START), angles(moved(change))
    account = account_from_above(bottom, start[:6], THIGH, SHANK)
    before = account_from_above(start, start[:6], THIGH, SHANK)
    np.testing.assert_allclose(account.base - before.modelled, 0.0, atol=1e-12)  # the sagittal base is 0
    for k, (change_of, parts_of) in enumerate((fppa, knee, axial)):
        scale = 1.0 if k == 1 else 180.0 / np.pi
        assert scale * (account.modelled[k] - before.modelled[k]) == pytest.approx(change_of, abs=0.0501)
        if parts_of is not None:
            np.testing.assert_allclose(scale * account.parts[k], parts_of, atol=0.0511)


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize(("change", "fppa", "knee", "axial", "own_plane"), TABLE)
def test_check_model_by_matrices_and_in_the_pelvis_plane(side, change, fppa, knee, axial, own_plane) -> None:
    pelvis, thigh, shank = leg(moved(change), side)
    hip = np.zeros(3)
    at_knee = thigh @ THIGH
    ankle = at_knee + shank @ SHANK
    flat = projection_angle(*(frontal_picture(p) for p in (hip, at_knee, ankle)), side)
    own = projection_angle(*(own_frontal_picture(p, pelvis) for p in (hip, at_knee, ankle)), side)
    assert np.rad2deg(flat) == pytest.approx(fppa[0], abs=0.0501)
    assert np.rad2deg(own) == pytest.approx(own_plane, abs=0.0501)
    medial = -at_knee[2] if side == "right" else at_knee[2]
    assert medial == pytest.approx(knee[0], abs=0.0501)


def test_posture_already_there_from_the_start_and_from_standing() -> None:
    held = {"pelvis_rotation": 10.0, "hip_adduction": 8.0, "hip_internal_rotation": 8.0}
    start = START | held
    bottom = angles(moved({}, start))
    from_start = account_from_above(bottom, angles(start)[:6], THIGH, SHANK)
    before = account_from_above(angles(start), angles(start)[:6], THIGH, SHANK)
    assert np.rad2deg(from_start.base[0] - before.modelled[0]) == pytest.approx(34.3, abs=0.0501)
    np.testing.assert_allclose(from_start.parts, 0.0, atol=1e-12)
    from_standing = account_from_above(bottom, np.zeros(6), THIGH, SHANK)
    np.testing.assert_allclose(np.rad2deg(from_standing.parts[0]), [16.5, 0, 10.3, 8.4, 0, 0], atol=0.0501)


@pytest.mark.parametrize(("flexion", "expected"), [(45.0, 8.9), (60.0, 14.1), (78.0, 22.6), (95.0, 34.5)])
def test_depth_drives_fppa(flexion: float, expected: float) -> None:
    # the same hip angles (adduction 12, internal rotation 6) in squats of other depths; how tilt and hip flexion follow
    # the knee is not part of the expected numbers, so only 78 degrees, the check model itself, is exact
    share = (flexion - 3.0) / 75.0
    deep = moved({"hip_adduction": 12.0, "hip_internal_rotation": 6.0}, squat={n: share * v for n, v in SQUAT.items()})
    found = np.rad2deg(account_from_above(angles(deep), np.zeros(6), THIGH, SHANK).modelled[0])
    assert found == pytest.approx(expected, abs=0.0501 if flexion == 78.0 else 0.5)


def test_parts_against_every_subset_by_matrices() -> None:
    """The factorised variants against 64 products of plain matrices, with vectors that do not lie along the bones."""
    rng = np.random.default_rng(4)
    thigh_vector, shank_vector = rng.normal(size=3) * 20 + THIGH, rng.normal(size=3) * 20 + SHANK
    now = dict(zip(MODEL_ANGLES, rng.normal(0, 12, 9), strict=True)) | {"knee_flexion": 70.0, "hip_flexion": 60.0}
    then = dict(zip(FACTORS, rng.normal(0, 6, 6), strict=True))

    def fppa(on: tuple[int, ...]) -> float:
        mixed = {n: now[n] if n in SAGITTAL or FACTORS.index(n) in on else then[n] for n in MODEL_ANGLES}
        _, thigh, shank = leg(mixed, "right")
        knee = thigh @ thigh_vector
        points = (np.zeros(3), knee, knee + shank @ shank_vector)
        return float(projection_angle(*(frontal_picture(p) for p in points), "right"))

    weight = {0: 1 / 6, 1: 1 / 30, 2: 1 / 60, 3: 1 / 60, 4: 1 / 30, 5: 1 / 6}
    expected = []
    for i in range(6):
        others = [j for j in range(6) if j != i]
        subsets = [s for size in range(6) for s in combinations(others, size)]
        expected.append(sum(weight[len(s)] * (fppa((*s, i)) - fppa(s)) for s in subsets))
    found = account_from_above(angles(now), np.deg2rad([then[n] for n in FACTORS]), thigh_vector, shank_vector)
    np.testing.assert_allclose(found.parts[0], expected, atol=1e-12)


def test_parts_sum_to_the_modelled_change_with_leading_dimensions() -> None:
    rng = np.random.default_rng(5)
    now, then = rng.normal(0, 0.3, (9, 4, 7)), rng.normal(0, 0.1, (6, 4, 7))
    thigh = rng.normal(0, 10, (3, 4, 1)) + THIGH[:, None, None]
    account = account_from_above(now, then, thigh, SHANK)
    np.testing.assert_allclose(account.base + account.parts.sum(axis=1), account.modelled, atol=1e-12)
    one = account_from_above(now[:, 2, 3], then[:, 2, 3], thigh[:, 2, 0], SHANK)  # batch equals loop
    np.testing.assert_allclose(account.parts[:, :, 2, 3], one.parts, atol=1e-13)


def test_missing_angle_makes_its_own_element_empty() -> None:
    now = np.repeat(angles(moved({"hip_adduction": 5.0}))[:, None], 3, axis=1)
    now[2, 1] = np.nan
    account = account_from_above(now, np.zeros((6, 1)), THIGH, SHANK)
    assert np.isnan(account.parts[:, :4, 1]).all()
    assert not np.isnan(account.parts[:, :, [0, 2]]).any()


def test_hip_adduction_split_between_pelvis_and_thigh() -> None:
    pelvis, thigh, _ = leg(START, "right")
    dropped, carried, _ = leg(moved({"pelvis_obliquity": 12.0, "hip_adduction": 12.0}), "right")
    parts = np.rad2deg(adduction_split(dropped, carried, pelvis, thigh))
    assert parts.sum() == pytest.approx(12.0, abs=1e-9)
    assert parts[0] > 0.5 * 12.0  # the pelvis dropped over the thigh
    _, adducted, _ = leg(moved({"hip_adduction": 12.0}), "right")
    level, _, _ = leg(moved({}), "right")
    np.testing.assert_allclose(np.rad2deg(adduction_split(level, adducted, pelvis, thigh)), [0.0, 12.0], atol=1e-9)


def test_below_pelvis_turned_over_a_still_foot_is_rotation_in_the_ankle() -> None:
    foot = np.eye(3)
    then, now = leg(START, "right"), leg(moved({"pelvis_rotation": 22.0}), "right")
    account = account_from_below(foot, now[2], now[1], foot, then[2], then[1], SHANK)
    np.testing.assert_allclose(np.rad2deg(account.parts[1]), [0.0, 22.0, 0.0], atol=0.01)


def test_below_rolling_foot_carries_the_shank() -> None:
    foot, (_, thigh, shank) = np.eye(3), leg(START, "right")
    roll = rotation_x(np.deg2rad(-10.0))  # a right foot rolling over its inner border
    account = account_from_below(roll, roll @ shank, roll @ thigh, foot, shank, thigh, SHANK)
    tilt, _ = np.rad2deg(account.parts)
    assert tilt[0] == pytest.approx(10.0, abs=0.05)
    np.testing.assert_allclose(tilt[1:], 0.0, atol=0.05)
    np.testing.assert_allclose(account.base + account.parts.sum(axis=1), account.modelled, atol=1e-12)


def test_below_is_alike_on_both_sides() -> None:
    turn = rotation_y(0.2) @ rotation_x(-0.1)
    now, then = leg(moved({"hip_adduction": 9.0, "knee_adduction": -4.0}), "right"), leg(START, "right")
    right = account_from_below(turn, now[2], now[1], np.eye(3), then[2], then[1], SHANK)
    left_now, left_then = leg(moved({"hip_adduction": 9.0, "knee_adduction": -4.0}), "left"), leg(START, "left")
    left = account_from_below(
        *(mirrored(r) for r in (mirrored(turn), left_now[2], left_now[1], np.eye(3), left_then[2], left_then[1])), SHANK
    )
    np.testing.assert_allclose(left.parts, right.parts, atol=1e-12)


def test_below_misses_a_foot_that_is_not_there() -> None:
    now, then = leg(moved({}), "right"), leg(START, "right")
    account = account_from_below(np.full((3, 3), np.nan), now[2], now[1], np.eye(3), then[2], then[1], SHANK)
    assert np.isnan(account.modelled).all()


def test_what_is_not_known_is_known_in_no_part_of_what_rests_on_it() -> None:
    now = np.repeat(angles(moved(SQUAT | {"hip_adduction": 12.0}))[:, None], 3, axis=1)
    now[MODEL_ANGLES.index("pelvis_tilt"), 1] = np.nan
    now[MODEL_ANGLES.index("knee_adduction"), 2] = np.nan
    account = account_from_above(now, angles(START)[:6, None], THIGH[:, None], SHANK[:, None])
    assert np.isfinite(account.parts[..., 0]).all()
    assert np.isnan(account.parts[..., 1]).all()
    assert np.isnan(account.parts[0, :, 2]).all()  # FPPA rests on the knee, where the thigh points does not
    assert np.isfinite(account.parts[1:, :, 2]).all()
