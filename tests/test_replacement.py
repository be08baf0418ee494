"""Two sessions' bones laid on each other: what the closed forms say against refits, random draws and SciPy's rotations."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from condyle.mechanics.bone_alignment import (
    TURN_MM,
    Laid,
    TwoSessions,
    carried,
    laid_over,
    response,
    spread,
    turn_spread,
    turned_axes,
)
from condyle.mechanics.replacement import (
    SearchLimits,
    Told,
    find_moved,
    least_found,
    own_spread,
    tail_weight,
    told_by_others,
)

LIMITS = SearchLimits(
    false_alarm_share=0.1,
    odds=20.0,
    prior_freedom=10.0,
    least_told=0.1,
    most_moved=0.25,
    tail_freedom=1.0,
    scatter_review=1.6,
)
BONE = np.array([0] * 6 + [1] * 4 + [2] * 3)
JOINT_PLACE = np.array([[-50.0, 420.0, 90.0], [0.0, 0.0, 90.0]])
PLACES = np.array(
    [
        *([0, 500, 120], [0, 500, -120], [-170, 500, 45], [-170, 500, -45], [-70, 575, 135], [-70, 575, -135]),
        *([-6, 410, 170], [0, 2, 140], [0, -2, 42], [50, 14, 92]),
        *([48, -60, 94], [0, -405, 126], [0, -395, 54]),
    ],
    dtype=float,
)
TURNS = Rotation.from_rotvec(np.deg2rad([[4.0, -9.0, 6.0], [2.0, -11.0, 8.0], [3.0, -8.0, 5.0]])).as_matrix()
SD = np.array([10.0] * 6 + [12.0, 7.0, 7.0, 6.0, 6.0, 5.0, 5.0])


def two_sessions(error: np.ndarray | None = None) -> TwoSessions:
    """Pelvis, thigh and shank, turned in their joints and carried away; ``error`` is added to the second session.

    The second is given; the first is where the bones' turns take it, so that the motion sought is TURNS itself.
    """
    hip, knee = JOINT_PLACE
    new_hip = TURNS[0] @ hip + [10.0, -4.0, 7.0]
    new_knee = TURNS[1] @ (knee - hip) + new_hip
    start = np.array([[0.0, 0.0, 0.0], hip, knee])
    end = np.array([[10.0, -4.0, 7.0], new_hip, new_knee])
    first = np.einsum("pij,pj->pi", TURNS[BONE], PLACES - start[BONE]) + end[BONE]
    return TwoSessions(
        first=first,
        second=PLACES + (0.0 if error is None else error),
        bones=3,
        bone=BONE,
        palpation=SD[:, None, None] ** 2 * np.eye(3),
        rest=np.tile(np.eye(3), (len(PLACES), 1, 1)),
        joint=np.array([[0, 1], [1, 2]]),
        joint_place=JOINT_PLACE,
        joint_sd=np.array([5.0, 5.0]),
        turn_axes=np.tile(np.eye(3), (2, 1, 1)),
        turn_sd=np.deg2rad([[40.0, 40.0, 40.0], [20.0, 30.0, 40.0]]),
    )


def shifted(k: int, by: list[float]) -> np.ndarray:
    error = np.zeros_like(PLACES)
    error[k] = TURNS[BONE[k]].T @ by
    return error


def test_bones_lie_where_they_were_put_but_for_what_standing_alike_pulls() -> None:
    laid = laid_over(two_sessions(), 0.02, np.ones(len(PLACES)))
    assert np.rad2deg(Rotation.from_matrix(laid.rotation @ TURNS.swapaxes(1, 2)).magnitude()).max() < 0.1
    two = two_sessions()
    np.testing.assert_allclose(carried(laid, two.bone, two.second), two.first, atol=0.5)


def test_turned_axes_are_the_rotation_vector_vs_scipy() -> None:
    laid = laid_over(two_sessions(), 0.02, np.ones(len(PLACES)))
    own = Rotation.from_rotvec(np.deg2rad([[10.0, 20.0, 5.0]] * 3)).as_matrix()
    vector = np.array([[4.0, -7.0, 2.0], [0.0, 0.0, 0.0], [1.0, 2.0, -30.0]])
    second = laid.rotation.swapaxes(1, 2) @ own @ Rotation.from_rotvec(np.deg2rad(vector)).as_matrix()
    np.testing.assert_allclose(turned_axes(laid, own, second), vector, atol=1e-6)
    second[1] = np.nan
    assert np.isnan(turned_axes(laid, own, second)).any(axis=1).tolist() == [False, True, False]


def test_places_are_turned_about_the_pivot_and_shifted() -> None:
    quarter = Rotation.from_euler("z", 90, degrees=True).as_matrix()
    laid = Laid(quarter[None], np.array([[1.0, 2.0, 3.0]]), np.array([[10.0, 0.0, 0.0]]), np.eye(6))
    found = carried(laid, np.array([0]), np.array([[15.0, 0.0, 4.0]]))
    np.testing.assert_allclose(found, [[11.0, 7.0, 7.0]])


@pytest.mark.parametrize("kept", [13, 10])  # with and without landmarks on the shank
def test_a_body_carried_far_away_is_laid_on_itself_exactly(kept: int) -> None:
    away = np.array([30_000.0, -2_000.0, 500.0])
    two = two_sessions()
    names = {"bone": BONE[:kept], "palpation": two.palpation[:kept], "rest": two.rest[:kept]}
    two = two._replace(first=PLACES[:kept] + away, second=PLACES[:kept], **names)
    laid = laid_over(two, 1.0, np.ones(kept))
    np.testing.assert_allclose(laid.rotation, np.tile(np.eye(3), (3, 1, 1)), atol=1e-8)
    np.testing.assert_allclose(laid.shift, np.tile(away, (3, 1)), atol=1e-6)


def test_a_bone_that_only_a_joint_holds_follows_as_far_as_people_stand_alike() -> None:
    two = two_sessions()
    turn = Rotation.from_euler("x", 10, degrees=True).as_matrix()
    kept = {n: getattr(two, n)[:10] for n in ("bone", "palpation", "rest", "second")}
    laid = laid_over(two._replace(first=PLACES[:10] @ turn.T, **kept), 0.02, np.ones(10))
    found = np.rad2deg(Rotation.from_matrix(laid.rotation).as_rotvec())
    np.testing.assert_allclose(found[1], [10.0, 0.0, 0.0], atol=0.05)
    # held to the thigh by an SD of 20 degrees and to no turn by one of 40: 10 * 40^2 / (40^2 + 20^2)
    assert found[2, 0] == pytest.approx(8.0, abs=0.05)


def test_places_follow_the_unknowns_as_numerical_derivatives_say() -> None:
    two = two_sessions()
    laid = laid_over(two, 1.0, np.ones(len(PLACES)))
    slope = response(laid, two.bone, two.second)
    for bone in range(3):
        for k in range(6):
            step = np.zeros((3, 2, 3))
            step.reshape(3, 6)[bone, k] = 1e-3
            turn = Rotation.from_rotvec(step[:, 0] / TURN_MM).as_matrix()
            later = laid._replace(rotation=turn @ laid.rotation, shift=laid.shift + step[:, 1])
            change = (carried(later, two.bone, two.second) - carried(laid, two.bone, two.second)) / 1e-3
            np.testing.assert_allclose(slope[:, :, 6 * bone + k], change, atol=1e-4)


@pytest.mark.parametrize("scale", [0.5, 1.0])
def test_told_by_others_is_the_misfit_after_a_refit_without_the_landmark(scale: float) -> None:
    rng = np.random.default_rng(1)
    two = two_sessions(2.0 * rng.normal(size=PLACES.shape))
    everyone = np.ones(len(PLACES))
    told = told_by_others(two, laid_over(two, scale, everyone), scale, everyone, 0.0)
    for k in range(len(PLACES)):
        used = everyone.copy()
        used[k] = 0.0
        refit = laid_over(two, scale, used)
        miss = (carried(refit, two.bone, two.second) - two.first)[k]
        np.testing.assert_allclose(told.displacement[k], miss, atol=0.25)
        follow = response(refit, two.bone, two.second)[k]
        covariance = spread(two, scale)[k] + follow @ refit.cofactor @ follow.T
        assert told.statistic[k] == pytest.approx(miss @ np.linalg.solve(covariance, miss), rel=0.03)
        outside = told_by_others(two, refit, scale, used, 0.0)
        np.testing.assert_allclose(outside.displacement[k], miss, atol=1e-9)
        assert outside.statistic[k] == pytest.approx(miss @ np.linalg.solve(covariance, miss))
    assert told.directions.tolist() == [3.0] * len(PLACES)


def test_what_the_others_do_not_tell_is_not_given() -> None:
    two = two_sessions(shifted(0, [30.0, 0.0, 0.0]))
    everyone = np.ones(len(PLACES))
    laid = laid_over(two, 1.0, everyone)
    told = told_by_others(two, laid, 1.0, everyone, 1.0)  # nobody leaves a direction whole
    assert not told.directions.any()
    assert not told.displacement.any()
    assert not told.statistic.any()
    assert np.isnan(least_found(told, np.ones(len(PLACES)))).all()


def test_what_lies_far_off_counts_less_vs_student_t() -> None:
    told = Told(np.zeros((4, 3)), np.array([9.0, 3.0, 0.5, 9.0]), np.array([3.0, 3.0, 3.0, 1.0]))
    np.testing.assert_allclose(tail_weight(told, 1.0), [4 / 10, 1.0, 1.0, 2 / 10])
    np.testing.assert_allclose(tail_weight(told, 5.0)[0], 8 / 14)


def draws(scale: float, count: int, seed: int) -> list[TwoSessions]:
    """Sessions with random errors as large as ``scale`` says, joints and postures included."""
    rng = np.random.default_rng(seed)
    out = []
    for _ in range(count):
        two = two_sessions()
        root = np.linalg.cholesky(spread(two, scale))
        error = np.einsum("pij,pj->pi", root, rng.normal(size=PLACES.shape))
        second = two.second + np.einsum("pji,pj->pi", TURNS[BONE], error)
        out.append(two._replace(second=second))
    return out


def test_the_statistic_of_sound_sessions_has_a_mean_of_its_three_directions() -> None:
    everyone = np.ones(len(PLACES))
    told = [told_by_others(two, laid_over(two, 1.0, everyone), 1.0, everyone, 0.0) for two in draws(1.0, 150, 2)]
    # joints that do not err at all and turns that stay the same make the real errors a little smaller than believed
    assert np.mean([t.statistic for t in told]) == pytest.approx(3.0, abs=0.25)


@pytest.mark.parametrize("scale", [0.4, 1.0, 2.0])
def test_the_own_spread_is_found_from_the_residuals(scale: float) -> None:
    everyone = np.ones(len(PLACES))
    found = []
    for two in draws(scale, 60, 3):
        laid = laid_over(two, scale, everyone)
        found.append(own_spread(two, laid, scale, everyone, 1e-9)[0] ** 2)
    assert np.mean(found) == pytest.approx(scale**2, rel=0.1)


def test_the_published_spread_counts_for_as_many_residuals_as_said() -> None:
    two, everyone = two_sessions(), np.ones(len(PLACES))
    laid = laid_over(two, 1.0, everyone)
    bare, freedom = own_spread(two, laid, 1.0, everyone, 0.0)
    mixed, both = own_spread(two, laid, 1.0, everyone, 10.0)
    assert both == pytest.approx(freedom + 10.0)
    assert mixed**2 * both == pytest.approx(bare**2 * freedom + 10.0)
    assert 3 * len(PLACES) - 18 < freedom < 3 * len(PLACES)  # 18 unknowns, held in part by joints


def test_turn_spread_is_the_spread_of_turns_vs_random_draws() -> None:
    everyone = np.ones(len(PLACES))
    own = np.tile(np.eye(3), (3, 1, 1))
    sound = laid_over(two_sessions(), 1.0, everyone)
    found = []
    for two in draws(1.0, 150, 4):
        turn = laid_over(two, 1.0, everyone).rotation @ sound.rotation.swapaxes(1, 2)
        found.append(np.rad2deg(Rotation.from_matrix(turn).as_rotvec()))
    # the standing posture and the joints did not vary here, so the real spread is the smaller one
    ratio = np.std(found, axis=0) / turn_spread(sound, own)
    assert (ratio < 1.2).all()
    assert (ratio > 0.7).all()


@pytest.mark.parametrize("k", range(len(PLACES)))
def test_the_moved_landmark_is_named_alone_with_size_and_direction(k: int) -> None:
    rng = np.random.default_rng(k)
    by = rng.normal(size=3)
    by *= 60.0 / np.linalg.norm(by)
    found = find_moved(two_sessions(shifted(k, by.tolist())), LIMITS)
    assert (found.moved, found.scattered) == ([k], False)
    np.testing.assert_allclose(found.told.displacement[k], by, atol=5.0)
    assert found.or_else[k] == {}
    others = np.arange(len(PLACES)) != k
    assert np.linalg.norm(found.told.displacement[others], axis=1).max() < 3.0


def test_two_moved_landmarks_are_both_named() -> None:
    error = shifted(0, [0.0, 60.0, 0.0]) + shifted(7, [45.0, 0.0, 0.0])
    found = find_moved(two_sessions(error), LIMITS)
    assert sorted(found.moved) == [0, 7]
    np.testing.assert_allclose(found.told.displacement[0], [0, 60, 0], atol=3.0)


def test_one_that_is_off_for_itself_does_not_stand_in_for_the_other() -> None:
    # nearly as far off as the ASIS in units of palpation, but on another bone and just within the limit
    error = shifted(0, [0.0, 40.0, 0.0]) + shifted(8, [22.0, 0.0, 0.0])
    found = find_moved(two_sessions(error), LIMITS._replace(odds=1e9))
    assert found.moved == [0]
    assert 8 not in found.or_else[0]


def test_the_limit_is_where_the_statistic_meets_the_threshold() -> None:
    found = find_moved(two_sessions(shifted(0, [0.0, 20.0, 0.0])), LIMITS)
    limit = least_found(found.told, found.threshold)[0]
    size = np.linalg.norm(found.told.displacement[0])
    assert found.told.statistic[0] * (limit / size) ** 2 == pytest.approx(found.threshold[0])
    assert size < limit
    assert found.moved == []


def alone(two: TwoSessions) -> TwoSessions:
    """The same bones without their joints."""
    nothing = {"joint": two.joint[:0], "joint_place": two.joint_place[:0], "joint_sd": two.joint_sd[:0]}
    return two._replace(**nothing, turn_axes=two.turn_axes[:0], turn_sd=two.turn_sd[:0])


def test_a_distance_that_alone_has_changed_does_not_tell_which_of_its_ends_moved() -> None:
    # of a pelvis of three, the right ASIS square to its line with the right PSIS: only its distance from the left one grows
    square = 60.0 * np.array([-75.0, 0.0, 170.0]) / np.hypot(75.0, 170.0)
    two = alone(two_sessions())
    kept = {n: getattr(two, n)[:3] for n in ("first", "second", "bone", "palpation", "rest")}
    kept["second"] = kept["second"] + np.outer([1.0, 0.0, 0.0], square)
    found = find_moved(two._replace(**kept), LIMITS._replace(scatter_review=99.0, most_moved=0.5))
    assert len(found.moved) == 1
    assert {*found.moved, *found.or_else[found.moved[0]]} == {0, 1}


def test_other_bodies_name_no_landmark() -> None:
    two = two_sessions()
    found = find_moved(two._replace(second=two.second * [1.3, 1.15, 1.4]), LIMITS)
    assert found.scattered
    assert found.moved == []
    assert found.scale > LIMITS.scatter_review


def test_sound_sessions_name_a_landmark_no_more_often_than_said() -> None:
    named = sum(bool(find_moved(two, LIMITS).moved) for two in draws(1.0, 120, 6))
    assert 1 <= named <= 21  # 0.1 of 120, within 3 SD; not one at all would be a test that sees nothing


def test_a_body_without_joints_is_laid_bone_by_bone() -> None:
    two = alone(two_sessions())
    laid = laid_over(two, 0.02, np.ones(len(PLACES)))
    np.testing.assert_allclose(carried(laid, two.bone, two.second), two.first, atol=0.1)
