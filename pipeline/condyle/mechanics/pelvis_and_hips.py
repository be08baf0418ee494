"""Where are the pelvis frame and the hip centres of a standing person?"""

from typing import Literal

import numpy as np

from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.joint_centres import hip_bell_1990, hip_hara_2016, hip_harrington_2007, reduced_pelvis_depth
from condyle.mechanics.segment_frames import pelvis_frame
from condyle.mechanics.standing_body import JOINT_ORDER, BodyFrames, HipMethod, Landmarks, Sizes, place_frame


def place_pelvis_and_hips(
    out: BodyFrames, landmarks: Landmarks, sizes: Sizes, method: HipMethod, functional: Landmarks
) -> None:
    """Write the pelvis frame and both hip centres into the body, and what was replaced or missing into its notes.

    out        : BodyFrames [mm] changed in place
    landmarks  : name -> (..., 3) [mm] positions in one right-handed frame with y up
    sizes      : Sizes [mm] what was measured on the participant
    method     : word [1] regression, or functional
    functional : name -> (..., 3) [mm] hip_r, hip_l: centres
    returns    : () [1] None
    undefined  : without both ASIS and a back of the pelvis nothing is written but a note
    missing    : a NaN in a landmark makes what rests on it NaN
    source     : ISB, Wu et al. 2002; Harrington et al. 2007; Bell et al. 1990; Hara et al. 2016
    """
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
    place_frame(out, "pelvis", (rotation, origin))
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
