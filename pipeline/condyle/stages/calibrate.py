"""calibrate: what the standing trial teaches: where landmarks and joint centres lie in each segment's own frame."""

from typing import Literal

import numpy as np
import xarray as xr
from pydantic import Field

from condyle.body_names import JOINT_SEGMENTS, JOINTS, LANDMARK_SEGMENT, SEGMENTS
from condyle.findings import Finding
from condyle.mechanics.arrays import BoolArray, FloatArray
from condyle.mechanics.body_angles import all_angles
from condyle.mechanics.calibration import body_frames
from condyle.mechanics.heading import heading_of
from condyle.mechanics.rigid_fit import is_collinear, rigid_fit
from condyle.mechanics.rotations import rotation_y
from condyle.mechanics.standing_body import BodyFrames
from condyle.mechanics.stillness import StillWindow, stillest_window
from condyle.stages.body import (
    column_of,
    landmarks_of,
    markers_of,
    shoulders_of,
    sizes_of,
    unknown_angles,
)
from condyle.stages.functional import functional_results
from condyle.stages.stage import Settings
from condyle.trial_data import labels_along, put


class CalibrateSettings(Settings):
    """How the standing trial is turned into segment frames."""

    hip_centre: Literal["harrington_2007", "bell_1990", "hara_2016", "functional"] = Field(
        "harrington_2007", description="hip centre: a regression, or functional from a calibration trial"
    )
    shank: Literal["malleoli", "epicondyles", "isb"] = Field(
        "malleoli", description="what gives the shank's right axis; isb makes it the malleolar line itself"
    )
    still_s: float = Field(
        0.5, gt=0, le=10, description="length of the stillest part of the standing trial that is used"
    )
    still_mm: float = Field(
        5.0,
        gt=0,
        le=100,
        description="spread of the markers (RMS standard deviation) beyond which nobody stood still (ours)",
    )
    asis_depth_mm: float | None = Field(
        None,
        ge=0,
        le=60,
        description="skin over the ASIS; with psis_depth_mm and the marker diameter it shortens the pelvis",
    )
    psis_depth_mm: float | None = Field(None, ge=0, le=60, description="skin over the PSIS")


def calibrate_trial(trial: xr.Dataset, settings: CalibrateSettings) -> tuple[xr.Dataset, list[Finding]]:
    """Frames, centres and calibrated points from the stillest part of the standing trial."""
    point = trial.variables["point"].values
    window = stillest_window(point, max(2, round(settings.still_s * trial.attrs["rate_hz"])))
    if window is None or window.spread > settings.still_mm:
        return trial, [_not_still(window, settings)]
    part = point[window.start : window.stop]
    with np.errstate(invalid="ignore"):
        seen = (~np.isnan(part)).sum(axis=0)
        mean = np.where(seen > 0, np.nansum(part, axis=0) / np.maximum(seen, 1), np.nan)
    names = markers_of(trial)
    landmarks = landmarks_of(mean, names)
    sizes = sizes_of(trial, settings.asis_depth_mm, settings.psis_depth_mm)
    functional, findings = functional_results(trial, mean, settings.hip_centre)
    body = body_frames(landmarks, sizes, settings.hip_centre, settings.shank, functional)
    findings += [
        Finding("calibration", s, None, None, "", "review", words + ".") for s, words in body.notes if s != "trunk"
    ]
    findings += [
        Finding("calibration", s, None, None, "", "pass", words + ".") for s, words in body.notes if s == "trunk"
    ]
    heading = _pelvis_heading(body)
    if heading is None:
        advice = "place both ASIS and the PSIS or the sacrum, and see that they are visible in the standing trial."
        return trial, [
            *findings,
            Finding("calibration", "pelvis", None, None, "", "reject", "no pelvis frame: " + advice),
        ]
    turn = rotation_y(-heading)
    body = BodyFrames(
        turn @ body.rotation,
        body.origin @ turn.T,
        body.joint @ turn.T,
        body.knee_unknown,
        body.ankle_unknown,
        body.notes,
    )
    mean = mean @ turn.T
    calibrated = _calibrated(trial, body, mean)
    fit, fit_findings = _fit_within(trial, part @ turn.T, calibrated)
    shoulders = shoulders_of(mean, names)
    angle = all_angles(body.rotation, body.joint, shoulders)
    unknown = np.array([body.knee_unknown, body.ankle_unknown]).T
    angle[unknown_angles(unknown)] = np.nan
    taught = put(
        trial,
        static_point=mean,
        calibrated_point=calibrated,
        static_pose=body.rotation,
        static_origin=body.origin,
        static_angle=angle,
        static_fit=fit,
        leg_length=_leg_length(body, sizes.leg_length),
        lateral_only=unknown,
    )
    return taught, [*findings, *fit_findings]


