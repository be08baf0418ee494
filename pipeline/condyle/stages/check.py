"""check: can this trial be trusted before anything is computed from it?"""

import numpy as np
import xarray as xr
from pydantic import Field

from condyle.findings import Finding, Verdict
from condyle.mechanics.rigid_fit import rigid_fit
from condyle.stages.body import markers_of, model_of, tracking_names
from condyle.stages.stage import Settings
from condyle.vocabulary import SEGMENTS, put


class CheckSettings(Settings):
    """Limits of the fit of each segment's markers to their shape in the standing trial, and of the body's size."""

    plate_review_mm: float = Field(2.5, gt=0, description="median fit of a plate that calls for a look (ours)")
    plate_reject_mm: float = Field(5.0, gt=0, description="median fit of a plate that cannot be the same plate (ours)")
    skin_review_mm: float = Field(8.0, gt=0, description="median fit of skin markers that calls for a look (ours)")
    skin_reject_mm: float = Field(15.0, gt=0, description="median fit of skin markers that cannot be the same body (ours)")


def check_trial(trial: xr.Dataset, settings: CheckSettings) -> tuple[xr.Dataset, list[Finding]]:
    """Markers seen at all, enough of them per segment, and the same shape as in the standing trial."""
    point = trial["point"].values
    if point.shape[0] == 0 or np.isnan(point).all():
        advice = "no frame shows a valid marker of the marker set; check the labels and the file."
        return put(trial), [Finding("markers seen", "file", 0.0, None, "1", "reject", advice)]
    findings = _never_seen(trial)
    if "calibrated_point" in trial:
        findings += [*_uncalibrated(trial), *_fit_to_static(trial, settings)]
    return put(trial), findings


def _never_seen(trial: xr.Dataset) -> list[Finding]:
    seen = ~np.isnan(trial["point"].values[..., 0]).all(axis=0)
    names = markers_of(trial)
    out = []
    taken_off = trial["static_only"].values if "calibrated_point" in trial else np.zeros(len(names), dtype=bool)
    for k in np.flatnonzero(~seen & ~taken_off):
        advice = f"{names[k]} is in the marker set but never seen in this trial."
        out.append(Finding("marker missing", str(trial["label"].values[k]), 0.0, None, "%", "review", advice))
    return out


def _uncalibrated(trial: xr.Dataset) -> list[Finding]:
    """A leg that the standing trial could not calibrate, or that the marker set does not track, cannot be measured."""
    out = []
    tracked = tracking_names(trial)
    empty = np.isnan(trial["calibrated_point"].values).all(axis=(1, 2))
    for segment, nothing in zip(SEGMENTS, empty, strict=True):
        if not nothing or not segment.startswith(("thigh", "shank")):
            continue
        side = "right" if segment.endswith("_r") else "left"
        if tracked[segment]:
            advice = "the standing trial gives no frame for this segment; see its findings."
            out.append(Finding("calibrated", segment, None, None, "", "reject", advice))
        elif trial.attrs.get("side") == side:
            advice = f"the trial is on the {side} leg, but the marker set does not track this segment."
            out.append(Finding("calibrated", segment, None, None, "", "reject", advice))
    return out


def _fit_to_static(trial: xr.Dataset, settings: CheckSettings) -> list[Finding]:
    names = markers_of(trial)
    point = trial["point"].values
    kinds = dict(zip(trial["segment"].values.tolist(), trial["segment_kind"].values.tolist(), strict=True))
    out = []
    for segment, tracking in tracking_names(trial).items():
        own = [n for n in tracking if n in names]
        model = model_of(trial, segment, own) if own else np.empty((0, 3))
        kept = ~np.isnan(model).any(axis=-1)
        columns = [names.index(n) for n, ok in zip(own, kept, strict=True) if ok]
        if len(columns) < 3:
            continue
        rms = rigid_fit(model[kept], point[:, columns]).rms
        if np.isnan(rms).all():
            advice = "no frame shows three of this segment's markers; nothing that needs it is given."
            out.append(Finding("cluster fit", segment, None, None, "mm", "reject", advice))
            continue
        out.append(_judged(segment, float(np.nanmedian(rms)), kinds[segment], settings))
    return out


def _judged(segment: str, fit: float, kind: str, settings: CheckSettings) -> Finding:
    review, reject = (
        (settings.plate_review_mm, settings.plate_reject_mm)
        if kind == "plate"
        else (settings.skin_review_mm, settings.skin_reject_mm)
    )
    verdict: Verdict = "reject" if fit > reject else "review" if fit > review else "pass"
    limit = reject if verdict == "reject" else review
    advice = {
        "pass": "the markers keep the shape they had in the standing trial.",
        "review": "the markers do not quite keep the shape of the standing trial; look for one that moved.",
        "reject": "these are not the markers of the standing trial: another person's static, or a cluster put back elsewhere.",
    }[verdict]
    return Finding("cluster fit", segment, fit, limit, "mm", verdict, advice)
