"""How do the bones of one standing person lie over those of another day, told by all landmarks together?

Each bone has a motion of its own from the second session to the first. A landmark holds it as firmly as palpation is
good; at a joint, two bones' motions agree in the joint's place and differ in turn only as far as people stand
differently. So a segment with three landmarks is held by its neighbours, too.
"""

from typing import Final, NamedTuple

import numpy as np
from scipy.spatial.transform import Rotation

from condyle.mechanics.arrays import FloatArray, IntArray, transposed

TURN_MM: Final = 100.0  # a turn counts by what it moves at this distance, so that all unknowns are of one size
FREE_DEG: Final = 40.0  # ours: a bone that nothing holds is hardly held by the first guess either
FREE_MM: Final = 1000.0
_STEPS = 20
_CLOSE = 1e-5  # mm: far below what any camera resolves


class TwoSessions(NamedTuple):
    """The same landmarks on two days in frames that face alike, and how the bones hang together.

    ``joint`` (J, 2) the bones above and below; ``joint_place`` (J, 3) where on the second day; ``turn_axes`` (J, 3, 3)
    columns along which ``turn_sd`` (J, 3) says how differently people stand.
    """

    first: FloatArray  # (P, 3) [mm]
    second: FloatArray  # (P, 3) [mm]
    bones: int  # [1] how many there are
    bone: IntArray  # (P,) [1] the landmark's bone
    palpation: FloatArray  # (P, 3, 3) [mm^2] covariance of second less first by palpation, which a lab may do better
    rest: FloatArray  # (P, 3, 3) [mm^2] what comes to it whoever palpates
    joint: IntArray
    joint_place: FloatArray
    joint_sd: FloatArray  # (J,) [mm]
    turn_axes: FloatArray
    turn_sd: FloatArray  # (J, 3) [rad]


class Laid(NamedTuple):
    """The second day's bones on the first day's: ``first = rotation @ (second - pivot) + pivot + shift``."""

    rotation: FloatArray  # (B, 3, 3) [1]
    shift: FloatArray  # (B, 3) [mm]
    pivot: FloatArray  # (B, 3) [mm] middle of the bone's landmarks on the second day
    cofactor: FloatArray  # (6 B, 6 B) [mm^2] covariance of turn times TURN_MM and shift, bone by bone


def laid_over(two: TwoSessions, scale: float, weight: FloatArray, near: Laid | None = None) -> Laid:
    """Motions of all bones from the second session to the first, by weighted least squares.

    two       : TwoSessions [mm] landmarks and joints
    scale     : () [1] palpation spreads this many times as far as its covariance says
    weight    : (P,) [1] how much a landmark counts beside what its spread says, 0 to 1
    near      : Laid [mm] motions to start from, from another weighing; None starts from no turn
    returns   : Laid [mm] the motions with their covariance
    undefined : nowhere: a bone without landmarks stays within FREE_DEG and FREE_MM of where its joints leave it
    missing   : landmarks with NaN may not be among them
    source    : Gauss-Newton; least-squares adjustment with a-priori weights, as in geodesy (Baarda 1968)
    """
    pivot = _pivots(two)
    rotation = np.tile(np.eye(3), (two.bones, 1, 1))
    start = shift = _first_shift(two, pivot)
    if near is not None:
        rotation, shift = near.rotation, near.shift
    whitener = np.linalg.inv(np.linalg.cholesky(spread(two, scale))) * np.sqrt(weight)[:, None, None]
    for _ in range(_STEPS):
        rows, miss = _equations(two, Laid(rotation, shift, pivot, np.empty(0)), start, whitener)
        normal = rows.T @ rows
        step = -np.linalg.solve(normal, rows.T @ miss).reshape(-1, 2, 3)
        rotation = Rotation.from_rotvec(step[:, 0] / TURN_MM).as_matrix() @ rotation
        shift = shift + step[:, 1]
        if np.abs(step).max() < _CLOSE:
            break
    return Laid(rotation, shift, pivot, np.asarray(np.linalg.inv(normal)))


def spread(two: TwoSessions, scale: float) -> FloatArray:
    """How far each landmark may lie from its place: palpation and the rest together.

    two       : TwoSessions [mm] landmarks and joints
    scale     : () [1] palpation spreads this many times as far as its covariance says
    returns   : (P, 3, 3) [mm^2] covariance of second less first
    undefined : nowhere
    missing   : NaN
    source    : sum of independent errors
    """
    return np.asarray(scale**2 * two.palpation + two.rest)


def carried(laid: Laid, bone: IntArray, place: FloatArray) -> FloatArray:
    """Places of the second day where the bone's motion puts them on the first.

    laid      : Laid [mm] the motions
    bone      : (P,) [1] the bone that carries each
    place     : (P, 3) [mm] places on the second day
    returns   : (P, 3) [mm] places on the first
    undefined : nowhere
    missing   : NaN
    source    : definition
    """
    arm = np.einsum("pij,pj->pi", laid.rotation[bone], place - laid.pivot[bone])
    return np.asarray(arm + laid.pivot[bone] + laid.shift[bone])


