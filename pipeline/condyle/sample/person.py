"""A person: lengths, landmarks and plates on the bones, and how this person stands.

Coordinates are mm in the segment's own axes (forward, up, right). Origins: pelvis mid-ASIS, thigh knee centre, shank
ankle centre, foot heel marker, trunk jugular notch. The axes are the anatomical ones that a processing tool would
calibrate: they are made from the landmarks here, by cross products of our own. Sizes: proportions of height as commonly
drawn, from memory; thigh 420 and shank 410 mm at a height of 1720 mm.
"""

from dataclasses import dataclass, field, replace

import numpy as np

from condyle.sample.turning import MIRROR, SIDES, SUFFIX, Array, frame_from, turned

STATIC_ONLY = ("medial_epicondyle", "medial_malleolus", "greater_trochanter")
PLATES = ("thigh", "shank")


@dataclass(frozen=True)
class Posture:
    """How the person stands on both feet, degrees and mm; the torsion of the shank shows as knee rotation."""

    pelvis_tilt: float = 10.0
    pelvis_obliquity: float = 0.0  # of the right side
    trunk_flexion: float = 2.0
    hip_internal_rotation: float = 0.0
    knee_adduction: float = 0.0
    knee_internal_rotation: float = 0.0
    knee_flexion: float = 3.0
    toe_out: float = 8.0
    feet_apart_mm: float = 180.0
    hip_ahead_of_ankle_mm: float = 25.0
    one_leg_adduction: float = 3.0  # on one leg the pelvis goes over the foot ...
    one_leg_lean: float = 6.0  # ... and the trunk leans over it, or the person would fall


@dataclass(frozen=True)
class Person:
    """Bones with landmarks: ``points`` maps a name to its segment and its place in it, ``joints`` likewise."""

    name: str
    sex: str
    height_mm: float
    mass_kg: float
    thigh_mm: float
    shank_mm: float
    pelvis_width_mm: float
    pelvis_depth_mm: float
    points: dict[str, tuple[str, Array]]
    hip_centre: dict[str, Array]  # in the pelvis
    ankle_in_foot: dict[str, Array]
    sole_from_foot: dict[str, tuple[Array, Array]]  # axes and origin of the foot in the sole's axes, flat on the floor
    lumbar_in_pelvis: Array
    lumbar_in_trunk: Array
    posture: Posture = field(default_factory=Posture)


def hip_centre_harrington(width: float, depth: float, side: str) -> Array:
    """Where Harrington et al. 2007 (J Biomech 40:595) put the hip centre, from mid-ASIS, in pelvis axes.

    Their regression counts backwards from the ASIS with the pelvis' depth, down and outwards with its width.
    """
    backwards = 0.24 * depth + 9.9
    below = 0.30 * width + 10.9
    outwards = 0.33 * width + 7.3
    return np.array([-backwards, -below, MIRROR[side] * outwards])


def _sided(side: str, xyz: tuple[float, float, float]) -> Array:
    """A place given for the right side (z outwards)."""
    return np.array([xyz[0], xyz[1], MIRROR[side] * xyz[2]])


def _pelvis_points(width: float, depth: float, side: str) -> dict[str, Array]:
    return {
        "asis": _sided(side, (0, 0, width / 2)),
        "psis": _sided(side, (-depth, 0, 0.19 * width)),
        "iliac_crest": _sided(side, (-0.42 * depth, 75, width / 2 + 18)),
    }


def _thigh_points(length: float, side: str) -> dict[str, Array]:
    middle = 0.46 * length
    plate = [(40, 52, 80), (-12, 44, 92), (46, -48, 73), (-4, -56, 87)]
    return {
        "greater_trochanter": _sided(side, (-6, length - 8, 78)),
        "lateral_epicondyle": _sided(side, (0, 2, 49)),
        "medial_epicondyle": _sided(side, (0, -2, -49)),
        "patella": _sided(side, (50, 14, 2)),
        **{f"thigh_{i}": _sided(side, (x, middle + y, z)) for i, (x, y, z) in enumerate(plate, start=1)},
    }


def _shank_points(length: float, side: str, torsion: float) -> dict[str, Array]:
    middle = 0.52 * length
    plate = [(36, 44, 46), (-6, 50, 60), (33, -46, 40), (-9, -40, 53)]
    front = turned("y", MIRROR[side] * torsion) @ _sided(side, (48, length - 58, 4))  # faces as the knee does
    return {
        "tibial_tuberosity": front,
        "lateral_malleolus": _sided(side, (0, -5, 36)),
        "medial_malleolus": _sided(side, (0, 5, -36)),
        **{f"shank_{i}": _sided(side, (x, middle + y, z)) for i, (x, y, z) in enumerate(plate, start=1)},
    }


_SOLE = {  # on the floor, below the ankle centre, mm at a height of 1720: x along the foot, y up, z outwards
    "calcaneus": (-56, 31, 0),
    "metatarsal_1": (116, 36, -38),
    "metatarsal_2": (130, 44, -10),
    "metatarsal_5": (98, 24, 46),
    "ankle": (0, 76, 0),
}


def _foot(side: str, scale: float) -> tuple[dict[str, Array], Array, Array, Array]:
    """Foot landmarks and ankle centre in the foot's axes, then those axes and their origin in the sole's."""
    sole = {name: scale * _sided(side, xyz) for name, xyz in _SOLE.items()}
    heel, first, fifth = sole["calcaneus"], sole["metatarsal_1"], sole["metatarsal_5"]
    axes = frame_from((first + fifth) / 2 - heel, MIRROR[side] * (fifth - first))
    local = {name: axes.T @ (place - heel) for name, place in sole.items()}
    ankle = local.pop("ankle")
    return local, ankle, axes, heel


