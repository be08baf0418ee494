"""The closed chain: feet stay on the floor, the leg's angles put the pelvis where it must be.

Everything is in the participant's frame: X forward, Y up, Z to the right, origin on the floor between the feet. Arrays
have a leading axis of frames.
"""

from dataclasses import dataclass

import numpy as np

from condyle.sample.person import Person
from condyle.sample.turning import MIRROR, SIDES, SUFFIX, Array, joint_matrix, moved, swapped, turned


@dataclass
class Motion:
    """Where every segment is: axes (T, 3, 3) and origin (T, 3) by segment name."""

    axes: dict[str, Array]
    origin: dict[str, Array]

    def __len__(self) -> int:
        return len(self.origin["pelvis"])


@dataclass(frozen=True)
class Footprint:
    """Where a foot stands: below the ankle centre, mm; toes turned out, degrees; height of the floor under it."""

    side: str
    forward_mm: float
    right_mm: float
    toe_out: float
    floor_mm: float = 0.0


def footprints(person: Person, floor_mm: dict[str, float] | None = None, turn: float = 0.0) -> dict[str, Footprint]:
    """Both feet as this person stands, turned by ``turn`` degrees inwards (a foot put down anew)."""
    stance, height = person.posture, floor_mm or {}
    return {
        side: Footprint(
            side, 0.0, MIRROR[side] * stance.feet_apart_mm / 2, stance.toe_out - turn, height.get(side, 0.0)
        )
        for side in SIDES
    }


def planted_foot(person: Person, print_: Footprint, moves: dict[str, Array], frames: int) -> tuple[Array, Array]:
    """Axes and origin of a foot on the floor.

    ``moves``: foot_roll (pronation, about the inner border), foot_pivot (inwards, about the ball), heel_lift (about the
    ball), in degrees; foot_slip_medial and foot_slip_forward in mm. None of them: flat and still.
    """
    side, mirror = print_.side, MIRROR[print_.side]
    still = np.zeros(frames)
    roll, pivot, lift, medial, forward = (
        moves.get(name, still)
        for name in ("foot_roll", "foot_pivot", "heel_lift", "foot_slip_medial", "foot_slip_forward")
    )
    axes, origin = person.sole_from_foot[side]
    ball = np.array([0.064 * person.height_mm, 0.0, 0.0])
    border = np.array([0.0, 0.0, -mirror * 0.022 * person.height_mm])
    place = np.broadcast_to(origin, (frames, 3))
    lifted, rolled, pivoted = turned("z", -lift), turned("x", -mirror * roll), turned("y", mirror * pivot)
    place = ball + moved(lifted, place - ball)
    place = border + moved(rolled, place - border)
    place = ball + moved(pivoted, place - ball)
    out = turned("y", -mirror * print_.toe_out)
    slip = np.stack([forward, still, -mirror * medial], axis=-1)
    ground = np.array([print_.forward_mm, print_.floor_mm, print_.right_mm])
    return out @ pivoted @ rolled @ lifted @ axes, ground + slip + moved(out, place)


def stance_leg(person: Person, side: str, pelvis: Array, angles: dict[str, Array], ankle: Array) -> Motion:
    """The leg from its ankle up to the pelvis, from the leg's angles and the pelvis' orientation."""
    end = SUFFIX[side]
    thigh = pelvis @ joint_matrix(
        "hip", side, *(angles[f"hip_{a}"] for a in ("flexion", "adduction", "internal_rotation"))
    )
    shank = thigh @ joint_matrix(
        "knee", side, *(angles[f"knee_{a}"] for a in ("flexion", "adduction", "internal_rotation"))
    )
    knee = ankle + shank[:, :, 1] * person.shank_mm
    hip = knee + thigh[:, :, 1] * person.thigh_mm
    return Motion(
        {"pelvis": pelvis, f"thigh{end}": thigh, f"shank{end}": shank},
        {"pelvis": hip - moved(pelvis, person.hip_centre[side]), f"thigh{end}": knee, f"shank{end}": ankle},
    )


def hanging_leg(person: Person, side: str, pelvis: Array, origin: Array, angles: dict[str, Array]) -> Motion:
    """The leg from its hip down to the foot, from the angles of hip, knee and ankle."""
    end = SUFFIX[side]
    order = ("flexion", "adduction", "internal_rotation")
    ankle_order = ("dorsiflexion", "inversion", "internal_rotation")
    thigh = pelvis @ joint_matrix("hip", side, *(angles[f"hip_{a}"] for a in order))
    shank = thigh @ joint_matrix("knee", side, *(angles[f"knee_{a}"] for a in order))
    foot = shank @ joint_matrix("ankle", side, *(angles[f"ankle_{a}"] for a in ankle_order))
    hip = origin + moved(pelvis, person.hip_centre[side])
    knee = hip - thigh[:, :, 1] * person.thigh_mm
    ankle = knee - shank[:, :, 1] * person.shank_mm
    return Motion(
        {f"thigh{end}": thigh, f"shank{end}": shank, f"foot{end}": foot},
        {f"thigh{end}": knee, f"shank{end}": ankle, f"foot{end}": ankle - moved(foot, person.ankle_in_foot[side])},
    )


