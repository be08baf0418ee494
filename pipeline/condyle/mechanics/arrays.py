"""The array types and the smallest helpers that every formula shares."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]


def transposed(matrix: NDArray[Any]) -> NDArray[Any]:
    """The matrix with its last two axes exchanged: the inverse of a rotation.

    matrix    : (..., 3, 3) [1] rotation
    returns   : (..., 3, 3) [1] view, child_from_parent for parent_from_child
    undefined : nowhere
    missing   : a NaN stays where its mirror image stands
    source    : definition
    """
    return np.swapaxes(matrix, -1, -2)


def dot(a: FloatArray, b: FloatArray) -> FloatArray:
    """Scalar product over the last axis.

    a         : (..., n) [unit] vectors
    b         : (..., n) [unit] vectors
    returns   : (...) [unit^2] scalar product
    undefined : nowhere
    missing   : a NaN makes its product NaN
    source    : definition
    """
    product: FloatArray = np.einsum("...i,...i->...", a, b)
    return product


def unit(vector: FloatArray) -> FloatArray:
    """The vector at length 1.

    vector    : (..., 3) [unit] vectors
    returns   : (..., 3) [1] direction
    undefined : a vector shorter than 1e-12 has no direction: NaN
    missing   : a NaN makes its direction NaN
    source    : definition
    """
    length = np.sqrt(dot(vector, vector))[..., None]
    direction = np.full(np.broadcast_shapes(vector.shape, length.shape), np.nan)
    np.divide(vector, length, out=direction, where=length > 1e-12)
    return direction
