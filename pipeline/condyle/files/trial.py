"""From a recording to a trial: the marker set's points in its own order, the vertical turned up, identity attached."""

from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any

import numpy as np
import xarray as xr

from condyle.body_names import JOINTS, SEGMENTS
from condyle.files.c3d import Recording
from condyle.files.labels import collapse_duplicates, extra_labels, match_labels
from condyle.files.marker_set import MarkerSet
from condyle.files.point_kinds import MARKER
from condyle.files.reading_limits import Limits
from condyle.findings import Finding
from condyle.mechanics.arrays import BoolArray, FloatArray
from condyle.mechanics.vertical import vertical_rotation
from condyle.trial_data import FIXED_COORDINATES, put


def trial_from(
    recording: Recording,
    markers: MarkerSet,
    identity: Mapping[str, Any],
    vertical: str = "+Z",
    leave_out: Sequence[str] = (),
    limits: Limits | None = None,
) -> tuple[xr.Dataset, list[Finding]]:
    """The trial of a recording, every point of the marker set present (NaN where not seen), y up.

    ``identity`` becomes the trial's attributes; ``leave_out`` names labels whose samples are taken out on the user's word,
    ``limits`` are those of reading.
    """
    matched = match_labels(recording.labels, markers.labels, markers.prefix, str(identity["participant"]))
    point, doubled = collapse_duplicates(recording.points, matched, markers.labels, limits)
    for label in leave_out:
        if label in markers.labels:
            point[:, markers.labels.index(label)] = np.nan
    tracking, kinds = _tracking(markers)
    body_points = [*markers.points, *JOINTS]
    up = upright(point, vertical)
    trial = xr.Dataset(attrs={**identity, "rate_hz": recording.rate_hz, "first_frame": recording.first_frame})
    trial = put(
        trial,
        {
            "time": np.arange(len(point)) / recording.rate_hz,
            "marker": np.array(markers.points, dtype="U"),
            "label": np.array(markers.labels, dtype="U"),
            "body_point": np.array(body_points, dtype="U"),
            **FIXED_COORDINATES,
        },
        point=up,
        tracking=tracking,
        segment_kind=kinds,
        static_only=np.isin(markers.points, markers.static_points),
    )
    if recording.forces:
        trial = put(trial, centre_of_pressure=upright(_pressure(recording), vertical))
    named = {label for label, kind in zip(recording.labels, recording.kinds, strict=True) if kind == MARKER}
    extra = extra_labels(matched, named, recording.prefixes)
    found = [*recording.findings, *matched.findings, *extra, *doubled]
    return trial, list(dict.fromkeys(found))  # a doubled label is found twice


_LEAST_NEWTON = 20.0  # ours: below, the centre of pressure is the quotient of two noises


def _pressure(recording: Recording) -> FloatArray:
    """Centre of pressure (frames, 3) of all plates together, weighted by their force, mean over a frame's samples."""
    frames = recording.points.shape[0]
    weighted, weight = np.zeros((frames, 3)), np.zeros(frames)
    for plate in recording.forces or ():
        per_frame = max(1, len(plate.force) // frames)
        used = frames * per_frame
        if len(plate.force) < used:
            continue
        load = np.linalg.norm(plate.force[:used], axis=-1)
        centre = plate.centre_of_pressure[:used]
        load = np.where((load >= _LEAST_NEWTON) & np.isfinite(centre).all(axis=-1), load, 0.0)
        centre = np.where(load[:, None] > 0, centre, 0.0)
        weighted += (load[:, None] * centre).reshape(frames, per_frame, 3).sum(axis=1)
        weight += load.reshape(frames, per_frame).sum(axis=1)
    carried = weight > 0
    return np.where(carried[:, None], weighted / np.where(carried, weight, 1.0)[:, None], np.nan)


def upright(point: FloatArray, vertical: str) -> FloatArray:
    """Positions (..., 3) with the file's vertical turned to +y: columns exchanged and signed, exact."""
    rotation = vertical_rotation(vertical)
    source = np.abs(rotation).argmax(axis=1)
    return np.ascontiguousarray(point[..., source] * rotation[np.arange(3), source])


def _tracking(markers: MarkerSet) -> tuple[BoolArray, np.ndarray[Any, Any]]:
    return _tracking_of(markers.points, tuple((markers.tracking_points(s), markers.kind(s)) for s in SEGMENTS))


@lru_cache(maxsize=8)
def _tracking_of(
    points: tuple[str, ...], segments: tuple[tuple[tuple[str, ...], str], ...]
) -> tuple[BoolArray, np.ndarray[Any, Any]]:
    names = [*points, *JOINTS]
    table = np.array([[n in tracked for n in names] for tracked, _ in segments], dtype=bool)
    return table, np.array([kind for _, kind in segments], dtype="U5")
