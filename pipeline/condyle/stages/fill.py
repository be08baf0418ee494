"""fill: rebuild what a rigid cluster or the pelvis ladder can carry, bridge short gaps, mark every filled sample."""

import numpy as np
import xarray as xr
from numpy.typing import NDArray
from pydantic import Field

from condyle.files.limits import load_limits
from condyle.findings import Finding
from condyle.mechanics.arrays import BoolArray, FloatArray
from condyle.mechanics.gaps import rebuild_from_cluster, spline_fill
from condyle.stages.body import markers_of, model_of, tracking_names
from condyle.stages.pelvis_ladder import climb
from condyle.stages.stage import Settings
from condyle.trial_data import noted, put

CodeArray = NDArray[np.int8]
SEEN, RIGID, SPLINE, LADDER = 0, 1, 2, 3


class FillSettings(Settings):
    """How long a gap may be for each way of filling it."""

    longest_s: float = Field(
        0.2, ge=0, le=2, description="longest gap bridged by a cubic spline (common practice, no source)"
    )
    longest_rigid_s: float = Field(
        1.0, ge=0, le=30, description="longest gap rebuilt from three or more other markers of the same segment (ours)"
    )
    pelvis_error_deg: float = Field(
        3.0,
        gt=0,
        le=90,
        description="error of the pelvis' repair, tested on the trial itself, beyond which it is reported (ours)",
    )


def fill_trial(trial: xr.Dataset, settings: FillSettings) -> tuple[xr.Dataset, list[Finding]]:
    """Fill gaps in the order cluster, pelvis from its other markers, spline, pelvis with the hip centres."""
    rate = trial.attrs["rate_hz"]
    point = trial.variables["point"].values.copy()
    filled = np.zeros(point.shape[:2], dtype=np.int8)
    missing = np.isnan(point[..., 0])
    rung = np.zeros(point.shape[0], dtype=np.int8)
    findings: list[Finding] = []
    repair: dict[str, float] = {}
    if missing.any():
        taught = "calibrated_point" in trial
        if taught:
            flash = max(1, round(load_limits("quality")["ghost_longest_s"].value * rate))
            _rebuild_clusters(trial, point, filled, round(settings.longest_rigid_s * rate), flash)
            first = climb(trial, point, 1, settings.pelvis_error_deg)
            point, rung = first.point, first.rung
            filled[first.rebuilt] = LADDER
            findings += first.findings
            repair |= first.repair
        point, now = spline_fill(point, round(settings.longest_s * rate))
        filled[now[..., 0]] = SPLINE
        if taught:
            second = climb(trial, point, 2, settings.pelvis_error_deg)
            point = second.point
            rung = np.maximum(rung, second.rung).astype(np.int8)
            filled[second.rebuilt] = LADDER
            findings += second.findings
            repair |= second.repair
    out = noted(put(trial, point=point, filled=filled, pelvis_rung=rung), **repair)
    return out, [*findings, *_said(trial, filled, np.isnan(point[..., 0]) & ~missing.all(axis=0))]


def _rebuild_clusters(trial: xr.Dataset, point: FloatArray, filled: CodeArray, longest: int, flash: int) -> None:
    """Fill, in place, the markers of clusters of which three or more others are seen; the pelvis has its own ladder."""
    names = markers_of(trial)
    for segment, tracking in tracking_names(trial).items():
        columns = [names.index(n) for n in tracking if n in names]
        if segment == "pelvis" or len(columns) < 4 or not np.isnan(point[:, columns]).any():
            continue
        model = model_of(trial, segment, [names[c] for c in columns])
        rebuilt, done = rebuild_from_cluster(point[:, columns], model, longest, flash)
        point[:, columns] = rebuilt
        filled[:, columns] = np.where(done, RIGID, filled[:, columns])


def _said(trial: xr.Dataset, filled: CodeArray, still_missing: BoolArray) -> list[Finding]:
    """One row per way of filling, and one per marker whose gaps stay open; a marker never seen has no gap to fill."""
    labels = [str(v) for v in trial.variables["label"].values]
    out = []
    words = {
        RIGID: "rebuilt from the rigid cluster",
        SPLINE: "bridged by a cubic spline",
        LADDER: "rebuilt by the pelvis ladder",
    }
    for code, what in words.items():
        for k in np.flatnonzero((filled == code).any(axis=0)):
            share = 100.0 * float((filled[:, k] == code).mean())
            advice = f"{what}; these samples are marked as filled."
            out.append(Finding(f"filled: {what}", labels[k], share, None, "%", "pass", advice))
    tracked = {name for names in tracking_names(trial).values() for name in names}
    wanted = np.array([name in tracked for name in markers_of(trial)], dtype=bool)
    open_ = 100.0 * still_missing.mean(axis=0) * wanted
    if open_.any():
        worst = np.argsort(-open_, kind="stable")[: int((open_ > 0).sum())]
        shares = ", ".join(f"{labels[k]} {open_[k]:.1f} %" for k in worst)
        advice = f"gaps too long to fill stay empty, and so does what rests on them alone: {shares}."
        out.append(Finding("gaps left open", "file", float(open_[worst[0]]), None, "%", "review", advice))
    return out
