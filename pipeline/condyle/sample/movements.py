"""Movements: what turns, which way and how much, from the start of a squat to its bottom.

Angles are degrees, positive as everywhere ("this side" is the stance side), ``foot_slip_*`` mm. ``start`` is a posture
already there before the squat and kept through it, beside the person's way of standing; ``change`` is what the squat
adds at its full depth. The sagittal sizes lie near Weeks et al. 2015 (BMC Musculoskelet Disord 16:271), the others are
ours.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from condyle.sample.timing import Progress
from condyle.sample.turning import Array

SAGITTAL = ("pelvis_tilt", "hip_flexion", "knee_flexion", "trunk_flexion")
FACTORS = (
    *("pelvis_rotation", "pelvis_obliquity", "hip_adduction"),
    *("hip_internal_rotation", "knee_adduction", "knee_internal_rotation"),
)
FOOT = ("foot_roll", "foot_pivot", "heel_lift", "foot_slip_medial", "foot_slip_forward")
COURSES = (*SAGITTAL, *FACTORS, "trunk_rotation", "trunk_lean", *FOOT)
DEPTH = {"pelvis_tilt": 18.0, "hip_flexion": 64.0, "knee_flexion": 76.0, "trunk_flexion": 24.0}  # of a full squat
CHECK_DEPTH = {
    "pelvis_tilt": 10.0,
    "hip_flexion": 65.0,
    "knee_flexion": 75.0,
    "trunk_flexion": 18.0,
}  # for checks by hand


@dataclass(frozen=True)
class Movement:
    """A named way of squatting.

    ``depth`` scales the sagittal part alone, ``size`` everything else. ``lead`` bends a course: below 1 it runs ahead
    of the squat, above 1 behind it. ``waver``: amplitude and number of swings on the way down, nothing at the bottom.
    ``courses``: columns (share of the way down, value to add) for what no formula gives.
    """

    name: str
    words: str
    change: Mapping[str, float] = field(default_factory=dict)
    start: Mapping[str, float] = field(default_factory=dict)
    lead: Mapping[str, float] = field(default_factory=dict)
    waver: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    sagittal: Mapping[str, float] = field(default_factory=lambda: dict(DEPTH))
    depth: float = 1.0
    size: float = 1.0
    task: str = "single_leg_squat"
    free_leg: str = "behind"
    courses: Mapping[str, Array] = field(default_factory=dict)

    def scaled(self, *, size: float | None = None, depth: float | None = None) -> "Movement":
        """The same movement, larger or deeper."""
        return replace(self, size=self.size if size is None else size, depth=self.depth if depth is None else depth)

    def course(self, name: str, progress: Progress) -> Array:
        """What the squat and the posture add to one angle, frame by frame."""
        sagittal = name in SAGITTAL
        amount = self.sagittal.get(name, 0.0) * self.depth if sagittal else 0.0
        amount += self.change.get(name, 0.0) * self.size
        value = self.start.get(name, 0.0) + amount * progress.depth * progress.share ** self.lead.get(name, 1.0)
        if name in self.courses:
            table = self.courses[name]
            value = value + np.interp(progress.share, table[:, 0], table[:, 1]) * progress.depth
        if name in self.waver:
            amplitude, swings = self.waver[name]
            value = value + amplitude * self.size * progress.depth * np.sin(2 * np.pi * swings * progress.share)
        result: Array = np.asarray(value, dtype=np.float64)
        return result


_TRUNK = {"trunk_lean": 1.0}


def _all() -> tuple[Movement, ...]:
    return (
        Movement(
            "controlled",
            "the knee stays over the foot",
            {"hip_adduction": -2.5, "hip_internal_rotation": -1.0, "pelvis_rotation": 0.5, **_TRUNK},
        ),
        Movement(
            "trunk_over_stance",
            "the trunk leans over the stance leg to keep the centre of mass over the foot",
            {"trunk_lean": 14.0, "trunk_rotation": 4.0, "pelvis_obliquity": -2.0, "hip_adduction": -5.0},
        ),
        Movement(
            "pelvis_shift",
            "the pelvis shifts sideways over the foot, the free side goes up",
            {"pelvis_obliquity": -6.0, "hip_internal_rotation": -5.0, "knee_adduction": -1.0, "trunk_lean": -5.0},
            start={"hip_adduction": 1.0},
        ),
        Movement(
            "hip_in",
            "the femur adducts and rotates inwards at the hip",
            {"hip_adduction": 16.0, "hip_internal_rotation": 9.0, "pelvis_obliquity": 2.0, "trunk_lean": 3.0},
        ),
        Movement(
            "pelvis_turn",
            "the pelvis turns and carries the thigh, the hip hardly rotates",
            {"pelvis_rotation": 20.0, "hip_internal_rotation": 0.5, "trunk_rotation": 12.0},
        ),
        Movement(
            "pelvis_drop",
            "the free side of the pelvis drops, the hip adducts by as much",
            {"pelvis_obliquity": 10.0, "hip_adduction": 12.0, "trunk_lean": 5.0},
        ),
        Movement(
            "knee_out",
            "the knee goes outwards, trunk and free side balance it",
            {
                **{"hip_adduction": -6.0, "hip_internal_rotation": -12.0, "pelvis_obliquity": -4.0, "trunk_lean": -3.0},
                **{"trunk_rotation": -5.0},
            },
        ),
        Movement(
            "wavering",
            "the knee wavers and ends close to where it began",
            {"hip_adduction": -2.0, **_TRUNK},
            waver={"hip_adduction": (5.0, 2.0), "hip_internal_rotation": (6.0, 2.0)},
        ),
        Movement(
            "pronating",
            "the shank tilts inwards over the foot and the thigh follows; seen from below it comes from the ankle",
            {
                **{"hip_adduction": 9.0, "hip_internal_rotation": 9.0, "knee_adduction": -3.0},
                **{"knee_internal_rotation": 5.0, "trunk_lean": 4.0},
            },
        ),
        Movement(
            "foot_rolling",
            "the whole foot rolls over its inner border and pivots; from below it comes from the floor",
            {
                "hip_adduction": 6.0,
                "hip_internal_rotation": 9.0,
                "foot_roll": 13.0,
                "foot_pivot": 5.0,
                "trunk_lean": 5.0,
            },
        ),
        Movement(
            "knee_giving",
            "the knee itself gives way into valgus",
            {"knee_adduction": -8.0, "knee_internal_rotation": 4.0, "hip_adduction": 2.0, "trunk_lean": 8.0},
        ),
        Movement(
            "posture_kept",
            "pelvis turned, hip adducted and rotated in already at the start and kept",
            {"trunk_lean": 2.0},
            start={"pelvis_rotation": 10.0, "hip_adduction": 5.0, "hip_internal_rotation": 8.0, "trunk_lean": -3.0},
        ),
        Movement(
            "shared",
            "pelvis and hip share the movement",
            {
                **{
                    "pelvis_rotation": 12.0,
                    "pelvis_obliquity": 5.0,
                    "hip_adduction": 10.0,
                    "hip_internal_rotation": 8.0,
                },
                **{"knee_adduction": -3.0, "knee_internal_rotation": 4.0, "trunk_rotation": 7.0, "trunk_lean": 4.0},
            },
        ),
        Movement(
            "against_each_other",
            "the pelvis turns away while the hip goes in",
            {"pelvis_rotation": -8.0, "hip_adduction": 14.0, "hip_internal_rotation": 6.0, "trunk_lean": 3.0},
        ),
        Movement(
            "shallow_hip",
            "hip adduction and rotation of a deep squat in a shallow one",
            {"hip_adduction": 12.0, "hip_internal_rotation": 6.0},
            depth=0.55,
        ),
        Movement(
            "deep_hip",
            "the same hip angles in a deep squat",
            {"hip_adduction": 12.0, "hip_internal_rotation": 6.0},
            depth=1.15,
        ),
        Movement(
            "step_down",
            "from a step; the free foot reaches lower than the stance foot",
            {"hip_adduction": 5.0, "hip_internal_rotation": 3.0, "pelvis_obliquity": 3.0, "trunk_lean": 3.0},
            sagittal={"pelvis_tilt": 6.0, "hip_flexion": 45.0, "knee_flexion": 58.0, "trunk_flexion": 10.0},
            task="step_down",
            free_leg="in_front",
        ),
        Movement(
            "double_leg_squat",
            "both feet on the floor",
            {"hip_internal_rotation": 4.0},
            task="double_leg_squat",
            free_leg="planted",
        ),
    )


MOVEMENTS: dict[str, Movement] = {movement.name: movement for movement in _all()}
