"""Every name that a trial may carry: coordinates, variables, units and signs, once.

A trial is an ``xarray.Dataset``. A stage adds to it with :func:`put`, which refuses what stands not here; the attributes of
the NetCDF files and the dictionary in the docs come from these tables.
"""

from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr

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


@dataclass(frozen=True, slots=True)
class Entry:
    """One variable or coordinate: its dimensions, kind of number ('f', 'i', 'b', 'U'), unit, and what it is."""

    dims: tuple[str, ...]
    kind: str
    unit: str
    words: str


COORDINATES: dict[str, Entry] = {
    "time": Entry(("time",), "f", "s", "time from the file's own first frame"),
    "marker": Entry(("marker",), "U", "", "anatomical name where the marker set gives one, else the lab's label"),
    "label": Entry(("marker",), "U", "", "the lab's label of the marker"),
    "axis": Entry(("axis",), "U", "", "x anterior, y superior, z to the participant's right"),
    "segment": Entry(("segment",), "U", "", "segment"),
    "segment_axis": Entry(
        ("segment_axis",), "U", "", "column of a pose: anterior, superior, right axis of the segment"
    ),
    "body_point": Entry(("body_point",), "U", "", "marker or joint centre"),
    "joint": Entry(("joint",), "U", "", "joint centre"),
    "side": Entry(("side",), "U", "", "side of the body"),
    "joint_angle": Entry(("joint_angle",), "U", "", "angle"),
    "part": Entry(("part",), "U", "", "knee or ankle"),
    "bout": Entry(("bout",), "i", "1", "run of repetitions on one leg, counted from 1"),
    "repetition": Entry(("repetition",), "i", "1", "row: one repetition on one measured side, counted from 1"),
    "measure": Entry(("measure",), "U", "", "measure of a repetition"),
    "measure_unit": Entry(("measure",), "U", "", "unit of the measure"),
    "account": Entry(("account",), "U", "", "what is explained, and from which baseline"),
    "account_unit": Entry(("account",), "U", "", "unit of the account"),
    "course": Entry(("course",), "U", "", "account whose course over time is kept"),
    "source": Entry(("source",), "U", "", "part that contributes, sagittal base, or remainder"),
}

