"""filter: zero-lag Butterworth low-pass of every marker, each run of valid samples by itself."""

from typing import Annotated, Literal

import numpy as np
import xarray as xr
from pydantic import Field

from condyle.findings import Finding
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.butterworth import design_frequency, zero_lag_lowpass
from condyle.mechanics.residual_analysis import residual_cutoff
from condyle.stages.stage import Settings
from condyle.trial_data import noted, put

PositiveHz = Annotated[float, Field(gt=0, le=1000)]


class FilterSettings(Settings):
    """Cutoff, order and correction; they are written into the results."""

    cutoff_hz: PositiveHz | Literal["residual"] = Field(
        6.0, description="frequency of half power of the whole filter, or residual for residual analysis of each trial"
    )
    order: int = Field(
        4,
        ge=2,
        le=8,
        multiple_of=2,
        description="order of the whole filter; half of it per pass",
        json_schema_extra={"unit": "1"},
    )
    fallback_hz: float = Field(
        6.0, gt=0, le=1000, description="cutoff where residual analysis offers none (6 Hz is usual for squats)"
    )


def filter_trial(trial: xr.Dataset, settings: FilterSettings) -> tuple[xr.Dataset, list[Finding]]:
    """The trial with filtered markers; samples in runs too short to filter become missing and are reported."""
    point = trial.variables["point"].values
    rate = float(trial.attrs["rate_hz"])
    findings: list[Finding] = []
    if isinstance(settings.cutoff_hz, str):
        cutoff, findings = _by_residual_analysis(trial, point, rate, settings.fallback_hz)
    else:
        cutoff = float(settings.cutoff_hz)
    if cutoff >= rate / 2:
        advice = f"a cutoff of {cutoff:g} Hz needs more than {2 * cutoff:g} samples per second; lower cutoff_hz."
        return trial, [Finding("filter", "file", rate, 2 * cutoff, "Hz", "reject", advice)]
    smooth, left_out = zero_lag_lowpass(point, rate, cutoff, settings.order)
    lost = np.asarray(left_out.any(axis=-1))
    if lost.any() and np.isnan(smooth).all():
        advice = f"the trial ({len(point)} frames) is shorter than the filter needs; record longer or leave it out."
        return trial, [Finding("filter", "file", float(len(point)), None, "frames", "reject", advice)]
    labels = trial.variables["label"].values
    for k in np.flatnonzero(lost.any(axis=0)):
        advice = "runs between gaps too short to be filtered were left out."
        findings.append(
            Finding("short runs left out", str(labels[k]), float(lost[:, k].sum()), None, "frames", "pass", advice)
        )
    used = {
        "filter_cutoff_hz": cutoff,
        "filter_order": settings.order,
        "filter_design_hz": float(design_frequency(cutoff, rate, settings.order // 2, 2)),
        "filter_padding": "odd reflection of each run's ends",
    }
    return noted(put(trial, point=smooth), **used), findings


def _by_residual_analysis(
    trial: xr.Dataset, point: FloatArray, rate: float, fallback: float
) -> tuple[float, list[Finding]]:
    """The median over markers of the cutoff that residual analysis offers for their vertical course."""
    offered = residual_cutoff(point[..., 1], rate).cutoff_hz
    found = offered[~np.isnan(offered)]
    if len(found) == 0:
        advice = f"residual analysis offers no cutoff for this trial; {fallback:g} Hz was used."
        return fallback, [Finding("cutoff by residual analysis", "file", None, None, "Hz", "review", advice)]
    cutoff = float(np.median(found))
    advice = f"median over {len(found)} of {len(offered)} markers, from {found.min():.2g} to {found.max():.2g} Hz."
    return cutoff, [Finding("cutoff by residual analysis", "file", cutoff, None, "Hz", "pass", advice)]
