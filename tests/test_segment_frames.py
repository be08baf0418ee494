"""Segment frames: the axes point where anatomy says, on both sides, in any lab frame."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from condyle.mechanics import segment_frames as sf
from condyle.mechanics.joint_angles import clinical_joint

RNG = np.random.default_rng(3)
LAB = Rotation.from_euler("ZXY", [0.4, -0.9, 2.0]).as_matrix()
SHIFT = np.array([300.0, -50.0, 900.0])
MIRROR = np.array([1.0, 1.0, -1.0])

# A standing person facing +x, y up, z right; right leg. Some points lie off the axes on purpose.
PELVIS = {"asis_r": [0, 1000, 120.0], "asis_l": [0, 1000, -120.0], "mid_psis": [-175, 1010, 0.0]}
THIGH = {"hip": [-50, 910, 85.0], "knee": [-50, 500, 85.0]}
EPICONDYLES = {"lateral_epicondyle": [-50, 505, 130.0], "medial_epicondyle": [-50, 495, 40.0]}
SHANK = {"ankle": [-50, 90, 85.0], "knee": [-50, 500, 85.0]}
MALLEOLI = {"lateral": [-60, 85, 120.0], "medial": [-40, 95, 50.0]}
FOOT = {"heel": [-100, 30, 85.0], "metatarsal_inner": [80, 30, 45.0], "metatarsal_5": [80, 30, 125.0]}
TRUNK = {"c7": [-90, 1500, 0.0], "t10": [-110, 1250, 0.0], "jugular_notch": [30, 1430, 0.0], "xiphoid": [60, 1240, 0.0]}
CASES = {
    "pelvis": (sf.pelvis_frame, PELVIS, {}),
    "thigh": (sf.thigh_frame, THIGH | EPICONDYLES, {"side": "right"}),
    **{f"shank {k}": (sf.shank_frame, SHANK | MALLEOLI, {"side": "right", "kind": k}) for k in ("malleoli", "isb")},
    "foot": (sf.foot_frame, FOOT, {"side": "right"}),
    "trunk": (sf.trunk_frame_isb, TRUNK, {}),
    "trunk, acromia and C7": (
        sf.trunk_frame_acromia_c7,
        {"acromion_r": [0, 1430, 180.0], "acromion_l": [0, 1430, -180.0], "c7": [-90, 1500, 0.0]},
        {},
    ),
    "trunk, acromia and pelvis": (
        sf.trunk_frame_acromia_pelvis,
        {"acromion_r": [0, 1430, 180.0], "acromion_l": [0, 1430, -180.0], "pelvis_point": [0, 920, 0.0]},
        {},
    ),
}


def frame(case, move=lambda p: p):
    build, points, words = CASES[case]
    return build(**{name: move(np.array(p)) for name, p in points.items()}, **words)


@pytest.mark.parametrize("case", CASES)
def test_axes_are_a_right_handed_rotation_facing_forward_up_and_right(case):
    rotation, _ = frame(case)
    np.testing.assert_allclose(rotation.T @ rotation, np.eye(3), atol=1e-14)
    assert np.linalg.det(rotation) == pytest.approx(1.0)
    assert (np.diag(rotation) > 0.7).all()  # each axis within 45 degrees of the body's


@pytest.mark.parametrize("case", CASES)
def test_a_frame_turns_with_the_lab(case):
    rotation, origin = frame(case)
    turned, moved = frame(case, lambda p: LAB @ p + SHIFT)
    np.testing.assert_allclose(turned, LAB @ rotation, atol=1e-13)
    np.testing.assert_allclose(moved, LAB @ origin + SHIFT, atol=1e-10)


@pytest.mark.parametrize("case", ["thigh", "shank malleoli", "shank isb", "foot"])
def test_the_left_frame_is_the_mirror_image_of_the_right(case):
    build, points, words = CASES[case]
    right, _ = frame(case)
    left, _ = build(**{n: np.array(p) * MIRROR for n, p in points.items()}, **(words | {"side": "left"}))
    np.testing.assert_allclose(left, np.diag(MIRROR) @ right @ np.diag(MIRROR), atol=1e-14)


def test_pelvis_axes_isb_wu_2002():
    """Z along the ASIS; X in the plane of ASIS and mid-PSIS: 10 mm higher over 175 mm tip X down by atan(10/175)."""
    rotation, origin = frame("pelvis")
    down = np.arctan2(10, 175)
    np.testing.assert_allclose(rotation[:, 0], [np.cos(down), -np.sin(down), 0], atol=1e-14)
    np.testing.assert_allclose(rotation[:, 2], [0, 0, 1], atol=1e-14)
    np.testing.assert_array_equal(origin, [0, 1000, 0])


def test_thigh_and_shank_keep_their_long_axis_and_isb_keeps_the_malleolar_line():
    np.testing.assert_allclose(frame("thigh")[0][:, 1], [0, 1, 0], atol=1e-14)
    np.testing.assert_allclose(frame("shank malleoli")[0][:, 1], [0, 1, 0], atol=1e-14)
    malleolar_line = np.subtract(MALLEOLI["lateral"], MALLEOLI["medial"])
    np.testing.assert_allclose(frame("shank isb")[0][:, 2], malleolar_line / np.linalg.norm(malleolar_line), atol=1e-14)


def test_malleoli_kind_carries_tibial_torsion_and_epicondyles_kind_does_not():
    torsion = clinical_joint(frame("thigh")[0].T @ frame("shank malleoli")[0], "knee", "right")
    np.testing.assert_allclose(np.rad2deg(torsion), [0, 0, -np.rad2deg(np.arctan2(20, 70))], atol=1e-12)
    lateral, medial = (np.array(EPICONDYLES[k]) for k in ("lateral_epicondyle", "medial_epicondyle"))
    ankle, knee = (np.array(SHANK[k]) for k in ("ankle", "knee"))
    plain, _ = sf.shank_frame(ankle, knee, lateral, medial, "right", "epicondyles")
    np.testing.assert_allclose(plain, frame("thigh")[0], atol=1e-14)


def test_isb_shank_shifts_knee_adduction_to_varus_on_both_sides():
    """The lateral malleolus is the lower one: 10 mm over 80 mm here is 7 degrees, towards varus."""
    for side, flip in (("right", np.ones(3)), ("left", MIRROR)):
        points = {
            n: np.array(p) * flip for n, p in (SHANK | {"lateral": [-50, 80, 125.0], "medial": [-50, 90, 45.0]}).items()
        }
        ours, _ = sf.shank_frame(**points, side=side)
        isb, _ = sf.shank_frame(**points, side=side, kind="isb")
        flexion, adduction, _ = np.rad2deg(clinical_joint(ours.T @ isb, "knee", side))
        assert adduction == pytest.approx(np.rad2deg(np.arctan2(10, 80)), abs=1e-9)
        assert flexion == pytest.approx(0, abs=1e-9)


def test_a_lateral_point_alone_gives_the_plane():
    hip, knee = np.array(THIGH["hip"]), np.array(THIGH["knee"])
    lateral = knee + np.array([0, 0, 45.0])
    both, _ = sf.thigh_frame(hip, knee, lateral, 2 * knee - lateral, "right")
    np.testing.assert_allclose(sf.thigh_frame(hip, knee, lateral, None, "right")[0], both, atol=1e-14)
    ankle = np.array(SHANK["ankle"])
    one, _ = sf.shank_frame(ankle, knee, ankle + np.array([0, 0, 35.0]), None, "right")
    np.testing.assert_allclose(one, np.eye(3), atol=1e-14)
    one, _ = sf.shank_frame(ankle, knee, lateral, None, "right", "epicondyles")
    np.testing.assert_allclose(one, np.eye(3), atol=1e-14)


def test_foot_points_from_heel_to_between_the_metatarsals():
    rotation, origin = sf.foot_frame(*(np.array(p) for p in FOOT.values()), "right")
    np.testing.assert_allclose(rotation, np.eye(3), atol=1e-14)
    np.testing.assert_array_equal(origin, FOOT["heel"])


def test_trunk_axes_isb_wu_2005():
    rotation, origin = frame("trunk")
    upward = np.array([-30, 1465, 0.0]) - [-25, 1245, 0]
    np.testing.assert_allclose(rotation[:, 1], upward / np.linalg.norm(upward), atol=1e-14)
    np.testing.assert_allclose(rotation[:, 2], [0, 0, 1], atol=1e-14)
    np.testing.assert_array_equal(origin, TRUNK["jugular_notch"])


@pytest.mark.parametrize("case", CASES)
def test_missing_and_collinear_points_give_no_frame(case):
    build, points, words = CASES[case]
    for gone in points:
        lost = {n: np.array(p) if n != gone else np.array([1.0, np.nan, 2.0]) for n, p in points.items()}
        assert np.isnan(build(**lost, **words)[0]).all(), gone
    line = {n: np.array([1.0, 2.0, 3.0]) * k for k, n in enumerate(points)}
    assert np.isnan(build(**line, **words)[0]).all()


def test_an_unknown_side_or_kind_is_an_error():
    with pytest.raises(ValueError, match="'left' or 'right'"):
        sf.foot_frame(*(np.array(p) for p in FOOT.values()), "R")
    with pytest.raises(ValueError, match="malleoli"):
        sf.shank_frame(*(np.array(p) for p in (SHANK | MALLEOLI).values()), "right", "plain")
