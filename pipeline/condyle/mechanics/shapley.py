"""How much of a result does each cause own, when the causes act together?

The Shapley value is the average of a factor's marginal effect over all orders in which the factors can be switched on.
It is exact here: every subset is evaluated, none is sampled.
"""

from functools import lru_cache
from math import factorial

import numpy as np

from condyle.mechanics.arrays import FloatArray


@lru_cache(maxsize=16)
def shapley_weights(n: int) -> FloatArray:
    """Weights that turn the values of all subsets of n factors into Shapley values.

    n         : int [1] number of factors
    returns   : (n, 2**n) [1] weights; bit n - 1 - i of a column tells whether factor i is on (C order of (2,) * n)
    undefined : n < 1 gives an empty array
    missing   : not applicable
    source    : Shapley 1953, A value for n-person games
    """
    subset = np.array(list(np.ndindex(*(2,) * n)), dtype=np.int64).reshape(-1, n)
    size = subset.sum(axis=1)
    weight = np.zeros((n, len(subset)))
    for i in range(n):
        on = subset[:, i] == 1
        others = size - subset[:, i]
        share = np.array([factorial(int(k)) * factorial(n - 1 - int(k)) / factorial(n) for k in others])
        weight[i] = np.where(on, share, -share)
    weight.setflags(write=False)
    return weight


def shapley_values(values: FloatArray, n: int) -> FloatArray:
    """Shapley values from a table of all subsets.

    values    : (2, ..., 2, ...) [unit] n axes of length 2 first (0 at the baseline, 1 as measured), then any others
    n         : int [1] number of factors
    returns   : (n, ...) [unit] the factors' parts; they sum to values[1, ..., 1] - values[0, ..., 0]
    undefined : nowhere
    missing   : a NaN in any subset makes all parts of that element NaN
    source    : Shapley 1953, A value for n-person games
    """
    tail = values.shape[n:]
    parts: FloatArray = shapley_weights(n) @ values.reshape(2**n, -1)
    return parts.reshape(n, *tail)
