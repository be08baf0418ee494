"""From one leg onto both and back: what joins the bouts of a trial, without a jump."""

import numpy as np

from condyle.sample.bones import GIVEN, foot_part
from condyle.sample.chain import Motion, hanging_leg, joined, reaching_leg, stance_leg, too_high, trunk_on_pelvis
from condyle.sample.person import Person
from condyle.sample.turning import OTHER, SIDES, SUFFIX, Array, joint_degrees, upright_degrees, upright_matrix

_ORDER = {
    "hip": ("hip_flexion", "hip_adduction", "hip_internal_rotation"),
    "knee": ("knee_flexion", "knee_adduction", "knee_internal_rotation"),
    "ankle": ("ankle_dorsiflexion", "ankle_inversion", "ankle_internal_rotation"),
}


def step_onto_both(person: Person, side: str, single: Motion, both: Motion, frames: int) -> Motion:
    """From the last frame of ``single`` (standing on ``side``) to ``both``; reversed in time it is the lift."""
    time = np.arange(1, frames + 1) / frames
    share = time**3 * (10 - 15 * time + 6 * time**2)
    hump = 16 * share**2 * (1 - share) ** 2
    other, full = OTHER[side], np.ones(frames)

    def between(first: Array, second: Array) -> Array:
        value: Array = first * (1 - share)[:, None] + second * share[:, None]
        return value

    def upright(name: str) -> Array:
        ends = [upright_degrees(name, side, m.axes[name][-1]) for m in (single, both)]
        return upright_matrix(name, side, *between(*ends).T)

    pelvis = upright("pelvis")
    origin = between(single.origin["pelvis"][-1], both.origin["pelvis"][-1]) - np.outer(hump, [0, 14.0, 0])
    angles = {s: [_leg_angles(m, s) for m in (single, both)] for s in SIDES}
    early = 1 - (1 - share) ** 3  # the ankle is ready before the foot lands, or its toes would go through the floor
    blended = {
        s: {
            name: first[name] + (second[name] - first[name]) * (early if name.startswith("ankle") else share)
            for name in first
        }
        for s, (first, second) in angles.items()
    }
    blended[other]["knee_flexion"] = blended[other]["knee_flexion"] + 40.0 * hump
    blended[other]["hip_flexion"] = blended[other]["hip_flexion"] + 20.0 * hump
    foot = f"foot{SUFFIX[side]}"
    ankle = np.outer(full, single.origin[f"shank{SUFFIX[side]}"][-1])
    given = {name: blended[side][name] for name in GIVEN}
    origin[:, 1] -= np.maximum(too_high(person, side, pelvis, origin, ankle, full), 0.0)
    reached = reaching_leg(person, side, pelvis, origin, ankle, given)
    planted = (np.repeat(single.axes[foot][-1:], frames, axis=0), np.repeat(single.origin[foot][-1:], frames, axis=0))
    body = joined(
        stance_leg(person, side, pelvis, reached, ankle),
        foot_part(side, planted),
        hanging_leg(person, other, pelvis, origin, blended[other]),
    )
    return joined(body, trunk_on_pelvis(person, pelvis, origin, upright("trunk")))


def _leg_angles(motion: Motion, side: str) -> dict[str, Array]:
    """All nine angles of a leg in the last frame."""
    end = SUFFIX[side]
    chain = ("pelvis", f"thigh{end}", f"shank{end}", f"foot{end}")
    out: dict[str, Array] = {}
    for joint, above, below in zip(_ORDER, chain[:-1], chain[1:], strict=True):
        degrees = joint_degrees(joint, side, motion.axes[above][-1], motion.axes[below][-1])
        out.update(dict(zip(_ORDER[joint], degrees, strict=True)))
    return out


def backwards(motion: Motion) -> Motion:
    """The motion played backwards."""
    return Motion({k: v[::-1] for k, v in motion.axes.items()}, {k: v[::-1] for k, v in motion.origin.items()})


def still(motion: Motion, frames: int) -> Motion:
    """The last frame held."""
    return Motion(
        {k: np.repeat(v[-1:], frames, axis=0) for k, v in motion.axes.items()},
        {k: np.repeat(v[-1:], frames, axis=0) for k, v in motion.origin.items()},
    )
