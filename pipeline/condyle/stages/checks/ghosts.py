"""Which short appearances of a marker between two gaps lie off where the rest of its segment carries it?"""

import numpy as np

from condyle.findings import Finding, moments, stretches
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.gaps import flashes_of
from condyle.mechanics.off_cluster import off_the_others
from condyle.stages.checks.judging import Limits
from condyle.stages.checks.recorded import Recorded

CHECK = "ghost point"


def ghosts(seen: Recorded, limits: Limits) -> FloatArray:
    """(T, M) [mm] how far such samples lie off, beyond the limit of the segment's kind; else 0."""
    off = np.zeros(seen.point.shape[:2])
    if seen.rig is None:
        return off
    shortest = max(1, round(limits["ghost_longest_s"].value * seen.rate_hz))
    visible = ~np.isnan(seen.point[..., 0])
    for s, (columns, model) in enumerate(zip(seen.rig.columns, seen.rig.models, strict=True)):
        limit = limits[f"ghost_off_{seen.kinds[s]}_review"].value
        for i, k in enumerate(columns.tolist() if len(columns) > 3 else []):
            flashes = flashes_of(visible[:, k], shortest)
            if flashes.any():
                away = off_the_others(seen.point[:, columns], model, i, flashes)
                off[flashes, k] = np.where(away > limit, away, 0.0)  # NaN, where the others do not tell, is no ghost
    return off


def ghost_findings(seen: Recorded, off: FloatArray, limits: Limits) -> list[Finding]:
    """One row per marker with ghosts."""
    out = []
    for k in np.flatnonzero((off > 0).any(axis=0)).tolist():
        s = next(s for s, columns in enumerate(seen.rig.columns if seen.rig else ()) if k in columns)
        found = off[:, k] > 0
        times = moments(np.flatnonzero(found).tolist(), seen.rate_hz)
        advice = (
            f"it flashes up between gaps at {times} s, off where the rest of its segment carries it: a reflection; "
            "delete these samples, or ask for the repair of spikes."
        )
        limit = limits[f"ghost_off_{seen.kinds[s]}_review"].value
        when = stretches(np.asarray(found), seen.rate_hz)
        out.append(Finding(CHECK, seen.labels[k], float(off[:, k].max()), limit, "mm", "review", advice, when))
    return out
