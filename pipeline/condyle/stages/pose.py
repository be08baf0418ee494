"""pose: where every segment is, where the bouts are, and which way the participant faces."""

import numpy as np
import xarray as xr
from pydantic import Field

from condyle.body_names import SEGMENTS
from condyle.findings import Finding
from condyle.mechanics.arrays import FloatArray, transposed
from condyle.mechanics.bouts import Bout, find_bouts
from condyle.mechanics.heading import wrapped
from condyle.mechanics.joint_angles import cardan_zxy
from condyle.mechanics.rotations import rotation_y
from condyle.stages.body import given_frames, place_segments, used_frames
from condyle.stages.broken_frames import BrokenFrames
from condyle.stages.checks.judging import QualityLimits
from condyle.stages.feet import feet_of
from condyle.stages.headings import all_face_away, headings_of, off_the_axis, uncertain_headings
from condyle.stages.pressure import pressure_under_the_foot
from condyle.trial_data import noted, put


class PoseSettings(QualityLimits):
    """How bouts are told apart and when a heading is called uncertain."""

    still_mm_per_s: float = Field(
        60.0, gt=0, le=5000, description="median speed below which a foot may be the stance foot (ours)"
    )
    least_flexion_deg: float = Field(15.0, gt=0, lt=120, description="knee flexion gained in a squat, at least (ours)")
    least_drop_mm: float = Field(20.0, ge=0, le=2000, description="drop of the pelvis in a squat, at least (ours)")
    stance_s: float = Field(0.5, gt=0, le=5, description="length of the stance before a bout's first repetition")
    heading_apart_deg: float = Field(
        8.0, gt=0, le=180, description="pelvis turned on the stance foot beyond which the heading is uncertain (ours)"
    )


def pose_trial(trial: xr.Dataset, settings: PoseSettings) -> tuple[xr.Dataset, list[Finding]]:
    """Fit every segment, find the bouts, and turn points and poses into the participant frame once."""
    point = trial.variables["point"].values
    broken = BrokenFrames(trial, settings.in_force())
    fits, joint, hung = place_segments(trial, point, sound=broken)
    frames = point.shape[0]
    pose = np.full((frames, len(SEGMENTS), 3, 3), np.nan)
    origin = np.full((frames, len(SEGMENTS), 3), np.nan)
    rms = np.full((frames, len(SEGMENTS)), np.nan)
    for segment, fit in fits.items():
        i = SEGMENTS.index(segment)
        pose[:, i], origin[:, i], rms[:, i] = fit.rotation, fit.translation, fit.rms
    pelvis = pose[:, SEGMENTS.index("pelvis")]
    if np.isnan(pelvis).all():
        advice = (
            "no frame shows three pelvis points, so no angle of hip or pelvis can be had; check the pelvis markers."
        )
        return trial, [Finding("pelvis seen", "pelvis", 0.0, 3.0, "1", "reject", advice)]
    bouts = _bouts(trial, settings, point, pose, origin, joint)
    headings = headings_of(trial, bouts, pose)
    away, axis_findings = off_the_axis(trial, headings, settings.heading_apart_deg, settings.in_force())
    if all_face_away(away):
        return trial, [*broken.findings(), *axis_findings]
    turn = rotation_y(-headings.trial)
    own = headings.chosen - headings.trial
    starts = np.array([b.start for b in bouts[1:]], dtype=int)
    which = np.searchsorted(starts, np.arange(frames), side="right")
    time = trial.variables["time"].values
    sign = np.array([-1.0 if b.side == "left" else 1.0 for b in bouts])
    over_foot = wrapped(headings.at_start - headings.by_foot) * sign
    pressure = (
        {"centre_of_pressure": trial.variables["centre_of_pressure"].values @ turn.T}
        if "centre_of_pressure" in trial
        else {}
    )
    out = put(
        trial,
        {"bout": np.arange(1, len(bouts) + 1)},
        point=_turned(point, turn),
        pose=transposed(_turned(transposed(pose), turn)),
        origin=_turned(origin, turn),
        fit_rms=rms,
        hung=hung,
        joint_centre=_turned(joint, turn),
        heading_deg=np.rad2deg(wrapped(own))[which] if bouts else np.zeros(frames),
        bout_side=np.array([b.side for b in bouts], dtype="U5"),
        bout_faced=~away,
        bout_start_s=time[[b.start for b in bouts]],
        bout_end_s=time[[b.stop - 1 for b in bouts]],
        stance_start_s=time[[b.stance_start for b in bouts]],
        stance_end_s=time[[b.stance_stop - 1 for b in bouts]],
        heading_at_start=np.rad2deg(wrapped(headings.at_start - headings.trial)),
        heading_by_foot=np.rad2deg(wrapped(headings.by_foot - headings.trial)),
        pelvis_over_foot=np.rad2deg(over_foot),
        **pressure,
    )
    uncertain = uncertain_headings(np.rad2deg(over_foot), settings.heading_apart_deg)
    out = noted(out, foot_still_mm_per_s=settings.still_mm_per_s)
    out, unlike = pressure_under_the_foot(out, settings.in_force())
    return out, [*broken.findings(), *axis_findings, *uncertain, *unlike]


def _turned(vectors: FloatArray, turn: FloatArray) -> FloatArray:
    """Vectors (..., 3) turned by one rotation, in one large product: many times faster than one a frame."""
    flat: FloatArray = vectors.reshape(-1, 3) @ turn.T
    return flat.reshape(vectors.shape)


def _bouts(
    trial: xr.Dataset,
    settings: PoseSettings,
    point: FloatArray,
    pose: FloatArray,
    origin: FloatArray,
    joint: FloatArray,
) -> list[Bout]:
    if trial.attrs.get("task", "other") in ("other", "static"):
        return []
    thigh, shank = ([SEGMENTS.index(f"{n}{t}") for t in ("_l", "_r")] for n in ("thigh", "shank"))
    knee = np.swapaxes(pose[:, thigh], -1, -2) @ pose[:, shank]
    flexion = -np.rad2deg(cardan_zxy(knee)[..., 0])
    feet = feet_of(trial, point, pose, origin, joint)
    return find_bouts(
        trial.variables["time"].values,
        flexion,
        feet.level_speed,
        feet.height,
        origin[:, SEGMENTS.index("pelvis"), 1],
        least_flexion_deg=settings.least_flexion_deg,
        least_drop_mm=settings.least_drop_mm,
        still_mm_per_s=settings.still_mm_per_s,
        stance_s=settings.stance_s,
        use=used_frames(trial),
        given=given_frames(trial),
        forefoot_speed=feet.forefoot_speed,
    )
