"""Turning the lab's vertical up."""

import numpy as np

from condyle.mechanics.arrays import FloatArray

VERTICALS = ("+X", "-X", "+Y", "-Y", "+Z", "-Z")


def vertical_rotation(vertical: str) -> FloatArray:
    """Rotation that brings the named file axis to +y, by a quarter or half turn, so that handedness stays.

    vertical  : word [1] one of VERTICALS
    returns   : (3, 3) [1] rotation, up_from_file
    undefined : another word raises ValueError
    missing   : not applicable
    source    : definition
    """
    turns = {
        "+Y": [[1, 0, 0], [0, 1, 0], [0, 0, 1]],
        "-Y": [[1, 0, 0], [0, -1, 0], [0, 0, -1]],
        "+Z": [[1, 0, 0], [0, 0, 1], [0, -1, 0]],
        "-Z": [[1, 0, 0], [0, 0, -1], [0, 1, 0]],
        "+X": [[0, -1, 0], [1, 0, 0], [0, 0, 1]],
        "-X": [[0, 1, 0], [-1, 0, 0], [0, 0, 1]],
    }
    if vertical not in turns:
        raise ValueError(f"vertical {vertical!r} is not one of {', '.join(VERTICALS)}")
    return np.array(turns[vertical], dtype=float)
