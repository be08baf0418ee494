"""Do the markers of a segment keep the shape they had in the standing trial, and do segments meet where they did?"""

from typing import NamedTuple

import numpy as np

from condyle.mechanics.arrays import FloatArray, IntArray
from condyle.mechanics.rigid_fit import rigid_fit


class Meeting(NamedTuple):
    """A joint centre as two segments carry it: places in the list of segments, and the centre in their frames."""

    upper: int
    upper_local: FloatArray  # (3,) [mm]
    lower: int
    lower_local: FloatArray  # (3,) [mm]


class Loose(NamedTuple):
    """Landmarks that ride on a segment and slide on it, so that each is told alone."""

    columns: IntArray  # (L,) [1]
    segments: IntArray  # (L,) [1] places in the list of segments
    places: FloatArray  # (L, 3) [mm] in the segment's frame


NONE_LOOSE = Loose(np.zeros(0, np.int64), np.zeros(0, np.int64), np.zeros((0, 3)))


class Rig(NamedTuple):
    """A body as segments of markers: which columns give a pose, which only ride along, and where segments meet."""

    columns: tuple[IntArray, ...]  # per segment (P,) [1] markers that give the pose
    models: tuple[FloatArray, ...]  # per segment (P, 3) [mm] the same in the segment's frame
    riders: tuple[IntArray, ...]  # per segment (Q,) [1] other markers on the segment
    rider_models: tuple[FloatArray, ...]  # per segment (Q, 3) [mm]
    meetings: tuple[Meeting, ...]
    loose: Loose = NONE_LOOSE


class Carried(NamedTuple):
    """What a rig says of recorded markers."""

    rms: FloatArray  # (..., S) [mm] residual of each segment's fit
    rider: FloatArray  # (..., S) [mm] largest distance of a rider from where its segment carries it; NaN without
    gap: FloatArray  # (..., J) [mm] distance between a joint's centre by the upper and by the lower segment
    loose: FloatArray  # (..., L) [mm] distance of each loose landmark from where its segment carries it
    rotation: FloatArray  # (..., S, 3, 3) [1] parent_from_segment
    translation: FloatArray  # (..., S, 3) [mm]


def carried(points: FloatArray, rig: Rig) -> Carried:
    """Poses of a rig's segments, and how well markers and neighbours agree with them.

    points    : (..., M, 3) [mm] markers
    rig       : Rig [mm] which markers make which segment, and their shape in the standing trial
    returns   : Carried [mm] rms of the fit (..., S), riders (..., S), joint gaps (..., J), loose ones (..., L), poses
    undefined : a segment with fewer than 3 seen markers: NaN, also in the gaps it makes
    missing   : a marker with a NaN is not used in that frame
    source    : rigid fit of Soderkvist & Wedin 1993, J Biomech 26:1473; comparing neighbours is ours
    """
    lead, n_segments = points.shape[:-2], len(rig.columns)
    rms = np.full((*lead, n_segments), np.nan)
    rotation = np.full((*lead, n_segments, 3, 3), np.nan)
    translation = np.full((*lead, n_segments, 3), np.nan)
    for alike in _of_equal_size(rig.columns):
        model = np.stack([rig.models[s] for s in alike])  # (s, P, 3)
        measured = np.stack([points[..., rig.columns[s], :] for s in alike], axis=-3)  # (..., s, P, 3)
        fit = rigid_fit(model, measured)
        rms[..., alike], rotation[..., alike, :, :], translation[..., alike, :] = fit.rms, fit.rotation, fit.translation
    return _beside(points, rig, rms, rotation, translation)


def carried_in_orders(points: FloatArray, rig: Rig, orders: IntArray) -> Carried:
    """The same for markers under several orders of names; what orders have in common is fitted once.

    points    : (T, M, 3) [mm] markers
    rig       : Rig [mm] which markers make which segment, and their shape in the standing trial
    orders    : (C, M) [1] orders of columns
    returns   : Carried [mm] of each order, as ``carried`` gives it of ``points[:, order]``: (C, T, ...)
    undefined : as in ``carried``
    missing   : as in ``carried``
    source    : as in ``carried``
    """
    lead, n_segments = (len(orders), len(points)), len(rig.columns)
    rms = np.full((*lead, n_segments), np.nan)
    rotation = np.full((*lead, n_segments, 3, 3), np.nan)
    translation = np.full((*lead, n_segments, 3), np.nan)
    for alike in _of_equal_size(rig.columns):
        own: list[tuple[int, bytes]] = []  # segment and the columns an order gives it
        for s in alike:
            own += [(s, row.tobytes()) for row in np.ascontiguousarray(orders[:, rig.columns[s]])]
        place = {key: k for k, key in enumerate(dict.fromkeys(own))}
        columns = np.stack([np.frombuffer(row, dtype=orders.dtype) for _, row in place])  # (K, P)
        model = np.stack([rig.models[s] for s, _ in place])  # (K, P, 3)
        fit = rigid_fit(model, points[:, columns])
        which = np.array([place[key] for key in own]).reshape(len(alike), -1).T  # (C, s)
        rms[..., alike] = fit.rms[:, which].swapaxes(0, 1)
        rotation[..., alike, :, :] = fit.rotation[:, which].swapaxes(0, 1)
        translation[..., alike, :] = fit.translation[:, which].swapaxes(0, 1)
    return _beside(np.swapaxes(points[:, orders], 0, 1), rig, rms, rotation, translation)


