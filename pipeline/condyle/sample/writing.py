"""A recording as a C3D file, written by ezc3d: labels, missing samples, force plate."""

import os
from pathlib import Path

import ezc3d
import numpy as np
from numpy.typing import NDArray

from condyle.files.atomic import atomic_path
from condyle.sample.force_plate import PlateRecording
from condyle.sample.simulate import SimulatedTrial

_WORDS = {  # anatomical name: the label's word, as in the shipped full-body marker set
    "asis": "ASIS",
    "psis": "PSIS",
    "iliac_crest": "CREST",
    "greater_trochanter": "TROCH",
    "lateral_epicondyle": "KNEE_LAT",
    "medial_epicondyle": "KNEE_MED",
    "patella": "PATELLA",
    "tibial_tuberosity": "TUBEROSITY",
    "lateral_malleolus": "ANKLE_LAT",
    "medial_malleolus": "ANKLE_MED",
    "calcaneus": "HEEL",
    "metatarsal_1": "META_1",
    "metatarsal_2": "META_2",
    "metatarsal_5": "META_5",
    "acromion": "SHOULDER",
    **{f"{plate}_{number}": f"{plate.upper()}_{number}" for plate in ("thigh", "shank") for number in range(1, 5)},
}
_MIDLINE = {"c7": "C7", "t10": "T10", "jugular_notch": "NOTCH", "xiphoid": "XIPHOID"}


def label_of(marker: str) -> str:
    """The label that a marker carries in the files: ``asis_r`` is R_ASIS."""
    if marker in _MIDLINE:
        return _MIDLINE[marker]
    return f"{marker[-1].upper()}_{_WORDS[marker[:-2]]}"


def write_c3d(path: Path, trial: SimulatedTrial, plate: PlateRecording | None = None) -> None:
    """Write the trial's markers, and the plate's channels where there are any; a missing sample has residual -1."""
    content = ezc3d.c3d()
    points = np.moveaxis(trial.points, 0, -1)  # (T, M, 3) -> (M, 3, T)
    missing: NDArray[np.bool_] = np.isnan(points[:, 0])
    filled = np.where(missing[:, None, :], 0.0, points)
    content["data"]["points"] = np.concatenate([filled.swapaxes(0, 1), np.ones((1, *missing.shape))])
    content["data"]["meta_points"]["residuals"] = np.where(missing, -1.0, 0.0)[None]
    group = content["parameters"]["POINT"]
    group["LABELS"]["value"] = [trial.options.prefix + label_of(marker) for marker in trial.markers]
    group["DESCRIPTIONS"]["value"] = [marker.replace("_", " ") for marker in trial.markers]
    group["UNITS"]["value"] = [trial.options.lab.units]
    group["RATE"]["value"] = [float(trial.options.rate_hz)]
    if plate is not None:
        _add_plate(content, plate)
    with atomic_path(path) as temporary:
        written = temporary.with_name(temporary.name + ".c3d")  # ezc3d adds the ending where it misses it
        try:
            content.write(str(written))
            os.replace(written, temporary)
        finally:
            written.unlink(missing_ok=True)


def _add_plate(content: ezc3d.c3d, plate: PlateRecording) -> None:
    """One force plate of type 2: forces and moments about its own origin, six channels."""
    group = content["parameters"]["ANALOG"]
    count = len(plate.labels)
    group["LABELS"]["value"] = list(plate.labels)
    group["DESCRIPTIONS"]["value"] = ["force plate"] * count
    group["UNITS"]["value"] = list(plate.units)
    group["SCALE"]["value"] = [1.0] * count
    group["OFFSET"]["value"] = [0] * count
    group["RATE"]["value"] = [float(plate.rate_hz)]
    content["data"]["analogs"] = plate.channels.T[None]
    platform = content["parameters"]["FORCE_PLATFORM"]
    platform["USED"]["value"] = [1]
    platform["TYPE"]["value"] = [2]
    platform["ZERO"]["value"] = [0, 0]
    platform["CORNERS"]["value"] = plate.corners.T[:, :, None]
    platform["ORIGIN"]["value"] = plate.origin[:, None]
    platform["CHANNEL"]["value"] = np.arange(1, count + 1)[:, None]
