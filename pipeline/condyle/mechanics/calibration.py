"""Where are the segment frames and joint centres of a standing person, given what markers the set has?

Every array may carry leading dimensions (Monte Carlo draws); what is missing for a frame leaves it NaN and says so in
``notes``, a word list that the calibrate stage turns into findings.
"""

from typing import Literal

import numpy as np

from condyle.mechanics.arrays import FloatArray, unit
from condyle.mechanics.joint_centres import ankle_centre_mid, centre_from_width_front, knee_centre_mid
from condyle.mechanics.pelvis_and_hips import place_pelvis_and_hips
from condyle.mechanics.segment_frames import (
    foot_frame,
    shank_frame,
    thigh_frame,
    trunk_frame_acromia_c7,
    trunk_frame_isb,
)
from condyle.mechanics.standing_body import (
    JOINT_ORDER,
    SEGMENT_ORDER,
    BodyFrames,
    HipMethod,
    Landmarks,
    ShankKind,
    Sizes,
    place_frame,
)


def body_frames(
    landmarks: Landmarks,
    sizes: Sizes | None = None,
    hip_method: HipMethod = "harrington_2007",
    shank_kind: ShankKind = "malleoli",
    functional: Landmarks | None = None,
) -> BodyFrames:
    """Frames of all segments and centres of all joints that these landmarks allow.

    landmarks    : name -> (..., 3) [mm] positions in one right-handed frame with y up
    sizes        : Sizes [mm] what was measured on the participant
    hip_method   : word [1] regression, or functional
    shank_kind   : word [1] malleoli, epicondyles or isb
    functional   : name -> (..., 3) [mm] hip_r: a centre; knee_axis_r: a direction to the right along the flexion axis
    returns      : BodyFrames [mm] frames and centres
    undefined    : a frame whose landmarks are not there is NaN, with a note
    missing      : a NaN in a landmark makes what rests on it NaN
    source       : ISB, Wu et al. 2002; Harrington et al. 2007; Bell et al. 1990; Hara et al. 2016; else ours
    """
    sizes, functional = sizes or Sizes(), functional or {}
    lead = np.broadcast_shapes(*(p.shape[:-1] for p in [*landmarks.values(), *functional.values()]))
    out = BodyFrames(
        np.full((*lead, len(SEGMENT_ORDER), 3, 3), np.nan),
        np.full((*lead, len(SEGMENT_ORDER), 3), np.nan),
        np.full((*lead, len(JOINT_ORDER), 3), np.nan),
    )
    place_pelvis_and_hips(out, landmarks, sizes, hip_method, functional)
    unknown = [_leg(out, landmarks, sizes, shank_kind, functional, s) for s in (0, 1)]
    out.knee_unknown = (unknown[0][0], unknown[1][0])
    out.ankle_unknown = (unknown[0][1], unknown[1][1])
    _trunk(out, landmarks)
    return out


def _leg(
    out: BodyFrames, landmarks: Landmarks, sizes: Sizes, shank_kind: ShankKind, functional: Landmarks, s: int
) -> tuple[bool, bool]:
    """Fill thigh, shank and foot of one side; whether its knee and its ankle are only known by the lateral marker."""
    side: Literal["left", "right"] = "right" if s else "left"
    tail = f"_{side[0]}"
    hip = out.joint[..., JOINT_ORDER.index(f"hip{tail}"), :]
    pelvis_right = out.rotation[..., SEGMENT_ORDER.index("pelvis"), :, 2]
    outward = pelvis_right if side == "right" else -pelvis_right
    radius = (sizes.marker_diameter or 0.0) / 2

    lateral = landmarks.get(f"lateral_epicondyle{tail}")
    unknown = False
    thigh_right = pelvis_right
    if lateral is None:
        out.notes.append((f"thigh{tail}", f"no thigh frame: lateral_epicondyle{tail} missing"))
        knee = np.full_like(hip, np.nan)
    else:
        knee, medial, note = _centre(landmarks, "epicondyle", side, sizes.knee_width[s], radius, hip, f"patella{tail}")
        if note:
            out.notes.append((f"knee{tail}", note))
        if f"knee_axis{tail}" in functional:
            axis = unit(functional[f"knee_axis{tail}"]) * (50.0 if side == "right" else -50.0)
            lateral, medial = knee + axis, knee - axis
        if medial is None:
            unknown, medial, lateral = True, knee - 50.0 * outward, knee + 50.0 * outward
        frame = thigh_frame(hip, knee, lateral, medial, side)
        thigh_right = frame[0][..., :, 2]
        place_frame(out, f"thigh{tail}", frame)
    out.joint[..., JOINT_ORDER.index(f"knee{tail}"), :] = knee
    return unknown, _shank_and_foot(out, landmarks, sizes.ankle_width[s], radius, knee, thigh_right, shank_kind, s)


