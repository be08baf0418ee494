"""Does the standing trial show a standing person, the right way up, with left on the left and sizes of a human body?"""

import numpy as np

from condyle.body_names import LANDMARK_SEGMENT, LANDMARKS, SEGMENTS
from condyle.findings import Finding, Verdict
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.body_plan import hip_methods_apart, sizes
from condyle.mechanics.stillness import stillest_window
from condyle.stages.checks.alike import SIZE_WORDS, alike_findings, of_segment
from condyle.stages.checks.axes import axes_findings
from condyle.stages.checks.judging import Limits, finding
from condyle.stages.checks.order_findings import order_findings
from condyle.stages.checks.recorded import Recorded

_WINDOW_S = 0.5
_FOOT = ("calcaneus", "metatarsal_1", "metatarsal_2", "metatarsal_5", "lateral_malleolus", "medial_malleolus")
_NOWHERE = np.full(3, np.nan)


def standing_findings(seen: Recorded, limits: Limits, vertical: str = "+Y") -> list[Finding]:
    """Findings on the body of a standing trial; all of them on its stillest half second."""
    place = stillest_places(seen)
    landmarks = {n: place[k] for k, n in enumerate(seen.names) if n in LANDMARKS and np.isfinite(place[k]).all()}
    out = axes_findings(landmarks, limits, vertical)
    if not any(f.check == "up axis" for f in out) and (one_leg := _on_one_leg(landmarks, limits)):
        return [one_leg]
    facing = [f for f in out if f.verdict == "reject"]
    if any(f.check != "facing" for f in facing):
        return out
    disorder, landmarks = order_findings(seen, landmarks, limits)
    if facing:  # two landmarks under each other's names may have turned pelvis or feet round
        mended = disorder and not any(f.verdict == "reject" for f in axes_findings(landmarks, limits, vertical))
        return disorder if mended else out
    place = np.array(
        [landmarks.get(n, p if n not in LANDMARKS else _NOWHERE) for n, p in zip(seen.names, place, strict=True)]
    )
    wrong_side = _clusters(seen, place, landmarks)
    out += [*disorder, *wrong_side, *_sizes(landmarks, limits)]
    return out if disorder or wrong_side else [*out, *alike_findings(landmarks, limits)]


def _on_one_leg(landmarks: dict[str, FloatArray], limits: Limits) -> Finding | None:
    """A squat in the place of the standing trial; by the middle of each foot's landmarks, so that one wrong label is none."""
    height = {}
    for t in ("_l", "_r"):
        own = [landmarks[f"{n}{t}"][1] for n in _FOOT if f"{n}{t}" in landmarks]
        if not own:
            return None
        height[t] = float(np.median(own))
    apart = abs(height["_r"] - height["_l"])
    side = "right" if height["_r"] > height["_l"] else "left"
    advice = (
        f"the {side} foot is this much higher than the other where the trial is stillest: a standing trial stands on both feet; "
        "name the right file with static: in the session file, or record one."
    )
    return finding(limits, "feet_apart", "stands on one leg", "file", apart, advice)


def stillest_places(seen: Recorded) -> FloatArray:
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
        end = "least" if value < limits[f"{stem}_least"].value else "most"
        sign = -1.0 if end == "least" else 1.0
        review, reject = (sign * limits[f"{stem}_{end}{hard}"].value for hard in ("", "_reject"))
        if sign * value > review:
            impossible = sign * value > reject
            advice = (
                f"{SIZE_WORDS[stem]}: no {'human being' if impossible else 'adult'} measures this; look for a misplaced or "
                "exchanged marker, or wrong units."
            )
            verdict: Verdict = "reject" if impossible else "review"
            limit = sign * (reject if impossible else review)
            out.append(Finding("body size", of_segment(name), value, limit, "mm", verdict, advice))
    if "pelvis_width" in found and "pelvis_depth" in found:
        apart = hip_methods_apart(found["pelvis_width"], found["pelvis_depth"])
        advice = (
            "hip centres by Harrington 2007 and by Bell 1990 lie this far apart: the pelvis has an unusual shape, or an ASIS "
            "or PSIS marker is misplaced."
        )
        if row := finding(limits, "hip_methods", "hip centres of two methods", "pelvis", apart, advice):
            out.append(row)
    return out
