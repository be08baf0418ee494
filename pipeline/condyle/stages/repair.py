"""repair: what was found and may be put right is put right only on request, and every sample of it is recorded."""

import numpy as np
import xarray as xr
from pydantic import Field

from condyle.findings import Finding, stretches
from condyle.stages.checks.exchanges import Swap
from condyle.stages.checks.ghosts import ghosts
from condyle.stages.checks.judging import QualityLimits
from condyle.stages.checks.recorded import Recorded, recorded
from condyle.stages.checks.spikes import find_spikes
from condyle.stages.checks.swaps import during, find_swaps, relabelled, swap_findings, what_and_when
from condyle.trial_data import put


class RepairSettings(QualityLimits):
    """What may be repaired; nothing is unless it stands here."""

    swaps: bool = Field(
        False, description="exchange markers back where another order of names makes the body whole again"
    )
    spikes: bool = Field(
        False,
        description="take out samples that leave their marker's path for a moment, and ghosts between gaps; fill bridges them",
    )


def repair_trial(trial: xr.Dataset, settings: RepairSettings) -> tuple[xr.Dataset, list[Finding]]:
    """The trial with exchanged markers under their own names and without spikes, as far as it was asked for."""
    if not (settings.swaps or settings.spikes) or not trial.sizes.get("time", 0):
        return put(trial), []
    limits = settings.in_force()
    seen = recorded(trial)
    findings: list[Finding] = []
    done: list[str] = []
    if settings.swaps and seen.rig is not None:
        swaps = find_swaps(seen, limits)
        if swaps:
            seen = seen.with_points(relabelled(seen.point, swaps))
            findings += [_exchanged(seen, swap) for swap in swaps]
            findings += swap_findings(seen, find_swaps(seen, limits), repair=False)
            done += [f.advice for f in findings if f.verdict != "reject"]
    point = seen.point
    if settings.spikes:
        found = find_spikes(seen, limits) | (ghosts(seen, limits) > 0)
        if found.any():
            point = point.copy()
            point[found] = np.nan
            for k in np.flatnonzero(found.any(axis=0)):
                count = int(found[:, k].sum())
                advice = f"{count} samples of {seen.labels[k]} that left its path were taken out."
                when, label = stretches(found[:, k], seen.rate_hz), seen.labels[k]
                findings.append(
                    Finding("repaired: spikes", label, float(count), None, "samples", "review", advice, when)
                )
                done.append(advice)
    out = put(trial, point=point)
    return (out.assign_attrs(repairs=" ".join(done)) if done else out), findings


def _exchanged(seen: Recorded, swap: Swap) -> Finding:
    advice = f"exchanged back: {what_and_when(seen, swap)}."
    share = 100.0 * (swap.stop - swap.start) / max(1, len(seen.point))
    when = (during(seen, swap),)
    return Finding("repaired: exchanged markers", "file", share, None, "%", "review", advice, when)
