"""Is a hip adducted because the thigh went in, or because the pelvis dropped over it?"""

import numpy as np

from condyle.mechanics.arrays import FloatArray, dot
from condyle.mechanics.shapley import shapley_values


def adduction_split(
    pelvis: FloatArray, thigh: FloatArray, pelvis_then: FloatArray, thigh_then: FloatArray
) -> FloatArray:
    """The change of hip adduction, divided between the pelvis moving and the thigh moving.

    pelvis      : (..., 3, 3) [1] axes of the pelvis in the participant frame (mirrored for a left leg)
    thigh       : (..., 3, 3) [1] axes of a right thigh (a left one mirrored)
    pelvis_then : (..., 3, 3) [1] pelvis at the baseline
    thigh_then  : (..., 3, 3) [1] thigh at the baseline
    returns     : (2, ...) [rad] by the pelvis, by the thigh; they sum to the change of hip adduction
    undefined   : adduction of +-90 degrees
    missing     : NaN
    source      : Shapley 1953, two factors; ours
    """
    # the second angle of Z-X'-Y'' is the sine of the thigh's long axis along the pelvis' right axis
    table = np.stack([
        np.stack([np.arcsin(np.clip(dot(p[..., :, 2], t[..., :, 1]), -1.0, 1.0)) for t in (thigh_then, thigh)])
        for p in (pelvis_then, pelvis)
    ])  # fmt: skip
    return shapley_values(table, 2)
