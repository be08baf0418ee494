"""What a standing person is described by: measured sizes, segment frames, joint centres, and notes on what was replaced."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from condyle.mechanics.arrays import FloatArray

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


def place_frame(out: BodyFrames, segment: str, frame: tuple[FloatArray, FloatArray]) -> None:
    """Write a segment's frame into the body.

    out       : BodyFrames [mm] changed in place
    segment   : word [1] of SEGMENT_ORDER
    frame     : (..., 3, 3) [1] and (..., 3) [mm] axes as columns, and origin
    returns   : () [1] None
    undefined : another word raises ValueError
    missing   : a NaN stays
    source    : not applicable
    """
    index = SEGMENT_ORDER.index(segment)
    out.rotation[..., index, :, :], out.origin[..., index, :] = frame
