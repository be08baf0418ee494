"""The pelvis vanishes at the bottom of a squat: how it is rebuilt, rung by rung, and how far that can be trusted.

Rung 1: three or more other pelvis markers. Rung 2: two of them and the hip centres carried by the thighs. Rung 3: nothing.
Each trial tests its own repair: the same markers are hidden in its deepest fully seen frames, and the error is reported.
"""

from dataclasses import dataclass, field

import numpy as np
import xarray as xr

from condyle.body_names import SEGMENTS
from condyle.findings import Finding, Verdict
from condyle.mechanics.arrays import BoolArray, FloatArray, transposed
from condyle.mechanics.rigid_fit import rigid_fit
from condyle.stages.body import markers_of, model_of, place_segments, tracking_names

_TESTED_FRAMES = 50
_HIPS = ("hip_l", "hip_r")


@dataclass
class Climbed:
    """Points with the pelvis rebuilt, which samples were, the rung of each frame, findings, and the repair's error."""

    point: FloatArray
    rebuilt: BoolArray
    rung: np.ndarray
    findings: list[Finding] = field(default_factory=list)
    repair: dict[str, float] = field(default_factory=dict)


def climb(trial: xr.Dataset, point: FloatArray, rung: int, limit_deg: float) -> Climbed:
    """Rebuild missing pelvis markers by one rung of the ladder; the input stays as it is."""
    names = markers_of(trial)
    tracked = [n for n in tracking_names(trial)["pelvis"] if n in names]
    columns = np.array([names.index(n) for n in tracked], dtype=int)
    out = Climbed(point.copy(), np.zeros(point.shape[:2], dtype=bool), np.zeros(len(point), dtype=np.int8))
    part = point[:, columns]
    missing = np.isnan(part[..., 0])
    seen = (~missing).sum(axis=1)
    broken = missing.any(axis=1)
    if rung == 1:
        usable, extra, model = broken & (seen >= 3), part[:, :0], model_of(trial, "pelvis", tracked)
    else:
        usable = broken & (seen == 2)
        extra = _hips_by_thighs(trial, point) if usable.any() else np.full((len(point), 2, 3), np.nan)
        model = model_of(trial, "pelvis", [*tracked, *_HIPS])
        usable &= (~np.isnan(extra[..., 0])).any(axis=1)
        out.rung[broken & (seen < 3) & ~usable] = 3
    if len(columns) == 0 or not usable.any():
        return out
    whole = np.concatenate([part, extra], axis=1)
    fit = rigid_fit(model, whole[usable])
    rebuilt = model[: len(columns)] @ transposed(fit.rotation) + fit.translation[:, None]
    mended = ~np.isnan(rebuilt[..., 0]).any(axis=1)
    frames = np.flatnonzero(usable)[mended]
    out.rung[np.flatnonzero(usable)[~mended]] = 3
    out.rung[frames] = rung
    part = part.copy()
    part[frames] = np.where(missing[frames][..., None], rebuilt[mended], part[frames])
    out.point[:, columns] = part
    out.rebuilt[np.ix_(frames, columns)] = missing[frames]
    _test_itself(out, missing[frames], whole, model, rung, limit_deg)
    return out


def _hips_by_thighs(trial: xr.Dataset, point: FloatArray) -> FloatArray:
    """Hip centres (time, 2, 3) carried by thighs that stand on their own markers; NaN for a thigh hung on the pelvis."""
    fits, _, hung = place_segments(trial, point, ("thigh_l", "thigh_r"))
    out = np.full((len(point), 2, 3), np.nan)
    for k, (thigh, hip) in enumerate(zip(("thigh_l", "thigh_r"), _HIPS, strict=True)):
        if thigh in fits and not hung[SEGMENTS.index(thigh)]:
            out[:, k] = fits[thigh].translation + fits[thigh].rotation @ model_of(trial, thigh, [hip])[0]
    return out


def _test_itself(
    out: Climbed, hidden: BoolArray, whole: FloatArray, model: FloatArray, rung: int, limit_deg: float
) -> None:
    """Hide the same markers where all were seen, deepest frames first, and compare the pelvis with and without them."""
    n_markers = hidden.shape[1]
    complete = np.flatnonzero(~np.isnan(whole[..., 0]).any(axis=1))
    if len(complete) == 0:
        advice = (
            f"the pelvis was rebuilt in {len(hidden)} frames, and no frame shows all its markers to test the repair on."
        )
        out.findings.append(Finding(f"pelvis repair, rung {rung}", "pelvis", None, limit_deg, "deg", "review", advice))
        return
    height = whole[complete, :n_markers, 1].mean(axis=1)
    deepest = whole[complete[np.argsort(height, kind="stable")[:_TESTED_FRAMES]]]
    truth = rigid_fit(model[:n_markers], deepest[:, :n_markers]).rotation
    patterns, counts = np.unique(hidden, axis=0, return_counts=True)
    squares = np.zeros(len(patterns))
    for k, pattern in enumerate(patterns):
        tested = deepest.copy()
        tested[:, np.flatnonzero(pattern)] = np.nan
        fit = rigid_fit(model, tested)
        mended = np.where(
            pattern[:, None],
            model[:n_markers] @ transposed(fit.rotation) + fit.translation[:, None],
            deepest[:, :n_markers],
        )
        turn = transposed(truth) @ rigid_fit(model[:n_markers], mended).rotation
        cosine = np.clip((np.trace(turn, axis1=-2, axis2=-1) - 1) / 2, -1, 1)
        squares[k] = np.nanmean(np.rad2deg(np.arccos(cosine)) ** 2)
    error = float(np.sqrt(np.average(squares, weights=counts)))
    out.repair[f"pelvis_repair_error_deg_{rung}"] = error
    advice = (
        f"the pelvis was rebuilt in {len(hidden)} frames; hiding the same markers in its {len(deepest)} deepest fully seen "
        "frames turns it by this much."
    )
    verdict: Verdict = "review" if error > limit_deg or rung == 2 else "pass"
    limit: float | None = limit_deg
    if verdict == "review" and error <= limit_deg:
        limit = None  # it is not what calls for the review
        advice += f" That is within {limit_deg:g} degrees, but two markers and the thighs carry it: hip and pelvis share errors."
    out.findings.append(Finding(f"pelvis repair, rung {rung}", "pelvis", error, limit, "deg", verdict, advice))
