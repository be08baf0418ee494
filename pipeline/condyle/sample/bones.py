"""How the bones move: standing on two feet, a bout of squats on one leg, squats on both."""

from dataclasses import dataclass

import numpy as np

from condyle.sample.chain import (
    Footprint,
    Motion,
    hanging_leg,
    joined,
    planted_foot,
    reaching_leg,
    stance_leg,
    too_high,
    trunk_on_pelvis,
)
from condyle.sample.movements import COURSES, FACTORS, FOOT, SAGITTAL, Movement
from condyle.sample.person import Person
from condyle.sample.timing import Progress
from condyle.sample.turning import OTHER, SIDES, SUFFIX, Array, moved, upright_matrix

GIVEN = ("hip_internal_rotation", "knee_adduction", "knee_internal_rotation")
_CLEARANCE_MM = 45.0  # lowest marker of the free foot above the floor

Prints = dict[str, Footprint]


@dataclass(frozen=True)
class Unrest:
    """Slow random courses added to the prescribed angles, degrees: (T, columns of COURSES without the foot)."""

    courses: Array

    def of(self, name: str) -> Array | float:
        """What is added to one angle."""
        unsteady = (*SAGITTAL, *FACTORS, "trunk_rotation", "trunk_lean")
        return self.courses[:, unsteady.index(name)] if name in unsteady else 0.0


def upright_start(person: Person) -> dict[str, float]:
    """The angles of standing on one leg, before a movement's own posture is added; 0 where not named."""
    stance = person.posture
    return {
        "pelvis_tilt": stance.pelvis_tilt,
        "hip_flexion": stance.pelvis_tilt - 3.0,  # the thigh slightly behind the vertical
        "hip_adduction": stance.one_leg_adduction,
        "trunk_lean": stance.one_leg_lean,
        "hip_internal_rotation": stance.hip_internal_rotation,
        "knee_flexion": stance.knee_flexion,
        "knee_adduction": stance.knee_adduction,
        "knee_internal_rotation": stance.knee_internal_rotation,
        "trunk_flexion": stance.trunk_flexion,
    }


def prescribed(
    person: Person, movement: Movement, progress: Progress, unrest: Unrest | None = None
) -> dict[str, Array]:
    """Every prescribed course of a bout, by name."""
    base = upright_start(person)
    if movement.free_leg == "planted":
        base |= {"hip_adduction": 0.0, "trunk_lean": 0.0}
    return {
        name: base.get(name, 0.0) + movement.course(name, progress) + (unrest.of(name) if unrest else 0.0)
        for name in COURSES
    }


def standing(person: Person, prints: Prints, frames: int = 1) -> Motion:
    """Upright on both feet, the pelvis midway between them and facing straight ahead."""
    stance = person.posture
    full = np.ones(frames)
    pelvis = upright_matrix("pelvis", "right", 0 * full, stance.pelvis_obliquity * full, stance.pelvis_tilt * full)
    feet = {side: planted_foot(person, prints[side], {}, frames) for side in SIDES}
    ankles = {side: origin + moved(axes, person.ankle_in_foot[side]) for side, (axes, origin) in feet.items()}
    hips = {side: moved(pelvis[:1], person.hip_centre[side])[0] for side in SIDES}
    bent = np.cos(np.radians(stance.knee_flexion)) * np.cos(np.radians(stance.knee_adduction))
    reach = np.sqrt(person.thigh_mm**2 + person.shank_mm**2 + 2 * person.thigh_mm * person.shank_mm * bent)
    middle = sum(ankles[side][0] for side in SIDES) / 2 - sum(hips.values()) / 2
    heights = []
    for side in SIDES:  # the lower of the two heights at which each leg has the wished bend
        level = middle + hips[side] - ankles[side][0] + [stance.hip_ahead_of_ankle_mm, 0, 0]
        heights.append(ankles[side][0, 1] + np.sqrt(reach**2 - level[0] ** 2 - level[2] ** 2) - hips[side][1])
    place = np.array([middle[0] + stance.hip_ahead_of_ankle_mm, min(heights), middle[2]])
    origin = np.broadcast_to(place, (frames, 3)).copy()
    given = {name: getattr(stance, name) * full for name in GIVEN}
    parts = [Motion({"pelvis": pelvis}, {"pelvis": origin})]
    for side in SIDES:
        angles = reaching_leg(person, side, pelvis, origin, ankles[side], given)
        parts += [stance_leg(person, side, pelvis, angles, ankles[side]), foot_part(side, feet[side])]
    parts.append(Motion({"pelvis": pelvis}, {"pelvis": origin}))
    trunk = upright_matrix("trunk", "right", 0 * full, 0 * full, stance.trunk_flexion * full)
    return joined(*parts, trunk_on_pelvis(person, pelvis, origin, trunk))