VARIABLES: dict[str, Entry] = {
    # what was recorded
    "point": Entry(("time", "marker", "axis"), "f", "mm", "marker position; NaN where missing"),
    "seen_as_read": Entry(("time", "marker"), "b", "1", "the recording as read shows the marker"),
    "fit_as_read": Entry(
        ("time", "segment"), "f", "mm", "fit_rms of the recording as read, before repair, filling and filter"
    ),
    "filled": Entry(
        ("time", "marker"), "i", "1", "0 seen, 1 from the rigid cluster, 2 cubic spline, 3 from the pelvis ladder"
    ),
    "pelvis_rung": Entry(
        ("time",), "i", "1", "0 seen, 1 from three other pelvis markers, 2 with the hip centres, 3 no pelvis"
    ),
    "centre_of_pressure": Entry(
        ("time", "axis"), "f", "mm", "centre of pressure on the force plates; NaN where none carries weight"
    ),
    # what the static trial taught
    "tracking": Entry(("segment", "body_point"), "b", "1", "which points move with the segment and give its pose"),
    "segment_kind": Entry(("segment",), "U", "", "plate or skin: how the tracking points are held together"),
    "static_only": Entry(("marker",), "b", "1", "taken off after the static trial"),
    "static_point": Entry(
        ("marker", "axis"), "f", "mm", "mean marker position in the still half second of the static trial"
    ),
    "calibrated_point": Entry(("segment", "body_point", "axis"), "f", "mm", "point in the segment's anatomical frame"),
    "static_pose": Entry(("segment", "axis", "segment_axis"), "f", "1", "segment axes in the static trial, as columns"),
    "static_origin": Entry(("segment", "axis"), "f", "mm", "segment origin in the static trial"),
    "static_angle": Entry(("side", "joint_angle"), "f", "deg", "angle in the static trial"),
    "static_fit": Entry(("segment",), "f", "mm", "sqrt(sum |r|^2 / N) of the tracking points within the static trial"),
    "leg_length": Entry(("side",), "f", "mm", "measured leg length, else static hip - knee - ankle centres"),
    "lateral_only": Entry(
        ("side", "part"), "b", "1", "no medial point and no width: the lateral marker stands for the knee, the ankle"
    ),
    # poses
    "pose": Entry(
        ("time", "segment", "axis", "segment_axis"), "f", "1", "segment axes as columns, in the participant frame"
    ),
    "origin": Entry(("time", "segment", "axis"), "f", "mm", "segment origin in the participant frame"),
    "hung": Entry(("segment",), "b", "1", "the pose rests on a joint centre carried by the segment above"),
    "fit_rms": Entry(("time", "segment"), "f", "mm", "sqrt(sum |r|^2 / N) of the rigid fit"),
    "joint_centre": Entry(
        ("time", "joint", "axis"), "f", "mm", "hip centre carried by the pelvis, knee by the thigh, ankle by the shank"
    ),
    "heading_deg": Entry(
        ("time",), "f", "deg", "heading of the frame's own bout relative to the trial's participant frame"
    ),
    "bout_side": Entry(("bout",), "U", "", "stance side of the bout: left, right or both"),
    "bout_start_s": Entry(("bout",), "f", "s", "start of the bout"),
    "bout_end_s": Entry(("bout",), "f", "s", "end of the bout"),
    "stance_start_s": Entry(
        ("bout",), "f", "s", "start of the stillest half second before the bout's first repetition"
    ),
    "stance_end_s": Entry(("bout",), "f", "s", "end of that half second"),
    "heading_at_start": Entry(
        ("bout",), "f", "deg", "heading by pelvis_at_start, relative to the trial's participant frame"
    ),
    "heading_by_foot": Entry(("bout",), "f", "deg", "heading by static_pelvis_by_foot, likewise"),
    "pelvis_over_foot": Entry(
        ("bout",), "f", "deg", "pelvis turned on the stance foot at the bout's start, less static"
    ),
    # angles
    "angle": Entry(("time", "side", "joint_angle"), "f", "deg", "angle; positive alike on both sides"),
    # repetitions: a row each, on each measured side
    "repetition_number": Entry(
        ("repetition",), "i", "1", "repetition, counted from 1 through the trial; the two sides of one squat share it"
    ),
    "repetition_side": Entry(("repetition",), "U", "", "measured side: left or right"),
    "repetition_bout": Entry(("repetition",), "i", "1", "bout the repetition belongs to"),
    "repetition_start": Entry(("repetition",), "i", "1", "first frame of the repetition, counted from 0"),
    "repetition_bottom": Entry(("repetition",), "i", "1", "frame of peak knee flexion of the measured leg"),
    "repetition_end": Entry(("repetition",), "i", "1", "last frame of the repetition"),
    "repetition_start_s": Entry(("repetition",), "f", "s", "time of the start"),
    "repetition_bottom_s": Entry(("repetition",), "f", "s", "time of the bottom"),
    "repetition_end_s": Entry(("repetition",), "f", "s", "time of the end"),
    "repetition_at_60": Entry(
        ("repetition",),
        "f",
        "1",
        "frame, with its fraction, at which the knee passes 60 degrees of flexion on the way down",
    ),
    "repetition_bottom_seen": Entry(("repetition",), "b", "1", "knee flexion was seen at and beside the bottom"),
    "repetition_valid": Entry(
        ("repetition",), "b", "1", "counts in means; an invalid one is measured and kept out of them"
    ),
    "repetition_findings": Entry(("repetition",), "U", "", "what was found about the repetition, joined by ;"),
    "measure_value": Entry(
        ("repetition", "measure"), "f", "", "value in the measure's unit; NaN where it cannot be had"
    ),
    "measure_lower": Entry(("repetition", "measure"), "f", "", "lower 95 % limit of the value; NaN where not computed"),
    "measure_upper": Entry(("repetition", "measure"), "f", "", "upper 95 % limit of the value; NaN where not computed"),
    # which part moved the knee
    "contribution": Entry(
        ("repetition", "account", "source"),
        "f",
        "",
        "part of a change, in the account's unit; over sources they sum to it",
    ),
    "contribution_lower": Entry(
        ("repetition", "account", "source"), "f", "", "lower 95 % limit; NaN where not computed"
    ),
    "contribution_upper": Entry(
        ("repetition", "account", "source"), "f", "", "upper 95 % limit; NaN where not computed"
    ),
    "contribution_course": Entry(
        ("time", "side", "course", "source"), "f", "", "contribution over time within repetitions; NaN between them"
    ),
    "repetition_direction": Entry(("repetition",), "U", "", "where the knee went: medial, lateral, wavering or none"),
    "repetition_cause": Entry(("repetition",), "U", "", "which part moved the knee, or not_separable"),
    "repetition_explains": Entry(
        ("repetition",), "U", "", "the account (measure and baseline) that the cause explains"
    ),
    "repetition_confidence": Entry(
        ("repetition",), "f", "1", "share of the Monte Carlo draws that name the cause; NaN where not computed"
    ),
    "repetition_from_below": Entry(("repetition",), "U", "", "which part moved the knee, seen from the floor"),
    "repetition_planar_reading": Entry(("repetition",), "U", "", "what a kneecap-only view would have said"),
    "repetition_misread": Entry(
        ("repetition",), "U", "", "yes or no: does that reading blame another part; empty where it cannot be said"
    ),
}

