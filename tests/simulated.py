"""Simulated recordings as trials, run through the stages: what many tests measure against the forward model's truth."""

from collections.abc import Iterable
from functools import lru_cache
from importlib import resources
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr

from condyle.body_names import JOINTS, SEGMENTS
from condyle.files.marker_set import MarkerSet, load_marker_set
from condyle.findings import Finding
from condyle.mechanics.vertical import vertical_rotation
from condyle.sample.person import Person
from condyle.sample.simulate import SimulatedTrial, simulate_static
from condyle.stages import STAGES
from condyle.trial_data import put
from condyle.vocabulary import CALIBRATION


@lru_cache(maxsize=1)
def full_body() -> MarkerSet:
    return load_marker_set(Path(str(resources.files("condyle"))) / "configs" / "markers" / "clusters_full_body.yaml")


def sample_name(label: str) -> str:
    """The forward model calls plate markers thigh_1_r where the marker set's label is R_THIGH_1."""
    side, what, number = label.split("_")
    return f"{what.lower()}_{number}_{side.lower()}"


def trial_of(simulated: SimulatedTrial, **identity: Any) -> xr.Dataset:
    """The recording as the read step hands it on: the marker set's points, y up, identity attached."""
    markers = full_body()
    point = np.full((len(simulated.time), len(markers.points), 3), np.nan)
    for k, (name, label) in enumerate(zip(markers.points, markers.labels, strict=True)):
        own = name if name in simulated.markers else sample_name(label) if "_" in label and label[-1].isdigit() else ""
        if own in simulated.markers:
            point[:, k] = simulated.marker(own)
    vertical = simulated.options.lab.vertical
    attrs = {
        **{"participant": "MR01", "session": "2026-11-03", "trial": simulated.name, "task": simulated.task},
        **{"side": "auto", "vertical": vertical, "anterior": "pelvis_at_start"},
        **{"rate_hz": simulated.options.rate_hz, "first_frame": 1},
    }
    names = [*markers.points, *JOINTS]
    return put(
        xr.Dataset(attrs=attrs | identity),
        {
            "time": np.arange(len(point)) / simulated.options.rate_hz,
            "marker": np.array(markers.points, dtype="U"),
            "label": np.array(markers.labels, dtype="U"),
            "body_point": np.array(names, dtype="U"),
        },
        point=point @ vertical_rotation(vertical).T,
        tracking=np.array([[n in markers.tracking_points(s) for n in names] for s in SEGMENTS]),
        segment_kind=np.array([markers.kind(s) for s in SEGMENTS], dtype="U5"),
        static_only=np.isin(markers.points, markers.static_points),
    )


def run(
    trial: xr.Dataset, on: str, leave: Iterable[str] = ("check",), until: str = "measures", **settings: dict[str, Any]
) -> tuple[xr.Dataset, list[Finding]]:
    """The trial after the stages from fill to measures; ``settings`` by stage name."""
    found: list[Finding] = []
    for stage in STAGES:
        if stage.on in (on, "every") and stage.name not in leave:
            trial, more = stage.run(trial, stage.settings(**settings.get(stage.name, {})))
            found += more
            if any(f.verdict == "reject" for f in more) or stage.name == until:
                break
    return trial, found


def mirrored(trial: xr.Dataset) -> xr.Dataset:
    """The recording seen in a mirror: left and right exchanged."""
    labels = trial["label"].values.tolist()
    other = {"R": "L", "L": "R"}
    order = [labels.index(other.get(n[0], n[0]) + n[1:] if n[1:2] == "_" else n) for n in labels]
    point = trial["point"].values[:, order] * np.array([1.0, 1.0, -1.0])
    return trial.assign(point=(trial["point"].dims, point))


def calibrated(standing: xr.Dataset, **settings: dict[str, Any]) -> dict[str, xr.Variable]:
    """What a standing trial teaches, to be assigned to a movement trial."""
    static, _ = run(standing, "static", **settings)
    return {name: static.variables[name] for name in CALIBRATION}


def processed(
    person: Person, simulated: SimulatedTrial, settings: dict[str, dict[str, Any]] | None = None, **identity: Any
) -> tuple[xr.Dataset, list[Finding]]:
    """The movement trial after all stages, calibrated by a standing trial in the same lab."""
    chosen = settings or {}
    standing = trial_of(simulate_static(person, simulated.options, simulated.session_errors), task="static")
    return run(trial_of(simulated, **identity).assign(calibrated(standing, **chosen)), "movement", **chosen)
