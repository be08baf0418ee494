"""A trial on disk is the trial in memory, for us and for any reader of NetCDF4."""

import time
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

from condyle.errors import DataError
from condyle.files.netcdf import read_trial, write_trial


@pytest.fixture
def trial() -> xr.Dataset:
    random = np.random.default_rng(3)
    point = random.normal(size=(50, 4, 3))
    point[10:12, 1] = np.nan
    return xr.Dataset(
        {
            "point": (("time", "marker", "axis"), point, {"units": "mm", "long_name": "filtered position"}),
            "filled": (("time", "marker"), random.integers(0, 3, (50, 4)).astype(np.int8)),
            "tracking": (("segment", "marker"), np.eye(2, 4, dtype=bool)),
            "heading_deg": (("time",), np.linspace(0, 1, 50), {"units": "degree"}),
            "bare": (("no_coordinate",), np.arange(3)),
            "depth": ((), 12.5),
        },
        {
            "time": ("time", np.arange(50) / 200, {"units": "s"}),
            "marker": ["R_ASIS", "L_ASIS", "Knöchel", ""],
            "label": ("marker", ["a", "b", "c", "d"]),
            "axis": ["x", "y", "z"],
            "segment": ["pelvis", "thigh_r"],
        },
        {"participant": "MR01", "rate_hz": 200.0, "first_frame": 1, "history": "[]"},
    )


def test_what_was_written_is_read_back_identical(tmp_path: Path, trial: xr.Dataset) -> None:
    write_trial(tmp_path / "squat.nc", trial)
    back = read_trial(tmp_path / "squat.nc")
    xr.testing.assert_identical(back, trial)
    assert set(back.coords) == set(trial.coords)
    assert all(back[name].dtype.kind == trial[name].dtype.kind for name in trial.variables)


def test_xarray_opens_the_file_with_the_same_numbers_and_coordinates(tmp_path: Path, trial: xr.Dataset) -> None:
    write_trial(tmp_path / "squat.nc", trial)
    with xr.open_dataset(tmp_path / "squat.nc", engine="h5netcdf") as other:
        xr.testing.assert_identical(other.load().drop_attrs(), trial.drop_attrs())
        assert other["point"].attrs == trial["point"].attrs
        assert other.attrs["participant"] == "MR01"
        assert other["tracking"].attrs["flag_meanings"] == "false true"


def test_the_same_trial_gives_the_same_bytes(tmp_path: Path, trial: xr.Dataset) -> None:
    write_trial(tmp_path / "a.nc", trial)
    time.sleep(1.05)  # HDF5 stamps whole seconds where it is let
    write_trial(tmp_path / "b.nc", trial.copy(deep=True))
    assert (tmp_path / "a.nc").read_bytes() == (tmp_path / "b.nc").read_bytes()


def test_attributes_beyond_netcdf_become_json(tmp_path: Path, trial: xr.Dataset) -> None:
    write_trial(
        tmp_path / "a.nc", trial.assign_attrs(condition={"shoes": "none"}, valid=True, none=None, cutoffs=[6, 10])
    )
    back = read_trial(tmp_path / "a.nc")
    assert back.attrs["condition"] == '{"shoes": "none"}'
    assert back.attrs["valid"] == 1
    assert list(back.attrs["cutoffs"]) == [6, 10]
    assert "none" not in back.attrs


@pytest.mark.parametrize("keep", [0, 100, 0.5, 0.99])
def test_a_cut_or_foreign_file_is_a_sentence(tmp_path: Path, trial: xr.Dataset, keep: float) -> None:
    write_trial(tmp_path / "a.nc", trial)
    content = (tmp_path / "a.nc").read_bytes()
    (tmp_path / "a.nc").write_bytes(content[: int(keep * len(content)) if isinstance(keep, float) else keep])
    with pytest.raises(DataError, match=r"could not be read as a trial"):
        read_trial(tmp_path / "a.nc")