CALIBRATION = (
    *("tracking", "segment_kind", "static_only", "static_point", "calibrated_point", "static_pose", "static_origin"),
    *("static_angle", "static_fit", "leg_length", "lateral_only"),
)
_FIXED = {
    "axis": AXES,
    "segment": SEGMENTS,
    "segment_axis": SEGMENT_AXES,
    "joint": JOINTS,
    "side": SIDES,
    "joint_angle": JOINT_ANGLES,
    "part": ("knee", "ankle"),
}
FIXED_COORDINATES: dict[str, np.ndarray[Any, Any]] = {name: np.array(values) for name, values in _FIXED.items()}
FUNCTIONAL = "functional_"  # functional_<joint>(functional_time_<joint>, marker, axis): a calibration trial's markers


def entry_of(name: Hashable) -> Entry | None:
    """The entry of a variable or coordinate; None where the vocabulary has none."""
    text = str(name)
    if text.startswith(FUNCTIONAL):
        what = text.removeprefix(FUNCTIONAL)
        return Entry(
            (f"{FUNCTIONAL}time_{what}", "marker", "axis"), "f", "mm", f"markers of the calibration trial for {what}"
        )
    return VARIABLES.get(text) or COORDINATES.get(text)


def _complaint(name: Hashable, variable: xr.Variable) -> str | None:
    entry = entry_of(name)
    if entry is None:
        return f"{name} is not in the vocabulary"
    if variable.dims != entry.dims:
        return f"{name} has dimensions {variable.dims}, not {entry.dims}"
    kind = variable.dtype.kind
    if kind != entry.kind and not (entry.kind == "U" and kind in "OT") and not (entry.kind == "i" and kind == "u"):
        return f"{name} holds numbers of kind {kind!r}, not {entry.kind!r}"
    return None


def disagreements(trial: xr.Dataset) -> list[str]:
    """What in the trial is unlike the vocabulary, a sentence each; empty for a sound trial."""
    return [words for name, variable in trial.variables.items() if (words := _complaint(name, variable))]


def put(trial: xr.Dataset, coordinates: Mapping[str, Any] | None = None, /, **variables: Any) -> xr.Dataset:
    """The trial with these variables added or replaced; the input is left as it is.

    ``variables`` are plain arrays in the dimensions of the vocabulary; ``coordinates`` are the labels of dimensions that
    the trial does not have yet (the fixed ones, such as ``axis``, come by themselves). Raises ValueError on a name, a
    dimension or a kind of number that the vocabulary does not know: that is a bug, never the user's.
    """
    fresh: dict[str, xr.Variable] = {}
    labels: dict[str, xr.Variable] = {}
    for name, values in (coordinates or {}).items():
        entry = entry_of(name)
        if entry is None:
            raise ValueError(f"coordinate {name} is not in the vocabulary")
        labels[name] = _variable(entry.dims, values)
    for name, values in variables.items():
        entry = entry_of(name)
        if entry is None:
            raise ValueError(f"variable {name} is not in the vocabulary")
        fresh[name] = _variable(entry.dims, values)
        if complaint := _complaint(name, fresh[name]):
            raise ValueError(complaint)
        for dim in entry.dims:
            if dim in FIXED_COORDINATES and dim not in trial.variables and dim not in labels:
                labels[dim] = _variable((dim,), FIXED_COORDINATES[dim])
    return _joined(trial, labels, fresh)


