"""Fitting orders of names and stretches together gives what fitting each alone gives."""

import numpy as np
import pytest

from condyle.mechanics.relabelling import exchanged, misfit_as_named, misfits, misfits_of_each
from condyle.mechanics.rigid_fit import rigid_fit
from condyle.mechanics.rigidity import Meeting, Rig, carried, carried_in_orders, leave_one_out


def _body() -> tuple[np.ndarray, Rig]:
    """Two segments of four markers and one of three with a rider, nine frames, some markers hidden."""
    rng = np.random.default_rng(3)
    columns = (np.arange(4), np.arange(4, 8), np.arange(8, 11))
    models = tuple(rng.normal(0.0, 60.0, (len(c), 3)) for c in columns)
    none, rider = np.zeros(0, dtype=np.int64), np.array([11])
    rig = Rig(
        columns,
        models,
        (none, none, rider),
        (np.zeros((0, 3)), np.zeros((0, 3)), rng.normal(0.0, 60.0, (1, 3))),
        (Meeting(0, np.array([0.0, -90.0, 0.0]), 1, np.array([0.0, 90.0, 0.0])),),
    )
    local = np.concatenate([*models, rig.rider_models[2]])
    points = local + rng.normal(0.0, 200.0, (9, 1, 3)) + rng.normal(0.0, 5.0, (9, 12, 3))
    points[2, 1] = points[5, [4, 5]] = points[7, 9] = np.nan
    return points, rig


_ORDERS = [exchanged(12, pairs) for pairs in ([], [(0, 1)], [(2, 6)], [(0, 4), (1, 5), (2, 6), (3, 7)], [(8, 11)])]


def test_orders_together_vs_each_order_alone() -> None:
    points, rig = _body()
    together = carried_in_orders(points, rig, np.stack(_ORDERS))
    for k, order in enumerate(_ORDERS):
        for ours, alone in zip(together, carried(points[:, order], rig), strict=True):
            np.testing.assert_allclose(ours[k], alone, atol=1e-9)


def test_stretches_together_vs_each_stretch_alone() -> None:
    points, rig = _body()
    stretches = [points[:2], points[2:8], points[8:]]
    for together, stretch in zip(misfits_of_each(stretches, rig, _ORDERS), stretches, strict=True):
        np.testing.assert_allclose(together, misfits(stretch, rig, _ORDERS), atol=1e-9)


def test_names_as_they_are_vs_the_first_of_the_orders() -> None:
    points, rig = _body()
    points[:, 4:8] += 400.0  # farther off than counts
    points[:, 8:10] = np.nan  # and a segment never seen
    as_named = misfit_as_named(carried(points, rig))
    np.testing.assert_allclose(as_named, misfits(points, rig, _ORDERS)[0], atol=1e-9)
    assert as_named.max() == 200.0
    assert np.isfinite(as_named).all()


def test_leave_one_out_vs_a_fit_of_the_others_each() -> None:
    points, rig = _body()
    cluster = points[:, :4]
    moved = leave_one_out(rig.models[0], cluster)
    for p in range(4):
        others = [q for q in range(4) if q != p]
        fit = rigid_fit(rig.models[0][others], cluster[:, others])
        away = np.linalg.norm(cluster[:, p] - fit.translation - fit.rotation @ rig.models[0][p], axis=-1)
        assert moved.rms_without[p] == pytest.approx(np.nanmedian(fit.rms))
        assert moved.offset[p] == pytest.approx(np.nanmedian(away))
    assert np.isnan(leave_one_out(rig.models[2], points[:, 8:11]).offset).all()


@pytest.mark.parametrize("n", [4, 13])  # few points have their patterns in a table, many are sorted
def test_frames_of_many_patterns_vs_each_frame_alone(n: int) -> None:
    rng = np.random.default_rng(5)
    model = rng.normal(0.0, 60.0, (n, 3))
    model[:3] = [[0.0, 0.0, 0.0], [50.0, 1.0, 0.0], [100.0, 0.0, 0.0]]  # these three alone are one line
    points = model + rng.normal(0.0, 2.0, (80, n, 3))
    points[rng.random((80, n)) < 0.3] = np.nan
    points[0, 3:] = np.nan
    together = rigid_fit(model, points)
    assert np.isnan(together.rotation[0]).all()
    for k, frame in enumerate(points):
        np.testing.assert_allclose(together.rotation[k], rigid_fit(model, frame).rotation, atol=1e-9)