def too_high(person: Person, side: str, pelvis: Array, origin: Array, ankle: Array, bend: Array) -> Array:
    """By how many mm the pelvis must come down for the knee to be bent by ``bend`` degrees; negative: go up."""
    span = origin + moved(pelvis, person.hip_centre[side]) - ankle
    thigh, shank, sideways = person.thigh_mm, person.shank_mm, np.radians(person.posture.knee_adduction)
    reach_squared = thigh**2 + shank**2 + 2 * thigh * shank * np.cos(np.radians(bend)) * np.cos(sideways)
    excess: Array = span[:, 1] - np.sqrt(reach_squared - span[:, 0] ** 2 - span[:, 2] ** 2)
    return excess


def reaching_leg(
    person: Person, side: str, pelvis: Array, origin: Array, ankle: Array, given: dict[str, Array]
) -> dict[str, Array]:
    """Angles with which the leg reaches from the pelvis to ``ankle``; hip rotation and the knee's side angles given.

    Raises ValueError where the leg is too short.
    """
    mirror, thigh, shank = MIRROR[side], person.thigh_mm, person.shank_mm
    hip = origin + moved(pelvis, person.hip_centre[side])
    target = moved(swapped(pelvis), ankle - hip)
    side_bend = np.radians(mirror * given["knee_adduction"])
    span = np.sum(target**2, axis=-1)
    cosine = (span - thigh**2 - shank**2) / (2 * thigh * shank * np.cos(side_bend))
    if np.any(cosine > 1.0):
        longest = np.sqrt(thigh**2 + shank**2 + 2 * thigh * shank * np.cos(side_bend))
        missing = float(np.max(np.sqrt(span) - longest))
        raise ValueError(f"the {side} leg is {missing:.1f} mm too short for where the foot stands")
    flexion = np.arccos(cosine)
    tip = np.stack(  # from hip to ankle in the thigh's axes; the shank's own rotation does not move the ankle
        [
            -shank * np.sin(flexion) * np.cos(side_bend),
            -thigh - shank * np.cos(flexion) * np.cos(side_bend),
            -shank * np.sin(side_bend),
        ],
        axis=-1,
    )
    tip = moved(turned("y", mirror * given["hip_internal_rotation"]), tip)
    radius = np.hypot(tip[:, 1], tip[:, 2])
    adduction = np.arcsin(np.clip(-target[:, 2] / radius, -1, 1)) - np.arctan2(-tip[:, 2], -tip[:, 1])
    lowered = moved(turned("x", np.degrees(adduction)), tip)
    bend = np.arctan2(target[:, 1], target[:, 0]) - np.arctan2(lowered[:, 1], lowered[:, 0])
    bend = (bend + np.pi) % (2 * np.pi) - np.pi
    return {
        **given,
        "hip_flexion": np.degrees(bend),
        "hip_adduction": mirror * np.degrees(adduction),
        "knee_flexion": np.degrees(flexion),
    }


def trunk_on_pelvis(person: Person, pelvis: Array, origin: Array, trunk: Array) -> Motion:
    """The trunk set on the pelvis at the lumbar joint, its axes prescribed."""
    joint = origin + moved(pelvis, person.lumbar_in_pelvis)
    return Motion({"trunk": trunk}, {"trunk": joint - moved(trunk, person.lumbar_in_trunk)})


def joint_centres(person: Person, motion: Motion) -> dict[str, Array]:
    """Hip, knee and ankle centres of both sides, (T, 3)."""
    centres = {}
    for side in SIDES:
        end = SUFFIX[side]
        centres[f"hip{end}"] = motion.origin["pelvis"] + moved(motion.axes["pelvis"], person.hip_centre[side])
        centres[f"knee{end}"] = motion.origin[f"thigh{end}"]
        centres[f"ankle{end}"] = motion.origin[f"shank{end}"]
    return centres


def joined(*parts: Motion) -> Motion:
    """Parts of one body at the same frames, put together."""
    return Motion(
        {k: v for part in parts for k, v in part.axes.items()}, {k: v for part in parts for k, v in part.origin.items()}
    )


def in_sequence(motions: list[Motion]) -> Motion:
    """One motion after the other."""
    return Motion(
        {k: np.concatenate([m.axes[k] for m in motions]) for k in motions[0].axes},
        {k: np.concatenate([m.origin[k] for m in motions]) for k in motions[0].origin},
    )


def marker_places(motion: Motion, points: dict[str, tuple[str, Array]]) -> tuple[list[str], Array]:
    """Names and positions (T, M, 3) of points fixed to the segments."""
    names = list(points)
    places = [motion.origin[segment] + moved(motion.axes[segment], local) for segment, local in points.values()]
    return names, np.stack(places, axis=1)