def response(laid: Laid, bone: IntArray, place: FloatArray) -> FloatArray:
    """How carried places follow the bones' unknowns, to first order.

    laid      : Laid [mm] the motions
    bone      : (P,) [1] the bone that carries each
    place     : (P, 3) [mm] places on the second day
    returns   : (P, 3, 6 B) [1] change of the place per change of turn times TURN_MM and shift
    undefined : nowhere
    missing   : NaN
    source    : derivative of the turn, d(R u) = w x R u
    """
    arm = np.einsum("pij,pj->pi", laid.rotation[bone], place - laid.pivot[bone]) / TURN_MM
    out = np.zeros((len(place), 3, len(laid.pivot), 2, 3))
    index = np.arange(len(place))
    out[index, :, bone, 0] = -_cross_matrix(arm)
    out[index, :, bone, 1] = np.eye(3)
    return out.reshape(len(place), 3, 6 * len(laid.pivot))


def turned_axes(laid: Laid, first: FloatArray, second: FloatArray) -> FloatArray:
    """Axes of the second session on the bones of the first: how far they are turned against the first session's own.

    laid      : Laid [mm] the motions
    first     : (B, 3, 3) [1] segment axes as columns in the first session, bone by bone
    second    : (B, 3, 3) [1] segment axes in the second session
    returns   : (B, 3) [deg] rotation vector about the first session's anterior, superior and right axis
    undefined : nowhere
    missing   : axes with NaN: NaN
    source    : rotation vector by its definition
    """
    out = np.full((len(first), 3), np.nan)
    known = np.isfinite(first).all(axis=(1, 2)) & np.isfinite(second).all(axis=(1, 2))
    if known.any():
        turn = transposed(first[known]) @ laid.rotation[known] @ second[known]
        out[known] = np.rad2deg(Rotation.from_matrix(turn).as_rotvec())
    return out


def turn_spread(laid: Laid, first: FloatArray) -> FloatArray:
    """How sure the bones' turns are.

    laid      : Laid [mm] the motions
    first     : (B, 3, 3) [1] segment axes as columns in the first session
    returns   : (B, 3) [deg] standard deviation about the anterior, superior and right axis
    undefined : nowhere
    missing   : axes with NaN: NaN
    source    : covariance of the unknowns
    """
    bones = len(laid.pivot)
    blocks = laid.cofactor.reshape(bones, 2, 3, bones, 2, 3)[np.arange(bones), 0, :, np.arange(bones), 0]
    variance = np.einsum("bji,bjk,bki->bi", first, blocks, first) / TURN_MM**2
    return np.asarray(np.rad2deg(np.sqrt(variance)))


def _pivots(two: TwoSessions) -> FloatArray:
    """The middle of each bone's landmarks; without any, that of all."""
    out = np.tile(two.second.mean(axis=0), (two.bones, 1))
    for b in np.unique(two.bone):
        out[b] = two.second[two.bone == b].mean(axis=0)
    return out


def _first_shift(two: TwoSessions, pivot: FloatArray) -> FloatArray:
    """Middles laid on middles."""
    out = np.tile(two.first.mean(axis=0) - two.second.mean(axis=0), (len(pivot), 1))
    for b in np.unique(two.bone):
        out[b] = two.first[two.bone == b].mean(axis=0) - pivot[b]
    return out


def _equations(two: TwoSessions, laid: Laid, start: FloatArray, whitener: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Rows of the linear equations and their misfit: landmarks, joints, turns at joints, the loose hold on all."""
    bones, unknowns = len(laid.pivot), 6 * len(laid.pivot)
    miss = [np.einsum("pij,pj->pi", whitener, carried(laid, two.bone, two.second) - two.first).reshape(-1)]
    rows = [(whitener @ response(laid, two.bone, two.second)).reshape(-1, unknowns)]
    above, below = two.joint.T
    apart = carried(laid, above, two.joint_place) - carried(laid, below, two.joint_place)
    follow = response(laid, above, two.joint_place) - response(laid, below, two.joint_place)
    miss.append((apart / two.joint_sd[:, None]).reshape(-1))
    rows.append((follow / two.joint_sd[:, None, None]).reshape(-1, unknowns))
    between = Rotation.from_matrix(laid.rotation[below] @ transposed(laid.rotation[above])).as_rotvec()
    own = transposed(two.turn_axes) / two.turn_sd[:, :, None]
    miss.append(np.einsum("jik,jk->ji", own, between).reshape(-1))
    turn = np.zeros((len(two.joint), 3, bones, 2, 3))
    index = np.arange(len(two.joint))
    turn[index, :, below, 0] = own / TURN_MM
    turn[index, :, above, 0] = -own / TURN_MM
    rows.append(turn.reshape(-1, unknowns))
    loose = np.concatenate(
        [Rotation.from_matrix(laid.rotation).as_rotvec() / np.deg2rad(FREE_DEG), (laid.shift - start) / FREE_MM], axis=1
    )
    miss.append(loose.reshape(-1))
    rows.append(np.diag(np.tile(np.repeat([1.0 / np.deg2rad(FREE_DEG) / TURN_MM, 1.0 / FREE_MM], 3), bones)))
    return np.concatenate(rows), np.concatenate(miss)


def _cross_matrix(vector: FloatArray) -> FloatArray:
    """(P, 3, 3) matrices of v x."""
    out = np.zeros((*vector.shape, 3))
    x, y, z = vector.T
    out[:, 0, 1], out[:, 0, 2], out[:, 1, 2] = -z, y, -x
    return np.asarray(out - transposed(out))
