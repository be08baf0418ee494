"""How far one point of a cluster lies from where the others carry it, against known displacements and SciPy's own fit."""

import numpy as np
from scipy.spatial.transform import Rotation

from condyle.mechanics.off_cluster import off_the_others

MODEL = np.array([[0.0, 0, 0], [100, 0, 0], [0, 80, 0], [20, 30, 60], [70, 60, 10]])
FRAMES = 30
TURN = Rotation.from_rotvec(np.linspace([0.1, 0, 0], [0.5, 0.9, -0.4], FRAMES))
MOVED = np.linspace([0.0, 900, 0], [300, 700, 50], FRAMES)
POINTS = TURN.as_matrix() @ MODEL.T
POINTS = POINTS.transpose(0, 2, 1) + MOVED[:, None]
ALL = np.ones(FRAMES, dtype=bool)


def test_a_point_in_its_place_is_not_off_and_one_moved_is_by_so_much() -> None:
    np.testing.assert_allclose(off_the_others(POINTS, MODEL, 2, ALL), 0.0, atol=1e-6)
    for by in ([7.0, 0, 0], [0, -12.0, 5.0]):
        points = POINTS.copy()
        points[:, 2] += TURN.apply(by)
        np.testing.assert_allclose(off_the_others(points, MODEL, 2, ALL), np.linalg.norm(by), atol=1e-6)
        assert off_the_others(points, MODEL, 1, ALL).max() > 1.0, (
            "seen from another, the one that moved is among the others"
        )


def test_only_the_frames_asked_for_are_answered_and_nothing_is_changed() -> None:
    points = POINTS.copy()
    points[10, 4] += 3.0
    frames = np.zeros(FRAMES, dtype=bool)
    frames[[3, 10]] = True
    before = points.copy()
    np.testing.assert_allclose(off_the_others(points, MODEL, 4, frames), [0.0, 3.0 * np.sqrt(3.0)], atol=1e-6)
    np.testing.assert_array_equal(points, before)


def test_with_noise_it_is_what_an_independent_fit_says() -> None:
    points = POINTS + np.random.default_rng(3).normal(0.0, 2.0, POINTS.shape)
    found = off_the_others(points, MODEL, 0, ALL)
    for t in range(FRAMES):
        others, seen = MODEL[1:], points[t, 1:]
        turn, _ = Rotation.align_vectors(seen - seen.mean(axis=0), others - others.mean(axis=0))
        carried = turn.apply(MODEL[0] - others.mean(axis=0)) + seen.mean(axis=0)
        assert abs(found[t] - np.linalg.norm(points[t, 0] - carried)) < 1e-6


def test_too_few_others_tell_nothing() -> None:
    points = POINTS.copy()
    points[5, [0, 1]] = np.nan
    found = off_the_others(points, MODEL, 2, ALL)
    assert np.isnan(found[5])
    assert np.isfinite(np.delete(found, 5)).all()
