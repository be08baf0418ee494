"""What sides, segments, joints, angles and landmarks are called; and which segment carries which landmark and joint."""

SIDES = ("left", "right")
SUFFIX = {"left": "_l", "right": "_r"}
AXES = ("x", "y", "z")
SEGMENT_AXES = ("anterior", "superior", "right")
SEGMENTS = ("trunk", "pelvis", "thigh_l", "thigh_r", "shank_l", "shank_r", "foot_l", "foot_r")
JOINTS = ("hip_l", "hip_r", "knee_l", "knee_r", "ankle_l", "ankle_r")

CONTRACT_ANGLES = (
    *("hip_flexion", "hip_adduction", "hip_internal_rotation"),
    *("knee_flexion", "knee_adduction", "knee_internal_rotation"),
    *("ankle_dorsiflexion", "ankle_inversion", "ankle_internal_rotation"),
    *("pelvis_rotation", "pelvis_obliquity", "pelvis_tilt"),
    *("trunk_rotation", "trunk_lean", "trunk_flexion"),
    *("thigh_axial_rotation", "fppa"),
)
JOINT_ANGLES = (
    *CONTRACT_ANGLES,
    *("trunk_rotation_to_pelvis", "trunk_lean_to_pelvis", "trunk_flexion_to_pelvis"),
    *("shoulder_line_tilt", "shoulder_line_rotation", "trunk_line_lean", "trunk_line_flexion"),
    "fppa_lateral_markers",
)
ANGLE_WORDS = {
    "hip_flexion": "hip flexion; positive is flexion; first angle of Z-X'-Y'' of the thigh in the pelvis",
    "hip_adduction": "hip adduction; positive is adduction; second angle",
    "hip_internal_rotation": "hip rotation; positive is internal; third angle",
    "knee_flexion": "knee flexion; positive is flexion; first angle of Z-X'-Y'' of the shank in the thigh",
    "knee_adduction": "knee adduction; positive is adduction (varus); second angle",
    "knee_internal_rotation": "knee rotation; positive is internal; third angle",
    "ankle_dorsiflexion": "ankle dorsiflexion; positive is dorsiflexion; first angle of Z-X'-Y'' of the foot in the shank",
    "ankle_inversion": "ankle inversion; positive is inversion; second angle",
    "ankle_internal_rotation": "ankle rotation; positive is internal; third angle",
    "pelvis_rotation": "pelvis rotation; positive is this side forward; first angle of Y-X'-Z'' of the pelvis",
    "pelvis_obliquity": "pelvis obliquity; positive is this side up; second angle",
    "pelvis_tilt": "pelvis tilt; positive is anterior; third angle",
    "trunk_rotation": "trunk rotation; positive is this side forward; first angle of Y-X'-Z'' of the trunk",
    "trunk_lean": "trunk lean; positive is towards this side; second angle",
    "trunk_flexion": "trunk flexion; positive is forward; third angle",
    "thigh_axial_rotation": "thigh axial rotation in the participant frame; positive is internal; first of Y-X'-Z''",
    "fppa": "frontal-plane projection angle, hip - knee - ankle centre; positive is the knee medial of the line",
    "trunk_rotation_to_pelvis": "trunk rotation in the pelvis; positive is this side forward",
    "trunk_lean_to_pelvis": "trunk lean in the pelvis; positive is towards this side",
    "trunk_flexion_to_pelvis": "trunk flexion in the pelvis; positive is forward",
    "shoulder_line_tilt": "line of the acromia in the frontal plane; positive is this side down",
    "shoulder_line_rotation": "line of the acromia in the transverse plane; positive is this side forward",
    "trunk_line_lean": "line from mid hip centres to C7 or mid-acromia, frontal plane; positive is towards this side",
    "trunk_line_flexion": "the same line in the sagittal plane; positive is forward",
    "fppa_lateral_markers": "projection angle with the lateral marker of knee or ankle where the set gives no centre: off by "
    "some 10 to 20 degrees, so only changes compare; positive is the knee medial of the line",
}

_PAIRED = (
    *("asis", "psis", "iliac_crest", "greater_trochanter", "lateral_epicondyle", "medial_epicondyle", "patella"),
    *("tibial_tuberosity", "lateral_malleolus", "medial_malleolus", "calcaneus"),
    *("metatarsal_1", "metatarsal_2", "metatarsal_5", "acromion"),
)
LANDMARKS = (
    *(f"{name}{suffix}" for name in _PAIRED for suffix in ("_r", "_l")),
    *("sacrum", "c7", "t10", "jugular_notch", "xiphoid"),
)
LANDMARK_SEGMENT = {
    **{f"{n}{s}": "pelvis" for n in ("asis", "psis", "iliac_crest") for s in ("_r", "_l")},
    "sacrum": "pelvis",
    **{
        f"{n}{s}": f"thigh{s}"
        for n in ("greater_trochanter", "lateral_epicondyle", "medial_epicondyle", "patella")
        for s in ("_r", "_l")
    },
    **{
        f"{n}{s}": f"shank{s}"
        for n in ("tibial_tuberosity", "lateral_malleolus", "medial_malleolus")
        for s in ("_r", "_l")
    },
    **{
        f"{n}{s}": f"foot{s}"
        for n in ("calcaneus", "metatarsal_1", "metatarsal_2", "metatarsal_5")
        for s in ("_r", "_l")
    },
    **{n: "trunk" for n in ("acromion_r", "acromion_l", "c7", "t10", "jugular_notch", "xiphoid")},
}
JOINT_SEGMENTS = {  # the segments whose frames carry the joint's centre: the one above, the one below
    **{f"hip{s}": ("pelvis", f"thigh{s}") for s in ("_l", "_r")},
    **{f"knee{s}": (f"thigh{s}", f"shank{s}") for s in ("_l", "_r")},
    **{f"ankle{s}": (f"shank{s}", f"foot{s}") for s in ("_l", "_r")},
}