def _beside(points: FloatArray, rig: Rig, rms: FloatArray, rotation: FloatArray, translation: FloatArray) -> Carried:
    """The poses with what they say of riders, joints and loose landmarks."""
    lead = points.shape[:-2]
    rider = np.full((*lead, len(rig.columns)), np.nan)
    for s, columns in enumerate(rig.riders):
        if len(columns):
            placed = rig.rider_models[s] @ np.swapaxes(rotation[..., s, :, :], -1, -2) + translation[..., s, None, :]
            off = np.linalg.norm(points[..., columns, :] - placed, axis=-1)
            rider[..., s] = np.where(np.isnan(off).all(axis=-1), np.nan, np.fmax.reduce(off, axis=-1))
    gap = np.full((*lead, len(rig.meetings)), np.nan)
    for j, m in enumerate(rig.meetings):
        upper = rotation[..., m.upper, :, :] @ m.upper_local + translation[..., m.upper, :]
        lower = rotation[..., m.lower, :, :] @ m.lower_local + translation[..., m.lower, :]
        gap[..., j] = np.linalg.norm(upper - lower, axis=-1)
    on = rig.loose
    placed = (
        np.einsum("...lij,lj->...li", rotation[..., on.segments, :, :], on.places) + translation[..., on.segments, :]
    )
    loose = np.linalg.norm(points[..., on.columns, :] - placed, axis=-1)
    return Carried(rms, rider, gap, loose, rotation, translation)


def _of_equal_size(columns: tuple[IntArray, ...]) -> list[list[int]]:
    """Segments with as many markers each, so that they are fitted in one go."""
    sizes: dict[int, list[int]] = {}
    for s, own in enumerate(columns):
        if len(own) >= 3:
            sizes.setdefault(len(own), []).append(s)
    return list(sizes.values())


def pairs_of(members: IntArray) -> IntArray:
    """Every pair of markers.

    members   : (P,) [1] columns
    returns   : (P (P - 1) / 2, 2) [1] columns of both
    undefined : fewer than two: no pair
    missing   : does not apply
    source    : definition
    """
    first, second = np.triu_indices(len(members), 1)
    return np.stack([np.asarray(members)[first], np.asarray(members)[second]], axis=-1).reshape(-1, 2)


def pair_distances(points: FloatArray, pairs: IntArray) -> FloatArray:
    """Distances between markers.

    points    : (..., M, 3) [mm] markers
    pairs     : (K, 2) [1] columns of both
    returns   : (..., K) [mm] distance
    undefined : nowhere
    missing   : a NaN in either makes it NaN
    source    : definition
    """
    apart = points[..., pairs[:, 0], :] - points[..., pairs[:, 1], :]
    return np.asarray(np.sqrt(np.einsum("...i,...i->...", apart, apart)))


class Moved(NamedTuple):
    """Each marker against the others of its cluster."""

    rms_without: FloatArray  # (P,) [mm] median residual of the fit without that marker
    offset: FloatArray  # (P,) [mm] median distance of that marker from where the others carry it


def leave_one_out(model: FloatArray, measured: FloatArray) -> Moved:
    """Which marker moved: the fit is good without it, and the others carry its old place away from it.

    model     : (P, 3) [mm] the cluster in the standing trial
    measured  : (T, P, 3) [mm] the same markers in a movement
    returns   : Moved [mm] (P,) residual without each marker, (P,) its distance from where the others carry it
    undefined : fewer than 4 markers, or the others in one line: NaN
    missing   : a frame counts where 3 others are seen
    source    : jackknife; its use here is ours
    """
    n = len(model)
    rms, offset = np.full(n, np.nan), np.full(n, np.nan)
    if n < 4:
        return Moved(rms, offset)
    others = np.array([[q for q in range(n) if q != p] for p in range(n)])
    fit = rigid_fit(model[others], measured[:, others])  # (T, P): without each marker
    away = np.linalg.norm(measured - (fit.translation + np.einsum("tpij,pj->tpi", fit.rotation, model)), axis=-1)
    for p in range(n):
        if len(known := fit.rms[np.isfinite(fit.rms[:, p]), p]):
            rms[p] = np.median(known)
        if len(known := away[np.isfinite(away[:, p]), p]):
            offset[p] = np.median(known)
    return Moved(rms, offset)
