"""Does the standing trial show a standing person, the right way up, with left on the left and sizes of a human body?"""

import numpy as np

from condyle.findings import Finding
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.body_plan import forward, hip_methods_apart, pair_offsets, right_of, sizes
from condyle.mechanics.stillness import stillest_window
from condyle.stages.checks.alike import SIZE_WORDS, alike_findings, of_segment
from condyle.stages.checks.axes import axes_findings
from condyle.stages.checks.judging import Limits, finding
from condyle.stages.checks.recorded import Recorded
from condyle.vocabulary import LANDMARK_SEGMENT, LANDMARKS, SEGMENTS

_WINDOW_S = 0.5
_KNEE_AND_ANKLE = ("epicondyle", "malleolus")


def standing_findings(seen: Recorded, limits: Limits, vertical: str = "+Y") -> list[Finding]:
    """Findings on the body of a standing trial; all of them on its stillest half second."""
    place = _stillest(seen)
    landmarks = {n: place[k] for k, n in enumerate(seen.names) if n in LANDMARKS and np.isfinite(place[k]).all()}
    out = axes_findings(landmarks, limits, vertical)
    if any(f.verdict == "reject" for f in out):
        return out
    wrong_side = [*_sides(seen, landmarks, limits), *_clusters(seen, place, landmarks)]
    out += [*wrong_side, *_sizes(landmarks, limits)]
    return out if wrong_side else [*out, *alike_findings(landmarks, limits)]


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
                f"{SIZE_WORDS[stem]}: no adult measures this; look for a misplaced or exchanged marker, or wrong units."
            )
            out.append(Finding("body size", of_segment(name), value, limit, "mm", "review", advice))
    if "pelvis_width" in found and "pelvis_depth" in found:
        apart = hip_methods_apart(found["pelvis_width"], found["pelvis_depth"])
        advice = (
            "hip centres by Harrington 2007 and by Bell 1990 lie this far apart: the pelvis has an unusual shape, or an ASIS "
            "or PSIS marker is misplaced."
        )
        if row := finding(limits, "hip_methods", "hip centres of two methods", "pelvis", apart, advice):
            out.append(row)
    return out
