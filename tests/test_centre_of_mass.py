"""The centre of mass against de Leva 1996 (J Biomech 29:1223), and the base of support by geometry."""

import numpy as np
import pytest

from condyle.mechanics.base_of_support import from_nearest_edge, outside_polygon
from condyle.mechanics.centre_of_mass import CENTRE, MASS, centre_of_mass

BODY = {
    **{f"hip_{s}": np.array([0.0, 900.0, z]) for s, z in (("l", -85.0), ("r", 85.0))},
    **{f"knee_{s}": np.array([0.0, 480.0, z]) for s, z in (("l", -85.0), ("r", 85.0))},
    **{f"ankle_{s}": np.array([0.0, 75.0, z]) for s, z in (("l", -85.0), ("r", 85.0))},
    **{f"calcaneus_{s}": np.array([-55.0, 30.0, z]) for s, z in (("l", -85.0), ("r", 85.0))},
    **{f"metatarsal_2_{s}": np.array([130.0, 40.0, z]) for s, z in (("l", -85.0), ("r", 85.0))},
    "c7": np.array([-30.0, 1480.0, 0.0]),
    "jugular_notch": np.array([80.0, 1420.0, 0.0]),
    "xiphoid": np.array([100.0, 1240.0, 0.0]),
}


def test_masses_of_de_leva_1996_sum_to_the_body() -> None:
    once = ("head", "trunk")
    for column, total in ((0, 100.0), (1, 99.99)):  # the women's column sums to 99.99: masses are divided by their sum
        assert sum(m[column] * (1 if n in once else 2) for n, m in MASS.items()) == pytest.approx(total, abs=0.011)


@pytest.mark.parametrize("sex", ["male", "female"])
def test_whole_body_against_a_sum_written_out(sex: str) -> None:
    k = ("male", "female").index(sex)
    middle = np.array([0.0, 900.0, 0.0])
    trunk = BODY["c7"] + CENTRE["trunk_c7"][k] / 100 * (middle - BODY["c7"])
    head = BODY["c7"] + (BODY["c7"] - middle) * 0.40 * (1 - CENTRE["head"][k] / 100)
    arms = (BODY["jugular_notch"] + BODY["xiphoid"]) / 2
    total = MASS["trunk"][k] * trunk + MASS["head"][k] * head
    total = total + 2 * (MASS["upper_arm"][k] + MASS["forearm"][k] + MASS["hand"][k]) * arms
    for s in "lr":
        hip, knee, ankle = (BODY[f"{n}_{s}"] for n in ("hip", "knee", "ankle"))
        heel, toe = BODY[f"calcaneus_{s}"], BODY[f"metatarsal_2_{s}"]
        total = total + MASS["thigh"][k] * (hip + CENTRE["thigh"][k] / 100 * (knee - hip))
        total = total + MASS["shank"][k] * (knee + CENTRE["shank"][k] / 100 * (ankle - knee))
        total = total + MASS["foot"][k] * (heel + CENTRE["foot"][k] / 100 * 1.3 * (toe - heel))
    whole = sum(m[k] * (1 if n in ("head", "trunk") else 2) for n, m in MASS.items())
    np.testing.assert_allclose(centre_of_mass(BODY, sex).position, total / whole, atol=1e-9)


def test_height_of_a_standing_persons_centre() -> None:
    # textbooks put it at some 55 % of body height (women) to 57 % (men) when standing, arms at the sides; from memory
    height = centre_of_mass(BODY, "female").position[1]
    assert 0.53 < height / 1720.0 < 0.59


def test_sex_unknown_is_the_mean_and_says_so() -> None:
    both = centre_of_mass(BODY)
    assert any("sex unknown" in words for words in both.stand_ins)
    low, high = sorted(centre_of_mass(BODY, s).position[1] for s in ("male", "female"))
    assert low < both.position[1] < high


