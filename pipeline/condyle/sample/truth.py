"""What is true of a motion: angles, repetitions, travel and path angles, without noise and without a filter."""

from dataclasses import dataclass

import numpy as np

from condyle.sample.chain import Motion, joint_centres
from condyle.sample.person import Person
from condyle.sample.turning import (
    MIRROR,
    SIDES,
    SUFFIX,
    Array,
    inward_turn_degrees,
    joint_degrees,
    moved,
    turned,
    upright_degrees,
)

ANGLES = (
    *("hip_flexion", "hip_adduction", "hip_internal_rotation"),
    *("knee_flexion", "knee_adduction", "knee_internal_rotation"),
    *("ankle_dorsiflexion", "ankle_inversion", "ankle_internal_rotation"),
    *("pelvis_rotation", "pelvis_obliquity", "pelvis_tilt"),
    *("trunk_rotation", "trunk_lean", "trunk_flexion"),
    *("thigh_axial_rotation", "fppa"),
)
STILL_DEG_PER_S = 5.0  # a squat starts and ends where the knee bends slower than this


@dataclass(frozen=True)
class Repetition:
    """Frames of one squat; ``complete`` is False where the recording begins or ends within it."""

    start: int
    bottom: int
    end: int
    complete: bool


def faced(motion: Motion, heading_deg: float) -> Motion:
    """The motion seen from a participant's frame turned by ``heading_deg`` about the vertical."""
    back = turned("y", -heading_deg)
    return Motion(
        {name: back @ axes for name, axes in motion.axes.items()},
        {name: moved(back, place) for name, place in motion.origin.items()},
    )


def frames_of(motion: Motion, frames: slice, heading_deg: float = 0.0) -> Motion:
    """Some frames of the motion, seen likewise."""
    some = Motion({k: v[frames] for k, v in motion.axes.items()}, {k: v[frames] for k, v in motion.origin.items()})
    return faced(some, heading_deg) if heading_deg else some


def first_rise(course: Array, level: float, first: int, last: int) -> float:
    """Where a course first passes a level upwards between two frames, as a fraction of frames; -1 where it does not."""
    part = course[first : last + 1]
    rising = np.flatnonzero((part[:-1] < level) & (part[1:] >= level))
    if not len(rising):
        return -1.0
    i = int(rising[0])
    return float(first + i + (level - part[i]) / (part[i + 1] - part[i]))


def pelvis_heading(motion: Motion, frames: slice) -> float:
    """The heading of the pelvis over these frames, degrees about the vertical."""
    axis = motion.axes["pelvis"][frames, :, 2].mean(axis=0)
    return float(np.degrees(np.arctan2(axis[0], axis[2])))


def fppa_degrees(side: str, hip: Array, knee: Array, ankle: Array) -> Array:
    """Frontal-plane projection angle of three centres (..., 3): the knee medial of the line is positive."""
    inwards = -MIRROR[side]
    thigh, shank = knee - hip, ankle - knee
    upper = np.arctan2(inwards * thigh[..., 2], -thigh[..., 1])
    lower = np.arctan2(inwards * shank[..., 2], -shank[..., 1])
    bent: Array = np.degrees(upper - lower)
    return bent


def angles_of(person: Person, motion: Motion) -> Array:
    """All angles in degrees: shape (T, 2 sides (left, right), ANGLES)."""
    centres = joint_centres(person, motion)
    table = np.empty((len(motion), 2, len(ANGLES)))
    for column, side in enumerate(SIDES):
        end = SUFFIX[side]
        axes = {name: motion.axes[f"{name}{end}"] for name in ("thigh", "shank", "foot")}
        table[:, column, 0:3] = joint_degrees("hip", side, motion.axes["pelvis"], axes["thigh"])
        table[:, column, 3:6] = joint_degrees("knee", side, axes["thigh"], axes["shank"])
        table[:, column, 6:9] = joint_degrees("ankle", side, axes["shank"], axes["foot"])
        table[:, column, 9:12] = upright_degrees("pelvis", side, motion.axes["pelvis"])
        table[:, column, 12:15] = upright_degrees("trunk", side, motion.axes["trunk"])
        table[:, column, 15] = inward_turn_degrees(side, axes["thigh"])
        table[:, column, 16] = fppa_degrees(side, *(centres[f"{joint}{end}"] for joint in ("hip", "knee", "ankle")))
    return table


def knee_flexion(motion: Motion, side: str) -> Array:
    """Knee flexion (T,) of one side, degrees."""
    end = SUFFIX[side]
    upper, lower = motion.axes[f"thigh{end}"], motion.axes[f"shank{end}"][:, :, 1]
    along = np.einsum("tij,ti->tj", upper, lower)  # the shank's long axis in the thigh
    flexion: Array = np.degrees(np.arctan2(along[:, 0], along[:, 1]))
    return flexion


def repetitions_of(flexion: Array, windows: tuple[tuple[int, int, int], ...], rate_hz: float) -> list[Repetition]:
    """The squats by the definition in use: deepest knee flexion; outwards to where the knee hardly moves.

    ``windows`` are the planned squats. From the bottom outwards the first frame slower than STILL_DEG_PER_S ends a
    squat, but a pause half-way does not: there the knee is still bent by more than a quarter of the squat.
    """
    speed = np.abs(np.gradient(flexion)) * rate_hz
    found = []
    for planned_start, planned_bottom, planned_end in windows:
        first, last = max(planned_start - 1, 0), min(planned_end + 1, len(flexion) - 1)
        if not 0 <= planned_bottom < len(flexion):
            continue
        bottom = first + int(np.argmax(flexion[first : last + 1]))
        lowest = max(flexion[first], flexion[last]) if planned_start < 0 or planned_end > len(flexion) - 1 else None
        start = _outwards(flexion, speed, bottom, -1, first, lowest)
        end = _outwards(flexion, speed, bottom, +1, last, lowest)
        complete = planned_start >= 0 and planned_end <= len(flexion) - 1
        found.append(Repetition(start, bottom, end, complete))
    return found


def _outwards(flexion: Array, speed: Array, bottom: int, step: int, limit: int, lowest: float | None) -> int:
    """The first slow frame outwards from the bottom; the limit itself where there is none."""
    rest = flexion[limit] if lowest is None else min(flexion[limit], lowest)
    bent = rest + 0.25 * (flexion[bottom] - rest)
    frames = np.arange(bottom, limit + step, step)
    slow = frames[(speed[frames] < STILL_DEG_PER_S) & (flexion[frames] < bent)]
    return int(slow[0]) if len(slow) else limit


def travels_of(side: str, place: Array, repetition: Repetition) -> dict[str, float]:
    """Medial travel in mm and path angles from the vertical in degrees of one point (T, 3) in one squat.

    Ways down and up are both measured from their upper to their lower end: the same way back gives the same angle.
    """
    upper, lower, back = (place[frame] for frame in (repetition.start, repetition.bottom, repetition.end))
    inwards = -MIRROR[side]
    down, up = lower - upper, lower - back
    within = inwards * (place[repetition.start : repetition.end + 1, 2] - upper[2])
    return {
        "travel": float(inwards * down[2]),
        "range": float(within.max() - within.min()),
        "peak_medial": float(within.max()),
        "peak_lateral": float(within.min()),
        "path_angle_descent": float(np.degrees(np.arctan2(inwards * down[2], -down[1]))),
        "path_angle_ascent": float(np.degrees(np.arctan2(inwards * up[2], -up[1]))),
        "end_offset": float(inwards * (back[2] - upper[2])),
    }
