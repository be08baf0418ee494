"""Does the standing trial show a standing person, the right way up, with left on the left and sizes of a human body?"""

import numpy as np

from condyle.findings import Finding
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.body_plan import forward, hip_methods_apart, pair_offsets, right_of, sizes
from condyle.mechanics.stillness import stillest_window
from condyle.stages.checks.axes import axes_findings
from condyle.stages.checks.judging import Limits, finding
from condyle.stages.checks.recorded import Recorded
from condyle.vocabulary import LANDMARK_SEGMENT, LANDMARKS, SEGMENTS

_WINDOW_S = 0.5
_KNEE_AND_ANKLE = ("epicondyle", "malleolus")
_SIZES = {
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


def standing_findings(seen: Recorded, limits: Limits, vertical: str = "+Y") -> list[Finding]:
    """Findings on the body of a standing trial; all of them on its stillest half second."""
    place = _stillest(seen)
    landmarks = {n: place[k] for k, n in enumerate(seen.names) if n in LANDMARKS and np.isfinite(place[k]).all()}
    out = axes_findings(landmarks, limits, vertical)
    if any(f.verdict == "reject" for f in out):
        return out
    out += [*_sides(seen, landmarks, limits), *_clusters(seen, place, landmarks), *_sizes(landmarks, limits)]
    return [*out, *_alike(landmarks, limits)]


def _stillest(seen: Recorded) -> FloatArray:
    """(M, 3) median place in the stillest part; the whole trial where it is short."""
    window = stillest_window(seen.point, max(2, min(len(seen.point), round(_WINDOW_S * seen.rate_hz))))
    part = seen.point if window is None else seen.point[window.start : window.stop]
    known = np.isfinite(part[..., 0])
    ever = known.any(axis=0)
    out = np.full(part.shape[1:], np.nan)
    whole = known.all(axis=0)
    out[whole] = np.median(part[:, whole], axis=0)
    if (rest := ever & ~whole).any():
        out[rest] = np.nanmedian(part[:, rest], axis=0)
    return out


def _sides(seen: Recorded, landmarks: dict[str, FloatArray], limits: Limits) -> list[Finding]:
    """Pairs whose right one lies to the left; medial points that lie outside their lateral ones."""
    facing = forward(landmarks)
    ahead = facing.feet if facing.feet is not None else facing.pelvis
    if ahead is None:
        return []
    right = right_of(ahead)
    out = []
    for name, apart in pair_offsets(landmarks, right).items():
        if apart < 0:
            labels = " and ".join(seen.labels[seen.names.index(f"{name}{t}")] for t in ("_r", "_l"))
            advice = f"{labels} lie on each other's side: exchange them in the standing trial."
            for t in ("_r", "_l"):
                subject = LANDMARK_SEGMENT[f"{name}{t}"]
                out.append(Finding("left and right", subject, apart, 0.0, "mm", "reject", advice))
    for t, sign in (("_r", 1.0), ("_l", -1.0)):
        for bone in _KNEE_AND_ANKLE:
            lateral, medial = landmarks.get(f"lateral_{bone}{t}"), landmarks.get(f"medial_{bone}{t}")
            if lateral is None or medial is None:
                continue
            outwards = sign * float((lateral - medial) @ right)
            if outwards < limits["lateral_least"].value:
                labels = " and ".join(seen.labels[seen.names.index(f"{m}_{bone}{t}")] for m in ("lateral", "medial"))
                advice = f"{labels} are exchanged, or the leg is turned right round: the lateral one must lie outside."
                subject = LANDMARK_SEGMENT[f"lateral_{bone}{t}"]
                out.append(
                    Finding(
                        "lateral and medial", subject, outwards, limits["lateral_least"].value, "mm", "reject", advice
                    )
                )
    return list(dict.fromkeys(out))


def _clusters(seen: Recorded, place: FloatArray, landmarks: dict[str, FloatArray]) -> list[Finding]:
    """A tracking marker of one leg that lies nearer to the other leg."""
    middle = {}
    for name in ("thigh", "shank", "foot"):
        for t in ("_r", "_l"):
            own = [p for n, p in landmarks.items() if LANDMARK_SEGMENT.get(n) == f"{name}{t}"]
            if own:
                middle[f"{name}{t}"] = np.mean(own, axis=0)
    out = []
    for segment, here in middle.items():
        other = middle.get(segment[:-1] + {"r": "l", "l": "r"}[segment[-1]])
        if other is None:
            continue
        for column in seen.tracking[SEGMENTS.index(segment)]:
            if not np.isfinite(place[column]).all():
                continue
            nearer = float(np.linalg.norm(place[column] - other) - np.linalg.norm(place[column] - here))
            if nearer < 0:
                advice = (
                    f"{seen.labels[column]} lies on the other leg in the standing trial: its name is on the wrong side."
                )
                out.append(Finding("left and right", segment, nearer, 0.0, "mm", "reject", advice))
    return out


def _sizes(landmarks: dict[str, FloatArray], limits: Limits) -> list[Finding]:
    found = sizes(landmarks)
    out = []
    for name, value in found.items():
        stem = name.removesuffix("_r").removesuffix("_l")
        least, most = limits[f"{stem}_least"], limits[f"{stem}_most"]
        if not least.value <= value <= most.value:
            limit = least.value if value < least.value else most.value
            advice = (
                f"{_SIZES[stem]}: no adult measures this; look for a misplaced or exchanged marker, or wrong units."
            )
            out.append(Finding("body size", _subject(name), value, limit, "mm", "review", advice))
    if "pelvis_width" in found and "pelvis_depth" in found:
        apart = hip_methods_apart(found["pelvis_width"], found["pelvis_depth"])
        advice = (
            "hip centres by Harrington 2007 and by Bell 1990 lie this far apart: the pelvis has an unusual shape, or an ASIS "
            "or PSIS marker is misplaced."
        )
        if row := finding(limits, "hip_methods", "hip centres of two methods", "pelvis", apart, advice):
            out.append(row)
    return out


def _alike(landmarks: dict[str, FloatArray], limits: Limits) -> list[Finding]:
    found = sizes(landmarks)
    out = []
    for name in _ALIKE:
        if f"{name}_r" not in found or f"{name}_l" not in found:
            continue
        apart = found[f"{name}_r"] - found[f"{name}_l"]
        side = "right" if apart > 0 else "left"
        advice = f"{_SIZES[name]}: longer on the {side}; a landmark of one side is misplaced, or the legs differ."
        key = "alike_length" if name in ("thigh", "shank", "foot") else "alike_width"
        if row := finding(limits, key, "sides alike", _subject(f"{name}_{side[0]}"), abs(apart), advice):
            out.append(row)
    return out


def _subject(size: str) -> str:
    if size.startswith("pelvis"):
        return "pelvis"
    stem, tail = size[:-2], size[-2:]
    return f"{_OF.get(stem, stem)}{tail}"