def test_moving_one_leg_moves_the_centre_by_its_share() -> None:
    moved = dict(BODY)
    for name in ("hip_r", "knee_r", "ankle_r", "calcaneus_r", "metatarsal_2_r"):
        moved[name] = BODY[name] + np.array([0.0, 0.0, 100.0]) * (name != "hip_r")
    shift = centre_of_mass(moved, "male").position - centre_of_mass(BODY, "male").position
    assert shift[2] == pytest.approx(100.0 * (0.1416 * 0.4095 + 0.0433 + 0.0137), abs=0.01)


def test_stand_ins_are_named_and_a_missing_leg_leaves_no_centre() -> None:
    bare = {k: v for k, v in BODY.items() if not k.startswith(("c7", "jugular", "xiphoid", "calcaneus"))}
    bare |= {"acromion_l": np.array([0.0, 1400.0, -180.0]), "acromion_r": np.array([0.0, 1400.0, 180.0])}
    found = centre_of_mass(bare, "male")
    assert np.isfinite(found.position).all()
    assert any("acromia" in words for words in found.stand_ins)
    assert any("ankle centre" in words for words in found.stand_ins)
    assert np.isnan(centre_of_mass({k: v for k, v in BODY.items() if k != "knee_r"}, "male").position).all()
    lying = {k: v for k, v in bare.items() if not k.startswith("acromion")}
    assert np.isnan(centre_of_mass(lying, "male").position).all()


def test_draws_and_frames_are_leading_dimensions() -> None:
    many = {k: np.broadcast_to(v, (4, 3, 3)) for k, v in BODY.items()}
    np.testing.assert_allclose(centre_of_mass(many, "male").position[2, 1], centre_of_mass(BODY, "male").position)


def test_distance_outside_a_square_by_geometry() -> None:
    square = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]])
    points = np.array([[5.0, 4.0], [15.0, 5.0], [13.0, 14.0], [10.0, 5.0]])
    np.testing.assert_allclose(outside_polygon(points, square), [-4.0, 5.0, 5.0, 0.0], atol=1e-12)
    np.testing.assert_allclose(outside_polygon(points, square[::-1]), [-4.0, 5.0, 5.0, 0.0], atol=1e-12)
    line = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 0.0]])
    assert outside_polygon(np.array([5.0, 3.0]), line) == pytest.approx(3.0)
    assert np.isnan(outside_polygon(np.array([np.nan, 0.0]), square))


def test_way_from_the_nearest_edge_of_a_square_by_geometry() -> None:
    square = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]])
    points = np.array([[15.0, 5.0], [4.0, -3.0], [13.0, 14.0], [5.0, 8.0]])
    ways = np.array([[5.0, 0.0], [0.0, -3.0], [3.0, 4.0], [0.0, -2.0]])  # from inside towards the inside
    np.testing.assert_allclose(from_nearest_edge(points, square), ways, atol=1e-12)
    np.testing.assert_allclose(from_nearest_edge(points, square[::-1]), ways, atol=1e-12)
    assert np.isnan(from_nearest_edge(np.array([np.nan, 0.0]), square)).all()
    assert np.isnan(from_nearest_edge(points, np.where([[True], [True], [False], [False]], square, np.nan))).all()


def test_corners_that_are_not_seen_vs_a_polygon_without_them() -> None:
    foot = np.array([[0.0, 0.0], [14.0, 5.0], [16.0, 1.0], [15.0, -4.0]])
    points = np.array([[7.0, 2.0], [7.0, -3.0], [20.0, 0.0], [-5.0, -1.0]])
    for lost in range(4):
        part = foot.copy()
        part[lost] = np.nan
        expected = outside_polygon(points, np.delete(foot, lost, axis=0))
        np.testing.assert_allclose(outside_polygon(points, part), expected, atol=1e-12)
    assert np.isnan(outside_polygon(points, np.where([[True], [False], [False], [True]], foot, np.nan))).all()
