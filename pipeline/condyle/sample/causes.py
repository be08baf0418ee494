"""Which part moved the knee, worked out for the bones themselves: brute force over all subsets of the factors.

From above: pelvis tilt, hip flexion and knee flexion follow the squat; each of the six other angles is switched from
its baseline to its value at the bottom, in all 64 combinations, and gets its average marginal effect over all orders
(Shapley 1953). From below: foot on the floor, ankle and knee as whole rotations. Angles in degrees, lengths in mm.
"""

from itertools import permutations
from math import factorial

import numpy as np

from condyle.sample.movements import FACTORS
from condyle.sample.truth import fppa_degrees
from condyle.sample.turning import (
    MIRROR,
    Array,
    inward_turn_degrees,
    joint_matrix,
    swapped,
    upright_matrix,
)

FOLLOWED = ("pelvis_tilt", "hip_flexion", "knee_flexion")
MEASURES = ("fppa", "knee_relative_to_hip", "thigh_axial_rotation")
BELOW = ("foot_on_floor", "ankle", "knee")
MEASURES_BELOW = ("shank_tilt_from_below", "thigh_axial_rotation_from_below")
Angles = dict[str, Array]


def measures_at(side: str, thigh_mm: float, shank_mm: float, angles: Angles) -> Array:
    """MEASURES (3, ...) of a leg at these angles."""
    pelvis = upright_matrix("pelvis", side, *(angles[f"pelvis_{a}"] for a in ("rotation", "obliquity", "tilt")))
    order = ("flexion", "adduction", "internal_rotation")
    thigh = pelvis @ joint_matrix("hip", side, *(angles[f"hip_{a}"] for a in order))
    shank = thigh @ joint_matrix("knee", side, *(angles[f"knee_{a}"] for a in order))
    knee = -thigh_mm * thigh[..., :, 1]
    ankle = knee - shank_mm * shank[..., :, 1]
    medial = -MIRROR[side] * knee[..., 2]
    fppa = fppa_degrees(side, np.zeros_like(knee), knee, ankle)
    return np.stack([fppa, medial, inward_turn_degrees(side, thigh)])


def parts_from_above(side: str, thigh_mm: float, shank_mm: float, baseline: Angles, now: Angles) -> dict[str, Array]:
    """The parts (MEASURES, ...) of each factor, and of ``sagittal``; together the change from the baseline.

    ``baseline`` and ``now`` hold the nine angles of pelvis, hip and knee, alike in shape.
    """
    count = len(FACTORS)
    subsets = np.arange(2**count)  # bit i of a subset's number tells whether factor i is switched on
    shape = np.shape(now[FACTORS[0]])
    mixed = {name: np.broadcast_to(now[name], (len(subsets), *shape)) for name in FOLLOWED}
    for i, name in enumerate(FACTORS):
        on = (subsets >> i & 1).astype(bool).reshape(-1, *[1] * len(shape))
        mixed[name] = np.where(on, now[name], baseline[name])
    worth = measures_at(side, thigh_mm, shank_mm, mixed)  # (measure, subset, ...)
    parts = {}
    for i, name in enumerate(FACTORS):
        without = subsets[(subsets >> i & 1) == 0]
        before = [int(subset).bit_count() for subset in without]
        orders = np.array([factorial(k) * factorial(count - k - 1) / factorial(count) for k in before])
        parts[name] = np.einsum("s,ms...->m...", orders, worth[:, without | 1 << i] - worth[:, without])
    parts["sagittal"] = worth[:, 0] - measures_at(side, thigh_mm, shank_mm, baseline)
    return parts


def parts_from_below(side: str, then: dict[str, Array], now: dict[str, Array]) -> dict[str, Array]:
    """The parts (MEASURES_BELOW, ...) of foot on floor, ankle and knee between two instants.

    ``then`` and ``now`` hold the axes (..., 3, 3) of ``foot``, ``shank`` and ``thigh``.
    """

    def worth(switched: frozenset[str]) -> Array:
        foot = (now if "foot_on_floor" in switched else then)["foot"]
        at_ankle, at_knee = (now if "ankle" in switched else then), (now if "knee" in switched else then)
        shank = foot @ swapped(at_ankle["foot"]) @ at_ankle["shank"]
        thigh = shank @ swapped(at_knee["shank"]) @ at_knee["thigh"]
        up = shank[..., :, 1]
        tilt = np.degrees(np.arctan2(-MIRROR[side] * up[..., 2], up[..., 1]))
        return np.stack([tilt, inward_turn_degrees(side, thigh)])

    parts = {name: np.zeros_like(worth(frozenset())) for name in BELOW}
    orders = list(permutations(BELOW))
    for order in orders:
        for position, name in enumerate(order):
            before, after = frozenset(order[:position]), frozenset(order[: position + 1])
            parts[name] += (worth(after) - worth(before)) / len(orders)
    return parts


def verdict_from_above(parts: dict[str, float], least: float = 3.0, little: float = 5.0) -> str:
    """The cause, from one measure's parts without any error: ``none``, ``with_the_pelvis``, ``at_the_hip``, ...

    ``least`` and ``little`` are 3 and 5 degrees, 20 mm both for the knee's position. Limits and rule are ours.
    """
    change = sum(parts.values())
    if abs(change) <= little:
        return "none"
    sign = np.sign(change)
    pelvis = sign * (parts["pelvis_rotation"] + parts["pelvis_obliquity"])
    hip = sign * (parts["hip_adduction"] + parts["hip_internal_rotation"])
    knee = sign * (parts["knee_adduction"] + parts["knee_internal_rotation"])
    leg, size = hip + knee, abs(change)

    def leads(one: float, other: float) -> bool:
        return one >= least and one > other and one - other >= 0.2 * size

    if leads(pelvis, leg):
        return "with_the_pelvis"
    if leads(leg, pelvis):
        return "at_the_hip" if leads(hip, knee) else "in_the_leg"
    return "mixed" if min(pelvis, leg) >= 0.3 * size else "not_separable"


def verdict_from_below(parts: dict[str, float], little: float = 5.0, least: float = 3.0) -> str:
    """Where the shank's tilt or the thigh's turn came from, seen from below, likewise."""
    change = sum(parts.values())
    if abs(change) <= little:
        return "little"
    sign, size = np.sign(change), abs(change)
    ranked = sorted(((sign * value, name) for name, value in parts.items()), reverse=True)
    (first, name), (second, _) = ranked[0], ranked[1]
    if first >= least and first - second >= 0.2 * size:
        return name
    return "mixed" if second >= 0.3 * size else "not_separable"
