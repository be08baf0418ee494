"""What was hidden at the bottom of the squats, where every value is read?"""

import numpy as np
import xarray as xr

from condyle.body_names import SEGMENTS
from condyle.findings import Finding
from condyle.stages.checks.judging import Limits
from condyle.stages.checks.recorded import Recorded


def bottom_findings(trial: xr.Dataset, seen: Recorded, limits: Limits) -> list[Finding]:
    """One row per segment with markers hidden around bottoms, and whether the rest still gave its pose."""
    if "repetition_bottom" not in trial or not trial.sizes.get("repetition", 0):
        return []
    bottoms = trial.variables["repetition_bottom"].values
    numbers = trial.variables["repetition_number"].values
    hidden = (trial.variables["filled"].values > 0) | np.isnan(trial.variables["point"].values[..., 0])
    ever = ~hidden.all(axis=0)  # a marker that is never seen has a row of its own, and hides at no bottom
    half = max(1, round(limits["bottom_half"].value * seen.rate_hz))
    around = np.clip(bottoms[:, None] + np.arange(-half, half + 1), 0, len(hidden) - 1)
    gone = hidden[around].any(axis=1)  # (repetition, marker)
    out = []
    for s, columns in enumerate(seen.tracking):
        markers = [c for c in columns if ever[c] and gone[:, c].any()]
        if not markers:
            continue
        lost = gone[:, columns].sum(axis=1)
        which = np.flatnonzero(gone[:, markers].any(axis=1))
        left = len(columns) - int(lost.max())
        numbered = ", ".join(str(n) for n in dict.fromkeys(numbers[which].tolist()))
        value = float(len(np.unique(numbers[which])))
        advice = (
            f"hidden at the bottom of repetitions {numbered}: {seen.named(markers)}; {left} of {len(columns)} markers of the "
            "segment were left at worst."
        )
        few = left < 3
        out.append(
            Finding("hidden at the bottom", SEGMENTS[s], value, 0.0, "repetitions", "review" if few else "pass", advice)
        )
    return [*out, *_pelvis(trial, bottoms, numbers)]


def _pelvis(trial: xr.Dataset, bottoms: np.ndarray, numbers: np.ndarray) -> list[Finding]:
    """The rung of the pelvis ladder on which bottoms were read."""
    rung = trial.variables["pelvis_rung"].values[bottoms]
    out = []
    words = {2: "with the hip centres carried by the thighs", 3: "not at all"}
    for code, how in words.items():
        which = [str(n) for n in dict.fromkeys(numbers[rung == code].tolist())]
        if which:
            error = trial.attrs.get(f"pelvis_repair_error_deg_{code}")
            tested = "" if error is None else f"; hiding the same markers elsewhere turns it by {error:.1f} degrees"
            advice = f"pelvis not seen at the bottom of repetitions {', '.join(which)}: rebuilt {how}{tested}."
            out.append(Finding("pelvis at the bottom", "file", float(len(which)), 0.0, "repetitions", "review", advice))
    return out
