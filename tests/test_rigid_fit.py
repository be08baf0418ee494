"""Rigid fit: against SciPy's alignment of vectors, in the awkward cases, and on a public recording."""

import ezc3d
import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from condyle.mechanics import rigid_fit as module
from condyle.mechanics.rigid_fit import is_collinear, rigid_fit, second_spread
from condyle.mechanics.rotations import nearest_rotation
from tests.conftest import open_c3d

RNG = np.random.default_rng(6)
CLUSTER = np.array([[30.0, 60, 40], [-25, 70, 55], [-30, -60, 35], [40, -55, 60], [5, 0, 95], [10, 40, -20]])
TURN = Rotation.random(60, rng=RNG)
SHIFT = RNG.normal(0, 800, (60, 3))


def moved(model, noise=0.0):
    model = np.broadcast_to(model, (60, *model.shape[-2:]))
    return np.einsum("tij,tpj->tpi", TURN.as_matrix(), model) + SHIFT[:, None] + RNG.normal(0, noise, model.shape)


def scipy_fit(model, measured, weights=None):
    """Kabsch's rotation and its residual, one frame at a time."""
    weights = np.ones(len(model)) if weights is None else weights
    centre = [np.average(p, axis=0, weights=weights) for p in (measured, model)]
    turn, _ = Rotation.align_vectors(measured - centre[0], model - centre[1], weights=weights)
    shift = centre[0] - turn.apply(centre[1])
    residual = measured - turn.apply(model) - shift
    return turn.as_matrix(), shift, np.sqrt((residual**2).sum() / len(model))


@pytest.mark.parametrize("model", [CLUSTER, CLUSTER[:3], CLUSTER[:4] * [1, 1, 0]], ids=["six", "three", "planar"])
@pytest.mark.parametrize("noise", [0.0, 1.0, 15.0])
def test_pose_and_residual_vs_scipy_align_vectors(model, noise):
    measured = moved(model, noise)
    fit = rigid_fit(model, measured)
    for t in range(60):
        turn, shift, rms = scipy_fit(model, measured[t])
        np.testing.assert_allclose(fit.rotation[t], turn, rtol=0, atol=1e-9)
        np.testing.assert_allclose(fit.translation[t], shift, rtol=0, atol=1e-6)
        assert fit.rms[t] == pytest.approx(rms, abs=1e-9)
    np.testing.assert_allclose(np.linalg.det(fit.rotation), 1.0)


def test_exact_points_give_back_their_pose():
    fit = rigid_fit(CLUSTER, moved(CLUSTER))
    np.testing.assert_allclose(fit.rotation, TURN.as_matrix(), rtol=0, atol=1e-13)
    np.testing.assert_allclose(fit.translation, SHIFT, rtol=0, atol=1e-10)
    np.testing.assert_allclose(fit.rms, 0.0, atol=1e-10)
    assert (fit.n_points == 6).all()


def test_an_ordinary_cluster_needs_no_decomposition_per_frame(monkeypatch):
    """Newton's iteration alone: it is what makes a trial take milliseconds."""
    asked = []
    monkeypatch.setattr(module, "nearest_rotation", lambda m: asked.append(len(m)) or nearest_rotation(m))
    for model in (CLUSTER, CLUSTER[:4] * [1, 1, 0], CLUSTER[:3]):
        rigid_fit(model, moved(model, 1.0))
    assert asked == []


def test_weights_vs_scipy_align_vectors():
    weights = np.array([1.0, 2, 0.5, 3, 1, 0.1])
    measured = moved(CLUSTER, 5.0)
    fit = rigid_fit(CLUSTER, measured, weights)
    for t in range(0, 60, 7):
        turn, shift, rms = scipy_fit(CLUSTER, measured[t], weights)
        np.testing.assert_allclose(fit.rotation[t], turn, rtol=0, atol=1e-9)
        np.testing.assert_allclose(fit.translation[t], shift, rtol=0, atol=1e-6)
        assert fit.rms[t] == pytest.approx(rms)
    left_out = rigid_fit(CLUSTER, measured, np.array([1.0, 1, 1, 1, 0, 0]))
    np.testing.assert_allclose(left_out.rotation, rigid_fit(CLUSTER[:4], measured[:, :4]).rotation, atol=1e-12)
    assert (left_out.n_points == 4).all()


def test_a_frame_is_fitted_to_the_points_it_shows():
    measured = moved(CLUSTER, 1.0)
    hidden = RNG.random((60, 6)) < 0.35
    measured[hidden] = np.nan
    fit = rigid_fit(CLUSTER, measured)
    seen = (~hidden).sum(axis=1)
    assert {2, 3, 4, 5} <= set(seen)
    np.testing.assert_array_equal(fit.n_points, seen)
    for t in range(60):
        if seen[t] < 3:
            assert all(np.isnan(part).all() for part in (fit.rotation[t], fit.translation[t], fit.rms[t]))
        else:
            turn, shift, rms = scipy_fit(CLUSTER[~hidden[t]], measured[t, ~hidden[t]])
            np.testing.assert_allclose(fit.rotation[t], turn, rtol=0, atol=1e-9)
            np.testing.assert_allclose(fit.translation[t], shift, rtol=0, atol=1e-6)
            assert fit.rms[t] == pytest.approx(rms)


