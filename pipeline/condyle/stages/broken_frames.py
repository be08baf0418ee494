"""In which frames have a segment's markers left its shape so far that nothing may be taken from it there?"""

import numpy as np
import xarray as xr
from scipy.ndimage import binary_propagation

from condyle.body_names import SEGMENTS
from condyle.findings import Finding
from condyle.mechanics.arrays import BoolArray
from condyle.mechanics.gaps import runs_of
from condyle.mechanics.rigid_fit import RigidFit
from condyle.stages.checks.judging import Limits

_LISTED = 4


class BrokenFrames:
    """Empties poses that do not hold, segment by segment, and keeps what it emptied for the rows about it."""

    def __init__(self, trial: xr.Dataset, limits: Limits) -> None:
        self.kind = [str(v) for v in trial.variables["segment_kind"].values.tolist()]
        self.time = trial.variables["time"].values
        self.limits = limits
        self.found: dict[str, tuple[BoolArray, float, float]] = {}  # frames, worst fit, limit

    def __call__(self, segment: str, fit: RigidFit) -> RigidFit:
        """The fit with NaN in the frames that are broken; the residual stays, for whoever looks."""
        known = np.isfinite(fit.rms)
        if not known.any():
            return fit
        usual = float(np.median(fit.rms[known]))
        limit = self.limits[f"fit_{self.kind[SEGMENTS.index(segment)]}_frame"].value
        limit = max(limit, self.limits["fit_frame_times_usual"].value * usual)
        with np.errstate(invalid="ignore"):
            broken = fit.rms > limit
            if not broken.any():
                return fit
            # The filter smears what is broken over the frames beside it, as far as the fit is not the usual one again.
            broken = binary_propagation(broken, mask=fit.rms > self.limits["fit_frame_settled"].value * usual)
        self.found[segment] = broken, float(fit.rms[broken].max()), limit
        gone = broken[:, None]
        return fit._replace(
            rotation=np.where(gone[..., None], np.nan, fit.rotation),
            translation=np.where(gone, np.nan, fit.translation),
        )

    def findings(self) -> list[Finding]:
        """One row per segment."""
        out = []
        for segment, (broken, worst, limit) in self.found.items():
            runs = runs_of(broken)
            stretches = [f"{self.time[a]:.2f} to {self.time[b - 1]:.2f}" for a, b in runs[:_LISTED]]
            times = ", ".join(stretches) + (" ..." if len(runs) > _LISTED else "")
            advice = (
                f"in {int(broken.sum())} frames, {times} s, the markers are not in the shape of the standing trial: what rests "
                "on this segment is empty there. Look for a marker that leaps, and leave it out or mend its label."
            )
            when = tuple((float(self.time[a]), float(self.time[b - 1])) for a, b in runs)
            out.append(Finding("frames without a sound fit", segment, worst, limit, "mm", "review", advice, when))
        return out