def _trunk(scale: float) -> tuple[dict[str, Array], Array]:
    """Trunk landmarks and the joint with the pelvis, in thorax axes (ISB, Wu et al. 2005)."""
    raw = {
        "jugular_notch": (0, 0, 0),
        "c7": (-115, 62, 0),
        "xiphoid": (22, -180, 0),
        "t10": (-178, -205, 0),
        "acromion_r": (-58, 12, 176),
        "acromion_l": (-58, 12, -176),
        "lumbar": (-95, -405, 0),
    }
    place = {name: scale * np.array(xyz, dtype=np.float64) for name, xyz in raw.items()}
    up = (place["jugular_notch"] + place["c7"] - place["xiphoid"] - place["t10"]) / 2
    up /= np.linalg.norm(up)
    right = np.array([0.0, 0.0, 1.0])
    axes = np.stack([np.cross(up, right), up, right], axis=-1)
    local = {name: axes.T @ xyz for name, xyz in place.items()}
    lumbar = local.pop("lumbar")
    return local, lumbar


def build_person(
    name: str = "MR01",
    *,
    sex: str = "female",
    height_mm: float = 1720.0,
    mass_kg: float = 68.0,
    thigh_mm: float | None = None,
    shank_mm: float | None = None,
    pelvis_width_mm: float = 240.0,
    pelvis_depth_mm: float = 180.0,
    hip_offset_mm: dict[str, Array] | None = None,
    posture: Posture | None = None,
) -> Person:
    """A person of these sizes. ``hip_offset_mm`` moves the true hip centres away from the regression's place."""
    stance = posture or Posture()
    thigh = 420.0 / 1720.0 * height_mm if thigh_mm is None else thigh_mm
    shank = 410.0 / 1720.0 * height_mm if shank_mm is None else shank_mm
    scale = height_mm / 1720.0
    points: dict[str, tuple[str, Array]] = {}
    ankles, soles, hips = {}, {}, {}
    for side in SIDES:
        end = SUFFIX[side]
        foot, ankles[side], axes, heel = _foot(side, scale)
        soles[side] = (axes, heel)
        offset = (hip_offset_mm or {}).get(side, np.zeros(3))
        hips[side] = hip_centre_harrington(pelvis_width_mm, pelvis_depth_mm, side) + offset
        groups = {
            "pelvis": _pelvis_points(pelvis_width_mm, pelvis_depth_mm, side),
            f"thigh{end}": _thigh_points(thigh, side),
            f"shank{end}": _shank_points(shank, side, -stance.knee_internal_rotation),
            f"foot{end}": foot,
        }
        for segment, places in groups.items():
            points.update({f"{point}{end}": (segment, xyz) for point, xyz in places.items()})
    trunk, lumbar = _trunk(scale)
    points.update({point: ("trunk", xyz) for point, xyz in trunk.items()})
    return Person(
        *(name, sex, height_mm, mass_kg, thigh, shank, pelvis_width_mm, pelvis_depth_mm, points, hips, ankles, soles),
        lumbar_in_pelvis=np.array([-0.7 * pelvis_depth_mm, 12.0, 0.0]),
        lumbar_in_trunk=lumbar,
        posture=stance,
    )


def check_person(name: str = "MR00") -> Person:
    """Thigh 420 and shank 410 mm, and straight angles where other people have their own: for checks by hand."""
    straight = Posture(pelvis_tilt=8.0, trunk_flexion=0.0, feet_apart_mm=173.0, one_leg_adduction=0.0, one_leg_lean=0.0)
    return build_person(name, thigh_mm=420.0, shank_mm=410.0, posture=straight)


def random_person(name: str, rng: np.random.Generator, *, hip_centre_sd_mm: float = 0.0) -> Person:
    """A healthy adult of the rescue team; hip centres off the regression's place by the given SD per axis."""
    sex = "female" if rng.random() < 0.5 else "male"
    height = float(np.clip(rng.normal(1680 if sex == "female" else 1790, 60), 1500, 1980))
    mass = float(np.clip(rng.normal(22.8, 2.0), 18.0, 29.0)) * (height / 1000.0) ** 2
    posture = replace(
        Posture(),
        pelvis_tilt=float(np.clip(rng.normal(10, 3), 2, 18)),
        pelvis_obliquity=float(rng.normal(0, 0.8)),
        trunk_flexion=float(rng.normal(2, 2)),
        hip_internal_rotation=float(rng.normal(0, 3)),
        knee_adduction=float(rng.normal(0, 1.5)),
        knee_internal_rotation=float(np.clip(rng.normal(-12, 4), -24, 0)),
        knee_flexion=float(np.clip(rng.normal(4, 1), 2, 7)),
        toe_out=float(np.clip(rng.normal(8, 3), 0, 18)),
        feet_apart_mm=float(np.clip(rng.normal(190, 20), 140, 240)),
        one_leg_adduction=float(np.clip(rng.normal(2.5, 0.8), 0, 5)),
        one_leg_lean=float(np.clip(rng.normal(7, 1.5), 2, 11)),
    )
    ratio = height / 1720.0
    offset = {side: rng.normal(0, hip_centre_sd_mm, 3) if hip_centre_sd_mm else np.zeros(3) for side in SIDES}
    return build_person(
        *(name,),
        sex=sex,
        height_mm=round(height),
        mass_kg=round(mass, 1),
        thigh_mm=float(420 * ratio + rng.normal(0, 8)),
        shank_mm=float(410 * ratio + rng.normal(0, 8)),
        pelvis_width_mm=float(np.clip(rng.normal(242, 14), 205, 280)),
        pelvis_depth_mm=float(np.clip(rng.normal(172, 10), 145, 200)),
        hip_offset_mm=offset,
        posture=posture,
    )
