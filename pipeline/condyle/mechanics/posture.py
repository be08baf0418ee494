"""One leg at one moment, as the accounts need it: nine angles, two lines, one turn; the left leg as a right one.

Draws, frames and repetitions are leading dimensions after the first axis. Lines are forward, up, medial.
"""

from typing import NamedTuple

import numpy as np

from condyle.mechanics.arrays import FloatArray, IntArray
from condyle.mechanics.contributions import Division, divided_change, modelled_measures
from condyle.mechanics.joint_angles import clinical_joint, clinical_segment
from condyle.mechanics.joint_angles import thigh_axial_rotation as axial_rotation


class Posture(NamedTuple):
    """Angles (9, ...) of MODEL_ANGLES, lines hip - knee and knee - ankle (3, ...), thigh axial rotation (...)."""

    angles: FloatArray
    thigh_line: FloatArray
    shank_line: FloatArray
    axial: FloatArray

    def at(self, index: IntArray) -> "Posture":
        """The posture at these frames, where frames are the only dimension."""
        return Posture(self.angles[:, index], self.thigh_line[:, index], self.shank_line[:, index], self.axial[index])


def posture_of(
    pelvis: FloatArray, thigh: FloatArray, shank: FloatArray, hip: FloatArray, knee: FloatArray, ankle: FloatArray
) -> Posture:
    """The posture from segment axes and joint centres of a right leg (a left one mirrored).

    pelvis    : (..., 3, 3) [1] axes in the participant frame
    thigh     : (..., 3, 3) [1] axes
    shank     : (..., 3, 3) [1] axes
    hip       : (..., 3) [mm] hip centre
    knee      : (..., 3) [mm] knee centre
    ankle     : (..., 3) [mm] ankle centre
    returns   : Posture [rad, mm, mm, rad]
    undefined : near gimbal lock, see joint_angles
    missing   : NaN in what rests on it
    source    : joint_angles
    """
    rotation, obliquity, tilt = np.moveaxis(clinical_segment(pelvis, "right"), -1, 0)
    hip_angles = np.moveaxis(clinical_joint(np.swapaxes(pelvis, -1, -2) @ thigh, "hip", "right"), -1, 0)
    knee_angles = np.moveaxis(clinical_joint(np.swapaxes(thigh, -1, -2) @ shank, "knee", "right"), -1, 0)
    angles = np.stack([rotation, obliquity, *hip_angles[1:], *knee_angles[1:], tilt, hip_angles[0], knee_angles[0]])
    return Posture(angles, _medial(knee - hip), _medial(ankle - knee), axial_rotation(thigh, "right"))


def measured_of(posture: Posture) -> FloatArray:
    """FPPA, knee medial of the hip centre and thigh axial rotation, from centres and pose.

    posture   : Posture [rad, mm, mm, rad]
    returns   : (3, ...) [rad, mm, rad] contributions.MODEL_MEASURES
    undefined : a line without projected length: tilt 0
    missing   : NaN in what rests on it
    source    : definition
    """
    thigh, shank = posture.thigh_line, posture.shank_line
    fppa = np.arctan2(thigh[2], -thigh[1]) - np.arctan2(shank[2], -shank[1])
    return np.stack(np.broadcast_arrays(fppa, thigh[2], posture.axial))


def turned(posture: Posture, angle: FloatArray | float) -> Posture:
    """The posture as seen by another heading.

    posture   : Posture [rad, mm, mm, rad]
    angle     : (...) [rad] by how much the whole body is turned, the leg's own side forward
    returns   : Posture [rad, mm, mm, rad]
    undefined : nowhere
    missing   : NaN
    source    : definition
    """
    sine, cosine = np.sin(angle), np.cos(angle)

    def line(v: FloatArray) -> FloatArray:
        return np.stack(np.broadcast_arrays(cosine * v[0] - sine * v[2], v[1], sine * v[0] + cosine * v[2]))

    first = posture.angles[0] + angle
    angles = np.stack(np.broadcast_arrays(first, *posture.angles[1:]))
    return Posture(angles, line(posture.thigh_line), line(posture.shank_line), np.asarray(posture.axial + angle))


def divided(
    now: Posture,
    then: Posture,
    standing: Posture,
    turned_standing: FloatArray | float,
    thigh_vector: FloatArray,
    shank_vector: FloatArray,
) -> tuple[Division, Division]:
    """The account from above of the change since the start, and since standing.

    now             : Posture [rad, mm, mm, rad] at the moment that is explained
    then            : Posture [rad, mm, mm, rad] at the start of the repetition
    standing        : Posture [rad, mm, mm, rad] in the standing trial, by its own heading
    turned_standing : (...) [rad] pelvis rotation the standing posture has over the stance foot, by the heading of now
    thigh_vector    : (3, ...) [mm] hip centre to knee centre in the thigh's frame
    shank_vector    : (3, ...) [mm] knee centre to ankle centre in the shank's frame
    returns         : Division, Division [rad, mm, rad] from the start, from standing
    undefined       : as in contributions
    missing         : NaN
    source          : two baselines: ours
    """
    vectors = (thigh_vector, shank_vector)
    measured = measured_of(now)
    from_start = divided_change(
        now.angles, then.angles[:6], modelled_measures(then.angles, *vectors), measured, measured_of(then), *vectors
    )
    baseline = np.stack(np.broadcast_arrays(standing.angles[0] + turned_standing, *standing.angles[1:6]))
    modelled = modelled_measures(standing.angles, *vectors)
    from_standing = divided_change(now.angles, baseline, modelled, measured, measured_of(standing), *vectors)
    return from_start, from_standing


def _medial(vector: FloatArray) -> FloatArray:
    """Forward, up, medial of a right leg, components first."""
    return np.stack([vector[..., 0], vector[..., 1], -vector[..., 2]])
