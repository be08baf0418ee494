"""Is the right half of a body the mirror image of the left one, segment by segment?"""

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.rigid_fit import rigid_fit

Landmarks = Mapping[str, FloatArray]

SHAPES: Mapping[str, tuple[str, ...]] = {
    "pelvis": ("asis", "psis", "iliac_crest", "sacrum"),
    "thigh": ("hip", "greater_trochanter", "lateral_epicondyle", "medial_epicondyle"),
    "shank": ("lateral_epicondyle", "medial_epicondyle", "tibial_tuberosity", "lateral_malleolus", "medial_malleolus"),
    "foot": ("calcaneus", "metatarsal_1", "metatarsal_2", "metatarsal_5"),
}
_MIRROR = np.array([1.0, 1.0, -1.0])
_FEWEST = 3


class Unlike(NamedTuple):
    """How far a segment's landmarks are from being each other's mirror image."""

    rms: float  # [mm] of the fit
    landmark: str  # the pair without which most of it is gone; empty where too few would be left
    offset: FloatArray  # (3,) [mm] that pair: the right one from the left one's mirror image, by the fit of the others


def left_right_unlike(landmarks: Landmarks) -> dict[str, Unlike]:
    """Each segment's left landmarks, mirrored, laid on its right ones; for the pelvis, on itself.

    landmarks : dict of (3,) [mm] landmarks by name, and the hip centres as hip_r and hip_l where they are known
    returns   : dict of Unlike by segment without its side: () [mm] rms over the landmarks, name, (3,) [mm] offset
    undefined : a segment with fewer than three pairs (the sacrum is its own partner), or all in one line, is left out
    missing   : a landmark with a NaN is not used
    source    : ours; the fit: Soderkvist & Wedin 1993, J Biomech 26:1473
    """
    out = {}
    for segment, stems in SHAPES.items():
        names, right, left = _pairs(landmarks, stems, folded=segment == "pelvis")
        if len(names) < _FEWEST:
            continue
        rms = _misfit(left, right)[0]
        if np.isfinite(rms):
            out[segment] = Unlike(rms, *_culprit(names, left, right))
    return out


def _pairs(landmarks: Landmarks, stems: tuple[str, ...], folded: bool) -> tuple[list[str], FloatArray, FloatArray]:
    """Landmarks without their side, the right ones and the mirrored left ones, as rows; folded: both ways round."""
    names, right, left = [], [], []
    for stem in stems:
        ends = [(stem, stem)] if stem in landmarks else [(f"{stem}_r", f"{stem}_l")]
        ends += [(b, a) for a, b in ends if folded and a != b]
        for a, b in ends:
            if a in landmarks and b in landmarks and np.isfinite([landmarks[a], landmarks[b]]).all():
                names.append(stem)
                right.append(landmarks[a])
                left.append(landmarks[b] * _MIRROR)
    return names, np.array(right), np.array(left)


def _misfit(left: FloatArray, right: FloatArray) -> tuple[float, FloatArray, FloatArray]:
    fit = rigid_fit(left, right)
    return float(fit.rms), fit.rotation, fit.translation


def _culprit(names: list[str], left: FloatArray, right: FloatArray) -> tuple[str, FloatArray]:
    """The pair that the others, fitted without it, get along best without."""
    best, name, offset = np.inf, "", np.full(3, np.nan)
    for stem in dict.fromkeys(names):
        kept = np.array([n != stem for n in names])
        if kept.sum() < _FEWEST:
            continue
        rms, rotation, translation = _misfit(left[kept], right[kept])
        if rms < best:
            first = names.index(stem)
            best, name = rms, stem
            offset = right[first] - (rotation @ left[first] + translation)
    return name, offset
