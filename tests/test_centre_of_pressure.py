"""The centre of pressure travels from the force plate to the measures, in the participant's frame."""

from dataclasses import replace
from pathlib import Path

import numpy as np

from condyle.files.c3d import read_c3d
from condyle.files.trial import trial_from
from condyle.sample import Options, build_person, simulate_session, write_session
from condyle.sample.lab import Lab
from condyle.sample.timing import Timing
from condyle.session import compute, plan


def session(folder: Path, facing: float) -> Path:
    options = Options.ideal(timing=Timing(repetitions=1), rate_hz=50.0, lab=replace(Lab(), facing_deg=facing))
    made = simulate_session(build_person("MR01"), {"squat_right": [("right", "controlled")]}, options)
    names = {"marker_set": "clusters_full_body", "pipeline": "single_leg_squat"}
    return write_session(folder, made, force_plate=True, **names)


def test_offset_of_the_centre_of_pressure_does_not_depend_on_where_the_person_faces(tmp_path: Path) -> None:
    found = []
    for facing in (0.0, 130.0):
        done = compute(plan(session(tmp_path / f"{facing:.0f}", facing))).trials["squat_right"]
        names = [str(n) for n in done.trial["measure"].values]
        values = done.trial["measure_value"].values[0]
        found.append([values[names.index(f"cop_offset_{when}")] for when in ("start", "bottom")])
        foot = done.trial["point"].sel(marker=["calcaneus_r", "metatarsal_2_r"]).values
        pressure = done.trial["centre_of_pressure"].values
        assert np.nanmin(foot[:, 0, 0] - 60) < np.nanmedian(pressure[:, 0]) < np.nanmax(foot[:, 1, 0] + 60)
    assert np.isfinite(found).all()
    np.testing.assert_allclose(found[0], found[1], atol=1.0)


def test_without_plates_there_is_no_centre_of_pressure_and_no_row(tmp_path: Path) -> None:
    folder = session(tmp_path, 0.0)
    recording = read_c3d(folder / "squat_right.c3d")
    markers = plan(folder).markers
    trial, _ = trial_from(recording, markers, {"participant": "MR01"}, "+Z")
    assert recording.force_plates == 1
    assert "centre_of_pressure" not in trial
