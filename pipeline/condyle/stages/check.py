"""check: can this trial be trusted before anything is computed from it? One question a file, in `checks/`."""

import numpy as np
import xarray as xr

from condyle.body_names import SEGMENTS
from condyle.files.reading_limits import limits_of_history
from condyle.files.samples import leaps
from condyle.findings import Finding
from condyle.stages.body import tracking_names
from condyle.stages.checks.axes import up_in_movement
from condyle.stages.checks.ghosts import CHECK as GHOST
from condyle.stages.checks.ghosts import ghost_findings, ghosts
from condyle.stages.checks.judging import QualityLimits
from condyle.stages.checks.leaps import leap_findings
from condyle.stages.checks.measured_by_hand import measured_findings
from condyle.stages.checks.mirrored import mirror_finding, mirrored
from condyle.stages.checks.off_segment import off_segment_findings
from condyle.stages.checks.recorded import recorded
from condyle.stages.checks.rigidity import rigidity_findings
from condyle.stages.checks.segment_leaps import LEAPING_SEGMENTS
from condyle.stages.checks.signal import lost_frames, signal_findings
from condyle.stages.checks.spikes import find_spikes, spike_findings
from condyle.stages.checks.standing import standing_findings
from condyle.stages.checks.swaps import find_swaps, relabelled, swap_findings
from condyle.stages.checks.traces import as_read
from condyle.stages.checks.visibility import visibility_findings
from condyle.trial_data import put

REPAIRS_SWAPS = "repair_swaps"  # attribute: the pipeline exchanges markers back, so that here they do not end the trial
REJECTED_STANDING = (
    "rejected_standing"  # attribute: trunk, shoulders, if the standing trial's were: they measure nothing
)


class CheckSettings(QualityLimits):
    """Limits of names, visibility, rigidity and signal."""


def check_trial(trial: xr.Dataset, settings: CheckSettings) -> tuple[xr.Dataset, list[Finding]]:
    """Markers seen, under their own names, in the shape of the standing trial, with a sound signal."""
    limits = settings.in_force()
    seen = recorded(trial)
    if seen.point.shape[0] == 0 or np.isnan(seen.point).all():
        advice = "no frame shows a valid marker of the marker set; check the labels and the file."
        return put(trial), [Finding("markers seen", "file", 0.0, None, "1", "reject", advice)]
    trial = put(trial, **as_read(seen))
    off = ghosts(seen, limits)
    findings = ghost_findings(seen, off, limits)
    flashed = {f.subject for f in findings}  # with their times; else their number alone would be told
    findings += [f for f in visibility_findings(seen, limits) if f.check != GHOST or f.subject not in flashed]
    read_by = limits_of_history(str(trial.attrs.get("history", "[]")))
    named = leaps(seen.point, seen.rate_hz, read_by) > 0  # each has its row since the file was read
    named |= off > 0
    spikes = find_spikes(seen, limits) & ~named
    findings += spike_findings(seen, spikes, limits)
    lost = lost_frames(seen, limits)
    more, told = signal_findings(seen, lost, limits)
    findings += more
    vertical = str(trial.attrs.get("vertical", "+Y"))
    if seen.rig is None:  # a movement trial that no standing trial taught has no shape to keep
        standing = []
        if trial.attrs.get("task") == "static":
            standing = [*standing_findings(seen, limits, vertical), *measured_findings(seen, trial.attrs, limits)]
        return put(trial).assign_attrs(told), [*findings, *standing]
    if (mirror := mirrored(seen, limits)) is not None:
        return put(trial).assign_attrs(told), [*findings, mirror_finding(mirror, limits)]
    uncalibrated = _uncalibrated(trial)  # a leg without a frame tells nothing of up
    upright = trial.attrs.get("task", "other") != "other"
    up = None if uncalibrated else up_in_movement(seen, limits, vertical, upright)
    findings += [up] if up else []
    if up and up.verdict == "reject":
        return put(trial).assign_attrs(told), findings
    swaps = find_swaps(seen, limits)
    findings += swap_findings(seen, swaps, bool(trial.attrs.get(REPAIRS_SWAPS, 0)))
    if swaps:  # what is wrong besides
        seen = seen.with_points(relabelled(seen.point, swaps))
    leapt = leap_findings(seen, spikes | named, lost, limits)
    findings += leapt
    told[LEAPING_SEGMENTS] = " ".join(f.subject for f in leapt if f.check == "segment leaps")
    findings += [*uncalibrated, *off_segment_findings(seen, limits), *rigidity_findings(seen, limits)]
    return put(trial).assign_attrs(told), findings


def _uncalibrated(trial: xr.Dataset) -> list[Finding]:
    """A leg that the standing trial could not calibrate, or that the marker set does not track, cannot be measured."""
    out = []
    tracked = tracking_names(trial)
    empty = np.isnan(trial.variables["calibrated_point"].values).all(axis=(1, 2))
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
    for part in str(trial.attrs.get(REJECTED_STANDING, "")).split():
        advice = "rejected in the standing trial, so nothing is given here that rests on its markers; see the findings there."
        out.append(Finding("calibrated", part, None, None, "", "reject", advice))
    return out
