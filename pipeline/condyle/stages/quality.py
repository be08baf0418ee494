"""quality: the questions that need angles or squats: was anything moved since standing, what happens at depth?"""

import numpy as np
import xarray as xr

from condyle.body_names import SIDES
from condyle.findings import Finding
from condyle.stages.checks.bottoms import bottom_findings
from condyle.stages.checks.judging import Limits, QualityLimits
from condyle.stages.checks.knee import knee_axis_findings
from condyle.stages.checks.moved_during import drift_findings
from condyle.stages.checks.near_standing import joint_findings, posed_sides, shape_findings
from condyle.stages.checks.recorded import recorded
from condyle.stages.checks.segment_leaps import LEAPING_SEGMENTS
from condyle.trial_data import put


class QualitySettings(QualityLimits):
    """Limits of what is judged near standing, at depth and at the bottom."""


def quality_trial(trial: xr.Dataset, settings: QualitySettings) -> tuple[xr.Dataset, list[Finding]]:
    """Clusters and joints in frames like the standing trial, skin at depth, the knee's axis, gaps at bottoms, the filter."""
    limits = settings.in_force()
    seen = recorded(trial)
    stance = _stance(trial)
    posed = posed_sides(trial, seen, limits)
    since = [*shape_findings(seen, posed, stance, limits), *joint_findings(seen, posed, limits)]
    findings = [
        *since,
        *_another_body(since, limits),
        *drift_findings(seen, posed, stance, limits, str(trial.attrs.get(LEAPING_SEGMENTS, "")).split()),
        *knee_axis_findings(trial, stance or list(SIDES), limits),
        *bottom_findings(trial, seen, limits),
        *_cutoff(trial, limits),
    ]
    return put(trial), findings


def _stance(trial: xr.Dataset) -> list[str]:
    """The sides that stand in a bout."""
    found = set(trial.variables["bout_side"].values.tolist()) if "bout_side" in trial else set()
    return [side for side in SIDES if side in found or "both" in found]


def _another_body(since: list[Finding], limits: Limits) -> list[Finding]:
    """A plate keeps its shape on whoever wears it; landmarks and joints of several segments elsewhere tell another body."""
    checks = (
        "moved since",
        "cluster against",
        "hip centre, standing",
        "knee centre, standing",
        "ankle centre, standing",
    )
    where = sorted({f.subject for f in since if f.check.startswith(checks)})
    limit = limits["elsewhere_reject"].value
    if len(where) <= limit:
        return []
    advice = (
        f"{', '.join(where)} are all elsewhere than in the standing trial although the joints stand alike: it is another "
        "person's, or of another day; name the right one with static: in the session file."
    )
    return [Finding("standing trial of another body", "file", float(len(where)), limit, "1", "reject", advice)]


def _cutoff(trial: xr.Dataset, limits: Limits) -> list[Finding]:
    """The filter against what residual analysis of the unfiltered trial offered."""
    used, offered = (trial.attrs.get(f"{name}_cutoff_hz") for name in ("filter", "residual"))
    if used is None or offered is None or not np.isfinite(offered):
        return []
    apart = abs(float(used) - float(offered))
    limit = limits["cutoff_apart_review"].value
    if apart <= limit:
        return []
    way = "smooths more" if used < offered else "lets more noise through"
    advice = (
        f"residual analysis offers {offered:.1f} Hz for this trial; the filter at {used:g} Hz {way} than it advises."
    )
    return [Finding("filter cutoff", "file", apart, limit, "Hz", "review", advice)]
