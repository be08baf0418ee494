"""Samples that leave their marker's path for a moment, below the size that already the file's reading names."""

import numpy as np

from condyle.findings import Finding, moments, stretches
from condyle.mechanics.arrays import BoolArray
from condyle.mechanics.spikes import spikes
from condyle.stages.checks.judging import Limits
from condyle.stages.checks.recorded import Recorded


def find_spikes(seen: Recorded, limits: Limits) -> BoolArray:
    """(T, M) True where a sample is a spike."""
    return spikes(seen.point, limits["spike_least"].value, limits["spike_times_usual"].value)


def spike_findings(seen: Recorded, found: BoolArray, limits: Limits) -> list[Finding]:
    """One row per marker with spikes."""
    out = []
    for k in np.flatnonzero(found.any(axis=0)):
        frames = np.flatnonzero(found[:, k])
        times = moments(frames.tolist(), seen.rate_hz)
        advice = f"samples off the path at {times} s; they can be taken out with repair: {{spikes: true}}."
        when = stretches(found[:, k], seen.rate_hz)
        out.append(Finding("spike", seen.labels[k], float(len(frames)), 0.0, "samples", "review", advice, when))
    return out