def _not_still(window: StillWindow | None, settings: CalibrateSettings) -> Finding:
    if window is None:
        advice = f"the standing trial is shorter than {settings.still_s:g} s or shows no marker; record it again."
        return Finding("stillness", "file", None, settings.still_mm, "mm", "reject", advice)
    advice = f"nobody stands still for {settings.still_s:g} s in this trial; record the standing trial again."
    return Finding("stillness", "file", window.spread, settings.still_mm, "mm", "reject", advice)


def _pelvis_heading(body: BodyFrames) -> float | None:
    heading = float(heading_of(body.rotation[SEGMENTS.index("pelvis")]))
    return None if np.isnan(heading) else heading


def _calibrated(trial: xr.Dataset, body: BodyFrames, mean: FloatArray) -> FloatArray:
    """Every point in the frames of the segments it belongs to: (segment, body_point, 3), else NaN."""
    names = labels_along(trial, "body_point")
    markers = markers_of(trial)
    position = np.concatenate([mean, body.joint])
    order = [*markers, *JOINTS]
    position = position[[order.index(n) for n in names]]
    local = np.einsum("sji,spj->spi", body.rotation, position[None] - body.origin[:, None])
    tracking = trial.variables["tracking"].values
    belongs = np.array([[_belongs(n, s) for n in names] for s in SEGMENTS]) | tracking
    return np.where(belongs[..., None], local, np.nan)


def _belongs(name: str, segment: str) -> bool:
    return LANDMARK_SEGMENT.get(name) == segment or segment in JOINT_SEGMENTS.get(name, ())


def _fit_within(trial: xr.Dataset, part: FloatArray, calibrated: FloatArray) -> tuple[FloatArray, list[Finding]]:
    """RMS of the tracking markers about their calibrated shape in the still part; collinear or small sets rejected."""
    fit, findings = np.full(len(SEGMENTS), np.nan), []
    markers, body_points = column_of(trial), labels_along(trial, "body_point")
    known: BoolArray = np.asarray(np.isfinite(calibrated).all(axis=-1))
    tracking = trial.variables["tracking"].values
    tracked = np.where((tracking & known)[..., None], calibrated, np.nan)
    narrow = is_collinear(tracked)
    own: dict[int, list[int]] = {}  # segment -> its tracking markers
    alike: dict[int, list[int]] = {}  # segments by the number of their markers, so that they are fitted in one go
    for i, segment in enumerate(SEGMENTS):
        found = tracking[i] & known[i]
        if not tracking[i].any() or not np.isfinite(calibrated[i]).any():
            continue
        if found.sum() < 3:
            lost = ", ".join(body_points[k] for k in np.flatnonzero(tracking[i] & ~known[i]))
            advice = f"only {found.sum()} tracking points in the standing trial, three are needed; not seen: {lost}."
            findings.append(Finding("tracking points", segment, float(found.sum()), 3.0, "1", "reject", advice))
            continue
        if narrow[i]:
            advice = "the tracking points lie on one line, so the turn about it is unknown; move one of them sideways."
            findings.append(Finding("collinear cluster", segment, None, None, "", "reject", advice))
            continue
        own[i] = [k for k in np.flatnonzero(found).tolist() if body_points[k] in markers]
        if len(own[i]) >= 3:
            alike.setdefault(len(own[i]), []).append(i)
    for several in alike.values():
        model = np.stack([calibrated[i][own[i]] for i in several])
        seen = np.stack([part[:, [markers[body_points[k]] for k in own[i]]] for i in several], axis=1)
        fit[several] = np.sqrt(np.nanmean(rigid_fit(model, seen).rms ** 2, axis=0))
    return fit, findings


def _leg_length(body: BodyFrames, measured: tuple[float | None, float | None]) -> FloatArray:
    out = np.empty(2)
    for s, tail in enumerate(("_l", "_r")):
        hip, knee, ankle = (body.joint[JOINTS.index(f"{n}{tail}")] for n in ("hip", "knee", "ankle"))
        found = float(np.linalg.norm(hip - knee) + np.linalg.norm(knee - ankle))
        out[s] = found if measured[s] is None else float(measured[s] or 0.0)
    return out