def _shank_and_foot(
    out: BodyFrames,
    landmarks: Landmarks,
    ankle_width: float | None,
    radius: float,
    knee: FloatArray,
    thigh_right: FloatArray,
    shank_kind: ShankKind,
    s: int,
) -> bool:
    side: Literal["left", "right"] = "right" if s else "left"
    tail = f"_{side[0]}"
    sign = 1.0 if side == "right" else -1.0
    shank_right, unknown = thigh_right, False
    if f"lateral_malleolus{tail}" not in landmarks:
        out.notes.append((f"shank{tail}", f"no shank frame: lateral_malleolus{tail} missing"))
    else:
        front = f"tibial_tuberosity{tail}"
        ankle, medial, note = _centre(landmarks, "malleolus", side, ankle_width, radius, knee, front)
        if note:
            out.notes.append((f"ankle{tail}", note))
        lateral = landmarks[f"lateral_malleolus{tail}"]
        unknown = medial is None
        if medial is None or shank_kind == "epicondyles":
            lateral, medial = ankle + 50.0 * sign * thigh_right, ankle - 50.0 * sign * thigh_right
            kind: ShankKind = "malleoli"
        else:
            kind = shank_kind
        frame = shank_frame(ankle, knee, lateral, medial, side, kind)
        shank_right = frame[0][..., :, 2]
        place_frame(out, f"shank{tail}", frame)
        out.joint[..., JOINT_ORDER.index(f"ankle{tail}"), :] = ankle
    heel = landmarks.get(f"calcaneus{tail}")
    inner = landmarks.get(f"metatarsal_1{tail}", landmarks.get(f"metatarsal_2{tail}"))
    outer = landmarks.get(f"metatarsal_5{tail}")
    if heel is None or (inner is None and outer is None):
        out.notes.append((f"foot{tail}", "no foot frame: heel or metatarsals missing"))
        return unknown
    if inner is None or outer is None:
        toe = inner if inner is not None else outer
        assert toe is not None
        level = np.cross(unit(toe - heel), np.array([0.0, 1.0, 0.0]))
        level = 30.0 * unit(level) * np.where(np.sum(level * shank_right, axis=-1, keepdims=True) < 0, -1.0, 1.0)
        inner, outer = toe - sign * level, toe + sign * level
        out.notes.append((f"foot{tail}", "one metatarsal only: the sole is taken as level in the standing trial"))
    place_frame(out, f"foot{tail}", foot_frame(heel, inner, outer, side))
    return unknown


def _centre(
    landmarks: Landmarks,
    bone: str,
    side: Literal["left", "right"],
    width: float | None,
    radius: float,
    above: FloatArray,
    front: str,
) -> tuple[FloatArray, FloatArray | None, str]:
    """Joint centre, the medial point (None: unknown) and what to say about it."""
    tail = f"_{side[0]}"
    lateral = landmarks[f"lateral_{bone}{tail}"]
    medial = landmarks.get(f"medial_{bone}{tail}")
    if medial is not None:
        centre = (knee_centre_mid if bone == "epicondyle" else ankle_centre_mid)(lateral, medial)
        return centre, medial, ""
    if width is not None and front in landmarks:
        centre = centre_from_width_front(lateral, above, landmarks[front], width / 2 + radius, side)
        return centre, 2 * centre - lateral, f"no medial {bone}: centre from the measured width"
    joint = "knee" if bone == "epicondyle" else "ankle"
    return lateral, None, f"no medial {bone} and no usable {joint} width: the lateral marker stands for the {joint}"


def _trunk(out: BodyFrames, landmarks: Landmarks) -> None:
    if {"c7", "t10", "jugular_notch", "xiphoid"} <= landmarks.keys():
        frame = trunk_frame_isb(*(landmarks[n] for n in ("c7", "t10", "jugular_notch", "xiphoid")))
        out.notes.append(("trunk", "trunk frame from C7, T10, jugular notch and xiphoid"))
    elif {"acromion_r", "acromion_l", "c7"} <= landmarks.keys():
        frame = trunk_frame_acromia_c7(*(landmarks[n] for n in ("acromion_r", "acromion_l", "c7")))
        out.notes.append(("trunk", "trunk frame from both acromia and C7"))
    else:
        return
    place_frame(out, "trunk", frame)
