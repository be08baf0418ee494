"""Hip centres and knee axes from calibration trials, in the frame of the standing trial."""

import numpy as np
import xarray as xr

from condyle.findings import Finding
from condyle.mechanics.arrays import FloatArray, unit
from condyle.mechanics.functional import functional_axis, functional_centre
from condyle.mechanics.rigid_fit import RigidFit, rigid_fit
from condyle.stages.body import markers_of, tracking_names
from condyle.vocabulary import FUNCTIONAL


def functional_results(
    trial: xr.Dataset, static_point: FloatArray, hip_centre: str
) -> tuple[dict[str, FloatArray], list[Finding]]:
    """What each calibration trial gives: ``hip_r`` a position, ``knee_axis_r`` a direction to the right.

    The clusters are followed with their shape in the standing trial, so that results come out where the person stood.
    """
    out: dict[str, FloatArray] = {}
    findings: list[Finding] = []
    for name in trial.data_vars:
        what = str(name).removeprefix(FUNCTIONAL)
        if what == str(name) or (what.startswith("hip") and hip_centre != "functional"):
            continue
        tail = what[-2:]
        upper, lower = ("pelvis", f"thigh{tail}") if what.startswith("hip") else (f"thigh{tail}", f"shank{tail}")
        above = _followed(trial, upper, static_point, trial[name].values)
        below = _followed(trial, lower, static_point, trial[name].values)
        if above is None or below is None:
            advice = f"the calibration trial for {what} lacks three tracking markers of {upper} or {lower}; left out."
            findings.append(Finding("functional calibration", what, None, None, "", "review", advice))
            continue
        poses = (above.rotation, above.translation, below.rotation, below.translation)
        if what.startswith("hip"):
            centre = functional_centre(*poses)
            out[what] = 0.5 * (centre.in_parent + centre.in_child)
            spread, unit_, words = float(centre.rms), "mm", "distance between the centre as pelvis and thigh carry it"
        else:
            axis = functional_axis(*poses)
            direction = unit(axis.direction_in_parent + axis.direction_in_child)
            out[what] = direction * np.sign(direction @ _to_the_right(trial, static_point))
            spread, unit_, words = float(axis.rms), "mm", "distance between the axis as thigh and shank carry it"
        if np.isnan(out[what]).any():
            del out[what]
            advice = (
                f"the joint moves too little in the calibration trial for {what}; move it through its range; left out."
            )
            findings.append(Finding("functional calibration", what, None, None, "", "review", advice))
        else:
            findings.append(Finding("functional calibration", what, spread, None, unit_, "pass", f"{words}."))
    return out, findings


def _followed(trial: xr.Dataset, segment: str, static_point: FloatArray, point: FloatArray) -> RigidFit | None:
    markers = markers_of(trial)
    columns = [markers.index(n) for n in tracking_names(trial)[segment] if n in markers]
    columns = [c for c in columns if not np.isnan(static_point[c]).any()]
    return rigid_fit(static_point[columns], point[:, columns]) if len(columns) >= 3 else None


def _to_the_right(trial: xr.Dataset, static_point: FloatArray) -> FloatArray:
    markers = markers_of(trial)
    across: FloatArray = static_point[markers.index("asis_r")] - static_point[markers.index("asis_l")]
    return across
