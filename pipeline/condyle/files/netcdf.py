"""A trial as a NetCDF4 file, and back."""

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import h5py
import numpy as np
import xarray as xr

from condyle.errors import DataError
from condyle.files.atomic import atomic_path

_NO_VARIABLE = "This is a netCDF dimension but not a netCDF variable."  # the format's own words for a bare dimension
_TEXT = h5py.string_dtype("utf-8")


def write_trial(path: str | Path, trial: xr.Dataset) -> None:
    """Write a trial as NetCDF4, atomically; the same trial gives the same bytes.

    Written with h5py in the NetCDF4 conventions for HDF5 (dimension scales), through its low-level calls: ten times as
    fast as xarray's own writing, which counts where a session has to be done in a fraction of a second. Uncompressed:
    measured coordinates are noise to a compressor (a sixth smaller, more than ten times as slow). Truth values become
    int8 with ``flag_meanings``; attributes that NetCDF has no type for become JSON text.
    """
    numbers = {str(name): number for number, name in enumerate(trial.sizes)}
    with atomic_path(path) as temporary, h5py.File(temporary, "w", libver=("v108", "v112")) as file:
        _write_attributes(file.id, {"_NCProperties": "version=2,h5py", **trial.attrs})
        scales: dict[str, Any] = {}
        for name, size in trial.sizes.items():
            key = str(name)
            if name in trial.variables:
                scales[key] = _write_variable(file, key, trial.variables[name])
                h5py.h5ds.set_scale(scales[key], key.encode())
            else:
                scales[key] = _dataset(file, key, (size,), h5py.h5t.IEEE_F32BE)
                h5py.h5ds.set_scale(scales[key], f"{_NO_VARIABLE}{size:>10}".encode())
            _write_attributes(scales[key], {"_Netcdf4Dimid": np.int32(numbers[key])})
        for name, variable in trial.variables.items():
            if name in trial.sizes:
                continue
            dataset = _write_variable(file, str(name), variable)
            if variable.ndim > 1:
                ids = np.array([numbers[str(dim)] for dim in variable.dims], dtype=np.int32)
                _write_attributes(dataset, {"_Netcdf4Coordinates": ids})
            for axis, dim in enumerate(variable.dims):
                h5py.h5ds.attach_scale(dataset, scales[str(dim)], axis)
        if loose := [str(name) for name in trial.coords if name not in trial.sizes]:
            # tells a reader which variables are coordinates
            _write_attributes(file.id, {"coordinates": " ".join(loose)})


def read_trial(path: str | Path) -> xr.Dataset:
    """The trial in a NetCDF file, all of it in memory, the file closed again."""
    try:
        with h5py.File(path, "r") as file:
            return _trial_of(file)
    except (OSError, RuntimeError, KeyError, ValueError, IndexError) as error:
        raise DataError(f"{path} could not be read as a trial in NetCDF: {str(error).splitlines()[0]}.") from error


def _write_variable(file: h5py.File, name: str, variable: xr.Variable) -> Any:
    values = np.asarray(variable.values)
    attributes: dict[Any, Any] = dict(variable.attrs)
    if values.dtype.kind in "OUT":
        words = ["" if value is None else _utf8(str(value)) for value in values.ravel().tolist()]
        values = np.array(words, dtype=object).reshape(values.shape)
        dataset = file.create_dataset(name, data=values, dtype=_TEXT, track_times=False).id
    else:
        if values.dtype.kind == "b":
            flags = {"dtype": "bool", "flag_values": np.array([0, 1], np.int8), "flag_meanings": "false true"}
            values, attributes = values.astype(np.int8), {**flags, **attributes}
        values = np.asarray(values, order="C")
        dataset = _dataset(file, name, values.shape, h5py.h5t.py_create(values.dtype))
        dataset.write(h5py.h5s.ALL, h5py.h5s.ALL, values)
    _write_attributes(dataset, attributes)
    return dataset


def _dataset(file: h5py.File, name: str, shape: tuple[int, ...], kind: Any) -> Any:
    properties = h5py.h5p.create(h5py.h5p.DATASET_CREATE)
    properties.set_obj_track_times(False)  # or the bytes would tell when they were written
    return h5py.h5d.create(file.id, name.encode(), kind, _space(shape), properties)


def _space(shape: tuple[int, ...]) -> Any:
    return h5py.h5s.create_simple(shape) if shape else h5py.h5s.create(h5py.h5s.SCALAR)


def _write_attributes(target: Any, attributes: Mapping[Any, Any]) -> None:
    for name, value in attributes.items():
        if value is None:
            continue
        if isinstance(value, Mapping) or (isinstance(value, list | tuple) and not _all_numbers(value)):
            value = json.dumps(value)
        if isinstance(value, str):
            content = np.array(_utf8(value).encode() or b"\0")
            kind = h5py.h5t.C_S1.copy()
            kind.set_size(content.dtype.itemsize)
            kind.set_cset(h5py.h5t.CSET_UTF8)
        else:
            content = np.asarray(value)
            content = content.astype(np.int8) if content.dtype == bool else content
            kind = h5py.h5t.py_create(content.dtype)
        h5py.h5a.create(target, str(name).encode(), kind, _space(content.shape)).write(content, kind)


def _utf8(text: str) -> str:
    return text.encode("utf-8", "backslashreplace").decode("utf-8")


def _all_numbers(values: list[Any] | tuple[Any, ...]) -> bool:
    return bool(values) and all(isinstance(v, int | float | np.number) and not isinstance(v, bool) for v in values)


def _trial_of(file: h5py.File) -> xr.Dataset:
    variables: dict[str, xr.Variable] = {}
    attributes = _attributes(file.attrs)
    coordinates = set(str(attributes.pop("coordinates", "")).split())
    for name, dataset in file.items():
        words = _attributes(dataset.attrs)
        if str(words.get("NAME", "")).startswith(_NO_VARIABLE):
            continue
        if words.get("CLASS") == "DIMENSION_SCALE":
            dims: tuple[str, ...] = (name,)
            coordinates.add(name)
        else:
            dims = tuple(dimension.values()[0].name.rsplit("/", 1)[-1] for dimension in dataset.dims)
        values = np.asarray(dataset.asstr()[()] if h5py.check_string_dtype(dataset.dtype) else dataset[()])
        if values.dtype == object:
            values = values.astype(str)
        if words.pop("dtype", "") == "bool":
            values = values.astype(bool)
            words = {key: value for key, value in words.items() if not key.startswith("flag_")}
        variables[name] = xr.Variable(dims, values, {k: v for k, v in words.items() if k not in {"CLASS", "NAME"}})
    arrays = {name: v for name, v in variables.items() if name not in coordinates}
    return xr.Dataset(arrays, {name: variables[name] for name in variables if name in coordinates}, attributes)


def _attributes(attributes: h5py.AttributeManager) -> dict[str, Any]:
    hidden = {"DIMENSION_LIST", "REFERENCE_LIST", "DIMENSION_LABELS"}
    found = {}
    for name in attributes:
        if name in hidden or name.startswith(("_Netcdf4", "_NCProperties")):
            continue
        value = attributes[name]
        value = value.item() if isinstance(value, np.generic) else value
        found[name] = value.decode("utf-8") if isinstance(value, bytes) else value
    return found
