"""Are left and right of a standing person alike, in their sizes and in where the landmarks of a segment lie?"""

import numpy as np

from condyle.findings import Finding
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.body_plan import forward, right_of, sizes
from condyle.mechanics.calibration import body_frames
from condyle.mechanics.standing_body import JOINT_ORDER
from condyle.mechanics.symmetry import Unlike, left_right_unlike
from condyle.stages.checks.judging import Limits, finding

SIZE_WORDS = {
    "pelvis_width": "between both ASIS",
    "pelvis_depth": "from the ASIS to the back of the pelvis",
    "knee_width": "between the epicondyles",
    "ankle_width": "between the malleoli",
    "thigh": "from ASIS to lateral epicondyle",
    "shank": "from lateral epicondyle to lateral malleolus",
    "foot": "from heel to fifth metatarsal",
}
_ALIKE = ("thigh", "shank", "foot", "knee_width", "ankle_width")
_OF = {"knee_width": "thigh", "ankle_width": "shank"}  # the segment a size belongs to
_MEASURED_FROM = {
    "thigh": {"pelvis", "lateral_epicondyle"},
    "shank": {"lateral_epicondyle", "lateral_malleolus"},
    "foot": {"calcaneus", "metatarsal_5"},
    "knee_width": {"lateral_epicondyle", "medial_epicondyle"},
    "ankle_width": {"lateral_malleolus", "medial_malleolus"},
}
_SHAPED = {"pelvis": "the two halves of the pelvis", "thigh": "the thighs", "shank": "the shanks", "foot": "the feet"}


def alike_findings(landmarks: dict[str, FloatArray], limits: Limits) -> list[Finding]:
    """Findings on both sides' shapes, then on sizes: a landmark that one row names is not told of again by another."""
    hips = dict(zip(JOINT_ORDER, body_frames(landmarks).joint, strict=True))
    unlike = left_right_unlike(landmarks | {n: p for n, p in hips.items() if n.startswith("hip")})
    ahead = forward(landmarks).feet
    out: list[Finding] = []
    told: set[str] = set()
    for segment, one in unlike.items():
        # Thighs hang on the pelvis: their hip centres come from it, and their length starts at the ASIS.
        if one.landmark in told or (segment == "thigh" and "pelvis" in told):
            continue
        if row := _shape_row(segment, one, ahead, limits):
            out.append(row)
            told |= {one.landmark, segment} - {""}
    return [*out, *_sizes_alike(landmarks, limits, told)]


def of_segment(size: str) -> str:
    """The segment that a size belongs to."""
    if size.startswith("pelvis"):
        return "pelvis"
    stem, tail = size[:-2], size[-2:]
    return f"{_OF.get(stem, stem)}{tail}"


def _sizes_alike(landmarks: dict[str, FloatArray], limits: Limits, told: set[str]) -> list[Finding]:
    found = sizes(landmarks)
    out = []
    for name in _ALIKE:
        if f"{name}_r" not in found or f"{name}_l" not in found or told & _MEASURED_FROM[name]:
            continue
        apart = found[f"{name}_r"] - found[f"{name}_l"]
        side = "right" if apart > 0 else "left"
        advice = f"{SIZE_WORDS[name]}: longer on the {side}; a landmark of one side is misplaced, or the legs differ."
        key = "alike_length" if name in ("thigh", "shank", "foot") else "alike_width"
        if row := finding(limits, key, "sides alike", of_segment(f"{name}_{side[0]}"), abs(apart), advice):
            out.append(row)
    return out


def _shape_row(segment: str, unlike: Unlike, ahead: FloatArray | None, limits: Limits) -> Finding | None:
    subject = "pelvis" if segment == "pelvis" else "file"
    advice = f"left and right landmarks are not each other's mirror image: {_SHAPED[segment]} differ by this rms"
    if unlike.landmark and unlike.landmark not in ("hip", "sacrum"):
        way = "" if ahead is None else f", the right one {_way(unlike.offset, ahead)} the left one's mirror image"
        advice += f"; most of it lies in {unlike.landmark.replace('_', ' ')}{way}"
    advice += ". Palpate both sides again: one of them is misplaced, or the sides differ."
    return finding(limits, f"shape_{segment}", "sides shaped alike", subject, unlike.rms, advice)


def _way(offset: FloatArray, ahead: FloatArray) -> str:
    """The largest part of a vector on the right side, in words."""
    parts = np.array([offset @ ahead, offset[1], offset @ right_of(ahead)])
    largest = int(np.argmax(np.abs(parts)))
    words = (("behind", "in front of"), ("below", "above"), ("to the inside of", "to the outside of"))[largest]
    return f"{abs(parts[largest]):.0f} mm {words[int(parts[largest] > 0)]}"
