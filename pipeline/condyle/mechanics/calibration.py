"""Where are the segment frames and joint centres of a standing person, given what markers the set has?

Every array may carry leading dimensions (Monte Carlo draws); what is missing for a frame leaves it NaN and says so in
``notes``, a word list that the calibrate stage turns into findings.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from condyle.mechanics.arrays import FloatArray, unit
from condyle.mechanics.joint_centres import (
    ankle_centre_mid,
    centre_from_width_front,
    hip_bell_1990,
    hip_hara_2016,
    hip_harrington_2007,
    knee_centre_mid,
    reduced_pelvis_depth,
)
from condyle.mechanics.segment_frames import (
    foot_frame,
    pelvis_frame,
    shank_frame,
    thigh_frame,
    trunk_frame_acromia_c7,
    trunk_frame_isb,
)

SEGMENT_ORDER = ("trunk", "pelvis", "thigh_l", "thigh_r", "shank_l", "shank_r", "foot_l", "foot_r")
JOINT_ORDER = ("hip_l", "hip_r", "knee_l", "knee_r", "ankle_l", "ankle_r")
HipMethod = Literal["harrington_2007", "bell_1990", "hara_2016", "functional"]
ShankKind = Literal["malleoli", "epicondyles", "isb"]
Landmarks = Mapping[str, FloatArray]


@dataclass(frozen=True)
class Sizes:
    """Sizes measured on the participant, mm; None where not measured. Leg, knee and ankle as (left, right)."""

    leg_length: tuple[float | None, float | None] = (None, None)
    knee_width: tuple[float | None, float | None] = (None, None)
    ankle_width: tuple[float | None, float | None] = (None, None)
    inter_asis: float | None = None
    marker_diameter: float | None = None
    asis_depth: float | None = None
    psis_depth: float | None = None


@dataclass
class BodyFrames:
    """Segment frames and joint centres in the frame of the landmarks.

    ``rotation`` (..., 8, 3, 3) columns anterior, superior, right; ``origin`` (..., 8, 3) mm; ``joint`` (..., 6, 3) mm;
    ``knee_unknown`` and ``ankle_unknown`` (left, right): no medial point and no width, so that the lateral marker stands for
    the centre, and the turn about the thigh's (shank's) own axis is not known;
    ``notes``: (subject, what) for everything that was replaced or could not be had.
    """

    rotation: FloatArray
    origin: FloatArray
    joint: FloatArray
    knee_unknown: tuple[bool, bool] = (False, False)
    ankle_unknown: tuple[bool, bool] = (False, False)
    notes: list[tuple[str, str]] = field(default_factory=list)


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
    _pelvis_and_hips(out, landmarks, sizes, hip_method, functional)
    unknown = [_leg(out, landmarks, sizes, shank_kind, functional, s) for s in (0, 1)]
    out.knee_unknown = (unknown[0][0], unknown[1][0])
    out.ankle_unknown = (unknown[0][1], unknown[1][1])
    _trunk(out, landmarks)
    return out


def _place(out: BodyFrames, segment: str, frame: tuple[FloatArray, FloatArray]) -> None:
    index = SEGMENT_ORDER.index(segment)
    out.rotation[..., index, :, :], out.origin[..., index, :] = frame


def _pelvis_and_hips(
    out: BodyFrames, landmarks: Landmarks, sizes: Sizes, method: HipMethod, functional: Landmarks
) -> None:
    if missing := [name for name in ("asis_r", "asis_l") if name not in landmarks]:
        out.notes.append(("pelvis", f"no pelvis frame: {' and '.join(missing)} missing"))
        return
    right, left = landmarks["asis_r"], landmarks["asis_l"]
    back = mid_back(landmarks)
    if back is None:
        out.notes.append(("pelvis", "no pelvis frame: neither both PSIS nor the sacrum"))
        return
    if "psis_r" not in landmarks or "psis_l" not in landmarks:
        out.notes.append(("pelvis", "the sacrum stands in for the mid-PSIS"))
    rotation, origin = pelvis_frame(right, left, back)
    _place(out, "pelvis", (rotation, origin))
    width = np.linalg.norm(right - left, axis=-1)
    width = np.full_like(width, sizes.inter_asis) if sizes.inter_asis else width
    depth = np.linalg.norm(origin - back, axis=-1)
    if sizes.marker_diameter is not None and sizes.asis_depth is not None and sizes.psis_depth is not None:
        depth = reduced_pelvis_depth(depth, sizes.marker_diameter / 2, sizes.asis_depth, sizes.psis_depth)
    sides: tuple[Literal["left", "right"], ...] = ("left", "right")
    for s, side in enumerate(sides):
        name = f"hip_{side[0]}"
        if method == "functional" and name in functional:
            out.joint[..., JOINT_ORDER.index(name), :] = functional[name]
            continue
        if method == "hara_2016":
            leg = _clinical_leg_length(landmarks, sizes, s)
            if leg is None:
                out.notes.append((name, "no hip centre: hara_2016 needs a leg length or the malleoli"))
                continue
            local = hip_hara_2016(leg, side)
        elif method == "bell_1990":
            local = hip_bell_1990(width, side)
        else:
            if method == "functional":
                out.notes.append((name, "no functional trial for this hip: harrington_2007 was used"))
            local = hip_harrington_2007(width, depth, side)
        out.joint[..., JOINT_ORDER.index(name), :] = origin + np.einsum("...ij,...j->...i", rotation, local)


def mid_back(landmarks: Landmarks) -> FloatArray | None:
    """The mid-PSIS, or the sacrum where a PSIS is not in the set.

    landmarks : name -> (..., 3) [mm] positions
    returns   : (..., 3) [mm] position, or None
    undefined : None where neither is there
    missing   : a NaN stays
    source    : ISB, Wu et al. 2002
    """
    if "psis_r" in landmarks and "psis_l" in landmarks:
        return 0.5 * (landmarks["psis_r"] + landmarks["psis_l"])
    return landmarks.get("sacrum")


def _clinical_leg_length(landmarks: Landmarks, sizes: Sizes, s: int) -> FloatArray | None:
    """Measured, else ASIS - medial epicondyle - medial malleolus in the standing trial."""
    tail = "_lr"[1 + s]
    if (measured := sizes.leg_length[s]) is not None:
        return np.asarray(measured, dtype=float)
    ankle = landmarks.get(f"medial_malleolus_{tail}")
    knee = landmarks.get(f"medial_epicondyle_{tail}")
    if ankle is None:
        return None
    hip = landmarks[f"asis_{tail}"]
    if knee is None:
        return np.asarray(np.linalg.norm(hip - ankle, axis=-1))
    return np.asarray(np.linalg.norm(hip - knee, axis=-1) + np.linalg.norm(knee - ankle, axis=-1))


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
        _place(out, f"thigh{tail}", frame)
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
        _place(out, f"shank{tail}", frame)
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
    _place(out, f"foot{tail}", foot_frame(heel, inner, outer, side))
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
    _place(out, "trunk", frame)