def _variable(dims: tuple[str, ...], values: Any) -> xr.Variable:
    # what is a plain array already needs no look at what else it might be, for which xarray imports all of dask
    return xr.Variable(dims, np.asarray(values), fastpath=True)


def _joined(trial: xr.Dataset, labels: Mapping[str, xr.Variable], fresh: Mapping[str, xr.Variable]) -> xr.Dataset:
    """The trial with new coordinates and variables.

    Every trial has the same labels along a dimension, so nothing needs aligning, which is most of what ``assign`` does: two
    milliseconds a call, more than many stages compute for. The way round it is the one Dataset takes itself, inside, and so
    are its own tables: ``coords`` and ``xindexes`` look over all the variables at every call.
    """
    variables: dict[Any, xr.Variable] = dict(trial._variables)
    indexes: dict[Any, Any] = dict(trial._indexes)
    for name, variable in labels.items():
        of_words = variable.dtype.kind == "U"
        more = (
            _words_indexed(name, variable.dims, tuple(variable.values.tolist()), str(variable.dtype))
            if of_words
            else None
        )
        coordinates, own = more or _indexed(name, variable)
        variables.update(coordinates)
        indexes.update(own)
    variables.update(fresh)
    sizes: dict[Hashable, int] = dict(trial._dims)
    for name, variable in [*labels.items(), *fresh.items()]:
        for dim, size in zip(variable.dims, variable.shape, strict=True):
            if sizes.setdefault(dim, size) != size:
                raise ValueError(f"{name} has {size} along {dim}, the trial {sizes[dim]}")
    return trial._replace(variables=variables, coord_names={*trial._coord_names, *labels}, dims=sizes, indexes=indexes)


_Indexed = tuple[dict[Hashable, xr.Variable], dict[Hashable, Any]]


def _indexed(name: str, variable: xr.Variable) -> _Indexed:
    if variable.dims != (name,):
        return {name: variable}, {}
    # made by hand, for xarray would ask dask whether the labels are its own, and import it to ask
    try:
        labels = pd.Index(variable.values)
    except UnicodeEncodeError:  # half a letter in a label: kept as it is
        labels = pd.Index(variable.values, dtype=object)
    index = xr.indexes.PandasIndex(labels, name, coord_dtype=variable.dtype)
    return dict(index.create_variables({name: variable})), {name: index}


@lru_cache(maxsize=128)
def _words_indexed(name: str, dims: tuple[str, ...], words: tuple[str, ...], kind: str) -> _Indexed:
    """Markers, segments and angles are called the same in every trial: their index, which is dear, is made once."""
    return _indexed(name, _variable(dims, np.array(words, dtype=kind)))


def labels_along(trial: xr.Dataset, dim: str) -> tuple[str, ...]:
    """The labels of a dimension, such as the names of the markers; ``.values`` would make them anew each time."""
    return _as_text(trial._indexes[dim])  # ``xindexes`` looks all of them over at every call


@lru_cache(maxsize=128)
def _as_text(index: xr.Index) -> tuple[str, ...]:
    return tuple(map(str, index.to_pandas_index()))


def noted(trial: xr.Dataset, **attributes: Any) -> xr.Dataset:
    """The trial with these attributes added or replaced; nothing is copied, for no stage changes a variable in place."""
    return trial._replace(attrs=dict(trial.attrs) | attributes)


def described(trial: xr.Dataset) -> xr.Dataset:
    """A copy whose variables carry ``units`` and ``long_name`` from the vocabulary, as a file should."""
    out = trial.copy(deep=False)
    for name, variable in out.variables.items():
        if entry := entry_of(name):
            variable.attrs = {"long_name": entry.words} | ({"units": entry.unit} if entry.unit else {})
    return out
