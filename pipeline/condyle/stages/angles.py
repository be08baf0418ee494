"""angles: joint and segment angles of every frame, both sides, each bout by its own heading."""

import numpy as np
import xarray as xr
from pydantic import Field

from condyle.body_names import CONTRACT_ANGLES, JOINT_ANGLES, JOINTS, SIDES
from condyle.files.limits import load_limits
from condyle.findings import Finding, Verdict
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.body_angles import all_angles
from condyle.mechanics.heading import continued, mean_direction, near
from condyle.mechanics.projection import readable, shown_share
from condyle.mechanics.rotations import rotation_y
from condyle.stages.body import markers_of, shoulders_of, unknown_angles
from condyle.stages.knee_axis_correction import knee_axes_turned
from condyle.stages.stage import Settings
from condyle.trial_data import put

# first angles in the participant frame: where somebody faces away from straight ahead they pass half a turn
_TURNS = ("pelvis_rotation", "trunk_rotation", "thigh_axial_rotation", "shoulder_line_rotation")
_MIDDLE_ANGLES = ("hip_adduction", "knee_adduction", "ankle_inversion", "pelvis_obliquity", "trunk_lean")


class AnglesSettings(Settings):
    """When two angles of one joint can no longer be told apart."""

    near_lock_deg: float = Field(
        75.0, gt=0, lt=90, description="middle angle beyond which the first and third blur (near gimbal lock; ours)"
    )
    cross_talk: bool = Field(
        False, description="turn each thigh about its long axis so that knee adduction varies least with flexion"
    )
    fppa_least_shown_percent: float | None = Field(
        None,
        ge=0,
        le=100,
        description="of a thigh's or shank's length the frontal plane must show this much, else there is no FPPA "
        "(without it shown_least_percent of configs/findings.yaml)",
    )


def angles_trial(trial: xr.Dataset, settings: AnglesSettings) -> tuple[xr.Dataset, list[Finding]]:
    """Every angle of the vocabulary from poses and joint centres; what the marker set cannot give stays empty."""
    corrected: list[Finding] = []
    if settings.cross_talk and trial.attrs.get("task") != "static":
        trial, corrected = knee_axes_turned(trial)
    pose, joint, point = (
        trial.variables["pose"].values,
        trial.variables["joint_centre"].values,
        trial.variables["point"].values,
    )
    heading = np.deg2rad(trial.variables["heading_deg"].values)
    shoulders = shoulders_of(point, markers_of(trial))
    if heading.any():
        turn = rotation_y(-heading)
        pose = turn[:, None] @ pose
        joint = joint @ np.swapaxes(turn, -1, -2)
        shoulders = None if shoulders is None else shoulders @ np.swapaxes(turn, -1, -2)
    angle = all_angles(pose, joint, shoulders)
    _without_whole_turns(trial, angle)
    angle[:, unknown_angles(trial.variables["lateral_only"].values)] = np.nan
    absent = _absent(trial, angle)  # by the markers: before values are withheld for how the leg stands
    _without_unreadable_fppa(angle, joint, settings.fppa_least_shown_percent)
    return put(trial, angle=angle), [*corrected, *_near_lock(angle, settings.near_lock_deg), *absent]


def _without_whole_turns(trial: xr.Dataset, angle: FloatArray) -> None:
    """Carry the turns about the vertical on in place, so that none jumps by 360 degrees: through a bout from its standing.

    Bouts stand within half a turn of the first one. A trial without bouts is followed from frame to frame.
    """
    columns = [JOINT_ANGLES.index(n) for n in _TURNS]
    if not trial.sizes.get("bout", 0):
        angle[:, :, columns] = continued(angle[:, :, columns])
        return
    time = trial.variables["time"].values
    starts, stance, stance_ends = (
        np.searchsorted(time, trial.variables[name].values - 0.5 / float(trial.attrs["rate_hz"])).tolist()
        for name in ("bout_start_s", "stance_start_s", "stance_end_s")
    )
    first: FloatArray | None = None
    for a, b, low, high in zip([0, *starts[1:]], [*starts[1:], len(time)], stance, stance_ends, strict=True):
        part = angle[a:b][:, :, columns]
        stood = mean_direction(angle[low : high + 1][:, :, columns])
        stood = np.where(np.isnan(stood), mean_direction(part), stood)
        stood = stood if first is None else near(stood, first)
        first = stood if first is None else np.where(np.isnan(first), stood, first)
        angle[a:b, :, columns] = near(part, stood)


def _without_unreadable_fppa(angle: FloatArray, joint: FloatArray, least_percent: float | None) -> None:
    """Blank FPPA in place where a thigh or shank points so much forward that its picture has no direction."""
    least = load_limits("findings")["shown_least_percent"].value if least_percent is None else least_percent
    columns = [JOINT_ANGLES.index(n) for n in ("fppa", "fppa_lateral_markers")]
    for s, side in enumerate(SIDES):
        hip, knee, ankle = (joint[:, JOINTS.index(f"{n}_{side[0]}")] for n in ("hip", "knee", "ankle"))
        shares = shown_share(hip, knee), shown_share(knee, ankle)
        for k in columns:
            angle[:, s, k] = readable(angle[:, s, k], *shares, least / 100.0)


def _near_lock(angle: FloatArray, limit: float) -> list[Finding]:
    columns = [JOINT_ANGLES.index(n) for n in _MIDDLE_ANGLES]
    worst = np.nanmax(np.abs(angle[:, :, columns]), axis=0, initial=0.0)
    advice = "the first and third angle of this joint blur here; read them together, not apart."
    return [
        Finding(
            "near gimbal lock", f"{_MIDDLE_ANGLES[k]}_{SIDES[s]}", float(worst[s, k]), limit, "deg", "review", advice
        )
        for s, k in np.argwhere(worst > limit)
    ]


def _absent(trial: xr.Dataset, angle: FloatArray) -> list[Finding]:
    """One row per side for what this marker set cannot give, not one per angle."""
    empty = np.asarray(np.isnan(angle).all(axis=0))
    out = []
    for s, side in enumerate(SIDES):
        names = [n for n, gone in zip(CONTRACT_ANGLES, empty[s, : len(CONTRACT_ANGLES)], strict=True) if gone]
        if not names:
            continue
        words = "the whole side" if len(names) > 12 else ", ".join(names)
        advice = f"not given by these markers: {words}; the rest is computed."
        verdict: Verdict = "pass" if all(n.startswith("trunk") for n in names) else "review"
        out.append(
            Finding(
                "angles given",
                side,
                float(len(CONTRACT_ANGLES) - len(names)),
                float(len(CONTRACT_ANGLES)),
                "1",
                verdict,
                advice,
            )
        )
    return out