def squats(
    *, person: Person, movement: Movement, side: str, progress: Progress, prints: Prints, unrest: Unrest | None = None
) -> Motion:
    """A bout on one leg; both feet stay down where the movement's free leg is 'planted'."""
    angles = prescribed(person, movement, progress, unrest)
    pelvis = upright_matrix(
        "pelvis", side, angles["pelvis_rotation"], angles["pelvis_obliquity"], angles["pelvis_tilt"]
    )
    foot = planted_foot(person, prints[side], {name: angles[name] for name in FOOT}, len(progress))
    ankle = foot[1] + moved(foot[0], person.ankle_in_foot[side])
    leg = stance_leg(person, side, pelvis, angles, ankle)
    trunk = upright_matrix("trunk", side, angles["trunk_rotation"], angles["trunk_lean"], angles["trunk_flexion"])
    if movement.free_leg == "planted":
        return _on_both_feet(person, movement, side, angles, leg, foot, prints, trunk)
    free = _free_leg(person, movement, side, progress, leg, angles, prints)
    body = joined(leg, foot_part(side, foot), free)
    return joined(body, trunk_on_pelvis(person, pelvis, leg.origin["pelvis"], trunk))


def foot_part(side: str, foot: tuple[Array, Array]) -> Motion:
    """A foot as a part of a motion."""
    name = f"foot{SUFFIX[side]}"
    return Motion({name: foot[0]}, {name: foot[1]})


def _on_both_feet(
    person: Person,
    movement: Movement,
    side: str,
    angles: dict[str, Array],
    leg: Motion,
    foot: tuple[Array, Array],
    prints: Prints,
    trunk: Array,
) -> Motion:
    """Both legs reach for their feet from a pelvis that stays midway between them."""
    frames, other = len(leg), OTHER[side]
    pelvis, origin = leg.axes["pelvis"], leg.origin["pelvis"].copy()
    far = planted_foot(person, prints[other], {name: angles[name] for name in FOOT}, frames)
    ankles = {s: f[1] + moved(f[0], person.ankle_in_foot[s]) for s, f in ((side, foot), (other, far))}
    middle = sum(moved(pelvis, person.hip_centre[s])[:, 2] for s in SIDES) / 2
    origin[:, 2] = (ankles["right"][:, 2] + ankles["left"][:, 2]) / 2 - middle
    origin[:, 1] -= np.max(  # to where the straighter leg has the prescribed bend
        [too_high(person, s, pelvis, origin, ankles[s], angles["knee_flexion"]) for s in SIDES], axis=0
    )
    given = {name: angles[name] for name in GIVEN}
    parts = [leg]
    for s, planted in ((side, foot), (other, far)):
        reached = reaching_leg(person, s, pelvis, origin, ankles[s], given)
        parts += [stance_leg(person, s, pelvis, reached, ankles[s]), foot_part(s, planted)]
    parts += [Motion({"pelvis": pelvis}, {"pelvis": origin}), trunk_on_pelvis(person, pelvis, origin, trunk)]
    return joined(*parts)


def _free_leg(
    person: Person,
    movement: Movement,
    side: str,
    progress: Progress,
    leg: Motion,
    angles: dict[str, Array],
    prints: Prints,
) -> Motion:
    """The free leg, lifted further until its foot keeps clear of the floor."""
    other, still = OTHER[side], np.zeros(len(progress))
    down = np.minimum(progress.down, 1.2)
    behind = movement.free_leg == "behind"
    level = angles["pelvis_obliquity"]  # the free thigh hangs straight whatever the pelvis does
    free = {
        "hip_flexion": angles["pelvis_tilt"] + (-4.0 + 2.0 * down if behind else 14.0 + 6.0 * down),
        "hip_adduction": still - level + 5.0,
        "hip_internal_rotation": still + person.posture.hip_internal_rotation,
        "knee_flexion": 70.0 + 15.0 * down if behind else still + 10.0,
        "knee_adduction": still + person.posture.knee_adduction,
        "knee_internal_rotation": still + person.posture.knee_internal_rotation,
        "ankle_dorsiflexion": still - (18.0 if behind else 0.0),
        "ankle_inversion": still + 2.0,
        "ankle_internal_rotation": still + person.posture.knee_internal_rotation / 2,
    }
    lowest = -1e9
    for _ in range(16):
        hung = hanging_leg(person, other, leg.axes["pelvis"], leg.origin["pelvis"], free)
        lowest = _lowest_of_foot(person, other, hung) - prints[other].floor_mm
        if lowest >= _CLEARANCE_MM:
            break
        free["knee_flexion" if behind else "hip_flexion"] += 4.0 * (0.2 + down)
        if behind:
            free["hip_flexion"] += 1.0 * down
    return hung


def _lowest_of_foot(person: Person, side: str, motion: Motion) -> float:
    name = f"foot{SUFFIX[side]}"
    heights = [
        (motion.origin[name] + moved(motion.axes[name], local))[:, 1].min()
        for segment, local in person.points.values()
        if segment == name
    ]
    return float(min(heights))