def test_one_missing_coordinate_hides_the_point_and_one_missing_in_the_model_too():
    measured = moved(CLUSTER, 1.0)
    expected = rigid_fit(CLUSTER[1:], measured[:, 1:]).rotation
    half = measured.copy()
    half[:, 0, 1] = np.nan
    np.testing.assert_allclose(rigid_fit(CLUSTER, half).rotation, expected, atol=1e-12)
    model = CLUSTER.copy()
    model[0, 2] = np.nan
    np.testing.assert_allclose(rigid_fit(model, measured).rotation, expected, atol=1e-12)


def test_mirrored_points_never_give_a_reflection():
    measured = moved(CLUSTER * [1, 1, -1], 3.0)
    fit = rigid_fit(CLUSTER, measured)
    np.testing.assert_allclose(np.linalg.det(fit.rotation), 1.0)
    assert (fit.rms > 10).all()
    for t in range(60):
        np.testing.assert_allclose(fit.rotation[t], scipy_fit(CLUSTER, measured[t])[0], rtol=0, atol=1e-7)


def test_points_in_one_line_are_no_pose():
    line = np.array([[0.0, 0, 0], [0, 100, 1], [0, 200, -1], [0, 300, 0]])
    assert np.isnan(rigid_fit(line, moved(line)).rotation).all()
    bent = np.vstack([line, [60.0, 150, 0]])
    measured = moved(bent)
    measured[::2, 4] = np.nan  # with the off-line point hidden only the line is left
    fit = rigid_fit(bent, measured)
    assert np.isnan(fit.rotation[::2]).all()
    assert np.isnan(fit.rms[::2]).all()
    np.testing.assert_allclose(fit.rotation[1::2], TURN.as_matrix()[1::2], atol=1e-10)


def test_measured_points_on_one_spot_or_line_are_no_pose():
    """Frozen or exchanged labels: the model is sound, what was measured is not."""
    assert np.isnan(rigid_fit(CLUSTER, np.full((2, 6, 3), 7.0)).rotation).all()
    line = np.array([1.0, 2, 3]) * np.arange(6)[:, None]
    assert np.isnan(rigid_fit(CLUSTER, line).rotation).all()


def test_second_spread_of_a_rectangle():
    """Corners of a 200 x 60 rectangle stand 30 mm from its long axis."""
    rectangle = np.array([[100.0, 30, 0], [100, -30, 0], [-100, 30, 0], [-100, -30, 0]]) @ TURN[0].as_matrix().T + 500
    assert second_spread(rectangle) == pytest.approx(30.0)
    assert second_spread(np.vstack([rectangle, [np.nan] * 3])) == pytest.approx(30.0)
    singular = np.linalg.svd(CLUSTER - CLUSTER.mean(axis=0), compute_uv=False)
    assert second_spread(CLUSTER) == pytest.approx(singular[1] / np.sqrt(6))
    assert is_collinear(rectangle, 31.0)
    assert not is_collinear(rectangle, 29.0)
    assert is_collinear(np.full((4, 3), np.nan))


def test_one_model_per_draw_broadcasts_against_frames():
    models = CLUSTER + RNG.normal(0, 5, (4, 1, 6, 3))
    models[3] = np.array([0.0, 1, 2]) * np.arange(6)[:, None]  # one draw collapsed to a line
    measured = moved(CLUSTER, 1.0)
    measured[5:9, :2] = np.nan
    fit = rigid_fit(models, measured)
    assert fit.rotation.shape == (4, 60, 3, 3)
    assert fit.n_points.shape == fit.rms.shape == (4, 60)
    for draw in range(4):
        for part, single in zip(fit, rigid_fit(models[draw, 0], measured), strict=True):
            np.testing.assert_allclose(part[draw], single, rtol=0, atol=1e-9)
    assert np.isnan(fit.rotation[3]).all()


def test_plates_of_a_public_walk_fit_within_0p9_to_1p4_mm():
    """Median RMS of the thigh and shank clusters of cluster_walk, standing_2 against walking_2 (its own notes)."""

    def positions(name, labels):
        recording = ezc3d.c3d(str(open_c3d(f"cluster_walk/{name}.c3d")))
        names = recording["parameters"]["POINT"]["LABELS"]["value"]
        points = recording["data"]["points"][:3].transpose(2, 1, 0)[:, [names.index(label) for label in labels]]
        return np.where((points == 0).all(axis=-1, keepdims=True), np.nan, points)

    for segment in ("R_THIGH", "L_THIGH", "R_SHANK", "L_SHANK"):
        labels = [f"{segment}_{k}" for k in range(1, 5)]
        model = np.nanmean(positions("standing_2", labels), axis=0)
        fit = rigid_fit(model, positions("walking_2", labels))
        assert 0.85 < np.nanmedian(fit.rms) < 1.45, segment
