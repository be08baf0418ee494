"""A trial in memory: adding to it what the vocabulary knows, and nothing else."""

from collections.abc import Hashable, Mapping
from functools import lru_cache
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr

from condyle.body_names import AXES, JOINT_ANGLES, JOINTS, SEGMENT_AXES, SEGMENTS, SIDES
from condyle.vocabulary import entry_of

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
