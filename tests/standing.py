"""A standing person in landmarks, for tests: x anterior, y up, z to the right; sizes in mm, all invented."""

import numpy as np

from condyle.mechanics.arrays import FloatArray


def standing_landmarks() -> dict[str, FloatArray]:
    """Landmarks of an upright, symmetric person of middle size."""
    out: dict[str, list[float]] = {
        "sacrum": [-150, 1000, 0],
        "c7": [-60, 1450, 0],
        "t10": [-90, 1250, 0],
        "jugular_notch": [60, 1400, 0],
        "xiphoid": [80, 1250, 0],
    }
    for side, s in (("r", 1.0), ("l", -1.0)):
        out |= {
            f"asis_{side}": [0, 1000, 120 * s],
            f"psis_{side}": [-180, 1000, 45 * s],
            f"lateral_epicondyle_{side}": [-50, 500, 140 * s],
            f"medial_epicondyle_{side}": [-50, 500, 50 * s],
            f"patella_{side}": [0, 500, 95 * s],
            f"tibial_tuberosity_{side}": [-5, 450, 95 * s],
            f"lateral_malleolus_{side}": [-60, 90, 130 * s],
            f"medial_malleolus_{side}": [-40, 90, 60 * s],
            f"calcaneus_{side}": [-110, 30, 95 * s],
            f"metatarsal_1_{side}": [80, 30, 70 * s],
            f"metatarsal_2_{side}": [90, 35, 90 * s],
            f"metatarsal_5_{side}": [60, 25, 135 * s],
            f"acromion_{side}": [-40, 1400, 170 * s],
        }
    return {name: np.array(position, dtype=float) for name, position in out.items()}
