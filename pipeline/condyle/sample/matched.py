"""The matched pair: two people whose patella and frontal-plane angle look the same and whose cause is not.

One turns the pelvis and the hip hardly rotates; the other adducts and rotates inwards at the hip. The hip member's two
angles are solved at every depth so that the patella's medial place over the foot and the FPPA are those of the pelvis
member; internal rotation leads adduction. Thigh 420, shank 410 mm, pelvis +22: adduction 16.6, internal rotation 13.8.
"""

import numpy as np
from scipy.optimize import least_squares

from condyle.sample.bones import upright_start
from condyle.sample.movements import CHECK_DEPTH, Movement
from condyle.sample.person import Person, check_person
from condyle.sample.truth import fppa_degrees
from condyle.sample.turning import MIRROR, Array, joint_matrix, moved, upright_matrix

_STEPS = 81


def frontal_look(person: Person, pelvis_rotation: float, hip: tuple[float, float], share: float) -> Array:
    """FPPA (deg) and the patella's place inwards of and above the ankle (mm), the way down done by ``share``.

    ``hip``: adduction and internal rotation added to the person's stance on one leg.
    """
    side = "right"
    base = upright_start(person)
    now = {
        name: base.get(name, 0.0) + CHECK_DEPTH[name] * share for name in ("pelvis_tilt", "hip_flexion", "knee_flexion")
    }
    adduction = base.get("hip_adduction", 0.0) + hip[0]
    pelvis = upright_matrix("pelvis", side, pelvis_rotation, 0.0, now["pelvis_tilt"])
    inwards = base["hip_internal_rotation"] + hip[1]
    thigh = pelvis @ joint_matrix("hip", side, now["hip_flexion"], adduction, inwards)
    shank = thigh @ joint_matrix(
        "knee", side, now["knee_flexion"], base["knee_adduction"], base["knee_internal_rotation"]
    )
    knee = person.shank_mm * shank[:, 1]
    patella = knee + moved(thigh, person.points["patella_r"][1])
    fppa = fppa_degrees(side, knee + person.thigh_mm * thigh[:, 1], knee, np.zeros(3))
    return np.array([float(fppa), -MIRROR[side] * patella[2], patella[1]])


def matched_pair(person: Person | None = None, pelvis_rotation: float = 22.0) -> tuple[Movement, Movement]:
    """The hip member and the pelvis member, as movements of ``person`` (default: the check person)."""
    someone = person or check_person()
    shares = np.linspace(0.0, 1.0, _STEPS)
    solved = np.zeros((_STEPS, 2))
    for k, share in enumerate(shares[1:], start=1):
        wanted = frontal_look(someone, pelvis_rotation * share, (0.0, 0.0), float(share))[:2]

        def apart(hip: Array, share: float = float(share), wanted: Array = wanted) -> Array:
            there: Array = frontal_look(someone, 0.0, (float(hip[0]), float(hip[1])), share)[:2] - wanted
            return there

        solved[k] = least_squares(apart, solved[k - 1], xtol=1e-12, ftol=1e-12, gtol=1e-12).x
    trunk = {"trunk_lean": 3.0}
    hip_member = Movement(
        "matched_hip",
        "as matched_pelvis to a kneecap-only view, but the femur adducts and rotates inwards at the hip",
        trunk,
        sagittal=dict(CHECK_DEPTH),
        courses={
            "hip_adduction": np.stack([shares, solved[:, 0]], axis=1),
            "hip_internal_rotation": np.stack([shares, solved[:, 1]], axis=1),
        },
    )
    pelvis_member = Movement(
        "matched_pelvis",
        "the pelvis turns and carries the thigh; the hip does not rotate",
        {"pelvis_rotation": pelvis_rotation, **trunk},
        sagittal=dict(CHECK_DEPTH),
    )
    return hip_member, pelvis_member
