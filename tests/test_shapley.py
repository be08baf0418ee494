"""Shapley values against their definition and their axioms (Shapley 1953)."""

from itertools import permutations

import numpy as np
import pytest

from condyle.mechanics.shapley import shapley_values, shapley_weights


@pytest.mark.parametrize("n", [1, 2, 3, 4])
def test_mean_marginal_effect_over_all_orders(n: int) -> None:
    table = np.random.default_rng(n).normal(size=(2,) * n)
    expected = np.zeros(n)
    orders = list(permutations(range(n)))
    for order in orders:
        state = [0] * n
        for factor in order:
            before = table[tuple(state)]
            state[factor] = 1
            expected[factor] += (table[tuple(state)] - before) / len(orders)
    np.testing.assert_allclose(shapley_values(table, n), expected, atol=1e-12)


def test_glove_game_of_shapley_1953() -> None:
    # one left glove (player 1), two right ones: the known values are 2/3, 1/6, 1/6
    table = np.zeros((2, 2, 2))
    table[1, 1, 0] = table[1, 0, 1] = table[1, 1, 1] = 1.0
    np.testing.assert_allclose(shapley_values(table, 3), [2 / 3, 1 / 6, 1 / 6], atol=1e-15)


def test_parts_sum_to_the_whole_and_a_factor_without_effect_gets_nothing() -> None:
    rng = np.random.default_rng(1)
    table = np.repeat(rng.normal(size=(2, 2, 1, 2, 5)), 2, axis=2)
    parts = shapley_values(table, 4)
    assert parts.shape == (4, 5)
    np.testing.assert_allclose(parts.sum(axis=0), table[1, 1, 1, 1] - table[0, 0, 0, 0], atol=1e-12)
    np.testing.assert_allclose(parts[2], 0.0, atol=1e-12)


def test_weights_are_not_to_be_written_on() -> None:
    with pytest.raises(ValueError, match="read-only"):
        shapley_weights(3)[0, 0] = 1.0


def test_nan_stays_with_its_own_element() -> None:
    table = np.ones((2, 2, 3))
    table[0, 1, 2] = np.nan
    parts = shapley_values(table, 2)
    assert np.isnan(parts[:, 2]).all()
    assert not np.isnan(parts[:, :2]).any()
