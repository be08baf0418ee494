"""Does the file's up point up, are its axes right-handed, and do pelvis and feet face the same way?"""

from dataclasses import replace

import numpy as np

from condyle.body_names import SEGMENTS
from condyle.findings import Finding
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.body_plan import forward, pair_offsets, right_of, rise
from condyle.mechanics.vertical import vertical_rotation
from condyle.stages.checks.judging import Limits
from condyle.stages.checks.recorded import Recorded

_AXES = "XYZ"


def up_finding(landmarks: dict[str, FloatArray], limits: Limits, vertical: str) -> Finding | None:
    """Pelvis above the feet; ``vertical`` is the file's axis that was turned up."""
    upwards = rise(landmarks)
    if upwards is None or not np.isfinite(upwards).all():
        return None
    return _not_up(upwards, limits, vertical, "correct `lab: vertical` in the pipeline.")


def up_in_movement(seen: Recorded, limits: Limits, vertical: str, upright: bool) -> Finding | None:
    """The same of a movement trial, by its segments; a task that need not be done ``upright`` is only looked at."""
    if seen.told is None:
        return None
    place = seen.told.translation
    pelvis = place[:, SEGMENTS.index("pelvis")]
    for lower in ("foot", "shank", "thigh"):
        legs = place[:, [SEGMENTS.index(f"{lower}{t}") for t in ("_l", "_r")]]
        count = np.isfinite(legs[..., 0]).sum(axis=1)
        upwards = pelvis - np.nansum(legs, axis=1) / np.where(count > 0, count, np.nan)[:, None]
        upwards = upwards[np.isfinite(upwards).all(axis=1)]
        if len(upwards):
            advice = "the standing trial stands upright, so export this one with the same axes."
            row = _not_up(np.median(upwards, axis=0), limits, vertical, advice)
            return row if row is None or upright else replace(row, verdict="review")
    return None


def _not_up(upwards: FloatArray, limits: Limits, vertical: str, what_to_do: str) -> Finding | None:
    angle = float(np.rad2deg(np.arccos(np.clip(upwards[1] / max(np.linalg.norm(upwards), 1e-9), -1.0, 1.0))))
    limit = limits["up_apart"].value
    if angle <= limit:
        return None
    in_file = vertical_rotation(vertical).T @ upwards
    axis = int(np.abs(in_file).argmax())
    guess = f"{'+' if in_file[axis] > 0 else '-'}{_AXES[axis]}"
    advice = f"with {vertical} as the vertical the pelvis is not above the feet; by the markers {guess} points up: {what_to_do}"
    return Finding("up axis", "file", angle, limit, "deg", "reject", advice)


def axes_findings(landmarks: dict[str, FloatArray], limits: Limits, vertical: str) -> list[Finding]:
    """Up, handedness and facing of a standing person."""
    if row := up_finding(landmarks, limits, vertical):
        return [row]
    facing = forward(landmarks)
    out: list[Finding] = []
    if facing.pelvis is not None and facing.feet is not None:
        apart = float(np.rad2deg(np.arccos(np.clip(facing.pelvis @ facing.feet, -1.0, 1.0))))
        limit = limits["facing_apart"].value
        if apart > limit:
            advice = (
                "pelvis and feet face different ways: ASIS and PSIS are exchanged, heels and toes, or the sides of one."
            )
            return [Finding("facing", "pelvis", apart, limit, "deg", "reject", advice)]
    ahead = facing.pelvis if facing.pelvis is not None else facing.feet
    if ahead is None or np.isnan(ahead).any():
        return out
    offsets = list(pair_offsets(landmarks, right_of(ahead)).values())
    if offsets and max(offsets) < 0:
        advice = (
            "every right marker lies on the left: the file's axes are left-handed, so export it with right-handed ones, or all "
            "labels are exchanged, so rename them; `condyle inspect` shows the axes."
        )
        return [Finding("left and right", "file", max(offsets), 0.0, "mm", "reject", advice)]
    turned = float(np.rad2deg(np.arctan2(-ahead[2], ahead[0])))
    out.append(
        Finding("facing", "file", turned, None, "deg", "pass", "turn of the participant about the vertical in the lab.")
    )
    return out
