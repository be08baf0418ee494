"""What the simulated cameras record: lab axes, C3D through ezc3d, force plate, errors of the sizes asked for."""

from dataclasses import replace
from pathlib import Path

import ezc3d
import numpy as np
import pytest

from condyle.sample import (
    Errors,
    Options,
    Posture,
    build_person,
    simulate,
    simulate_session,
)
from condyle.sample.disturb import draw_errors
from condyle.sample.force_plate import plate_under
from condyle.sample.lab import Lab
from condyle.sample.timing import Timing
from condyle.sample.writing import label_of, write_c3d

ONE = Options.ideal(timing=Timing(repetitions=1, tempo_spread=0.0))
UNEVEN = Posture(
    pelvis_tilt=11.0, pelvis_obliquity=1.0, hip_internal_rotation=3.0, knee_adduction=1.5, knee_internal_rotation=-13.0
)


def test_lab_axes_facing_and_units() -> None:
    person = build_person()
    plain = simulate(person, "hip_in", ONE)
    for vertical in ("+Z", "+Y", "-X"):
        lab = Lab(vertical, 130.0, (400.0, -250.0), "m")
        turned_lab = simulate(person, "hip_in", replace(ONE, lab=lab))
        back = (turned_lab.points * 1000.0 - lab.origin_mm()) @ lab.from_participant()
        np.testing.assert_allclose(back, plain.marker_truth, atol=1e-9)
        assert np.linalg.det(lab.from_participant()) == pytest.approx(1.0)
        height = turned_lab.points[..., "XYZ".index(vertical[1])] * (1 if vertical[0] == "+" else -1)
        assert height.min() > 0.02
        assert height.max() < 2.0


def test_facing_turns_from_the_first_axis_to_the_second() -> None:
    """Seen from above, in a right-handed lab: facing 0 looks along +X of a +Z lab, facing 90 along +Y."""
    np.testing.assert_allclose(Lab("+Z", 0.0).from_participant()[:, 0], [1.0, 0.0, 0.0], atol=1e-12)
    np.testing.assert_allclose(Lab("+Z", 90.0).from_participant()[:, 0], [0.0, 1.0, 0.0], atol=1e-12)
    np.testing.assert_allclose(Lab("+Z", 90.0).from_participant()[:, 2], [1.0, 0.0, 0.0], atol=1e-12)
    np.testing.assert_allclose(Lab("+Y", 90.0).from_participant()[:, 0], [1.0, 0.0, 0.0], atol=1e-12)


def test_c3d_round_trip_vs_ezc3d(tmp_path: Path) -> None:
    options = replace(Options(timing=Timing(repetitions=2)), seed=3, errors=Errors(gaps=6.0, pelvis_gap_share=1.0))
    person = build_person()
    errors = draw_errors(person, options.errors, np.random.default_rng(3))
    trial = simulate(person, "hip_in", replace(options, prefix="MR01:"), errors=errors)
    plate = plate_under(trial)
    path = tmp_path / "squat.c3d"
    write_c3d(path, trial, plate)
    read = ezc3d.c3d(str(path), extract_forceplat_data=True)
    seen = np.isfinite(trial.points).all(axis=2)
    assert 0.0005 < 1.0 - seen.mean() < 0.05
    residual = read["data"]["meta_points"]["residuals"][0].T
    np.testing.assert_array_equal(residual < 0, ~seen)
    points = read["data"]["points"][:3].transpose(2, 1, 0)
    np.testing.assert_allclose(points[seen], trial.points[seen], atol=1e-3)
    assert read["parameters"]["POINT"]["LABELS"]["value"] == ["MR01:" + label_of(m) for m in trial.markers]
    assert read["parameters"]["POINT"]["RATE"]["value"][0] == 100.0
    pressure = read["data"]["platform"][0]["center_of_pressure"][:, ::10].T
    np.testing.assert_allclose(pressure, plate.pressure_centre_mm, atol=0.01)
    assert read["data"]["platform"][0]["force"][2].mean() == pytest.approx(68.0 * 9.80665, rel=0.02)  # upwards


def test_errors_are_of_the_sizes_asked_for() -> None:
    """Palpation moves in the skin's plane alone; rigid motion grows with flexion and keeps the plate whole."""
    person = build_person()
    drawn = [draw_errors(person, Errors(), np.random.default_rng(k)) for k in range(400)]
    asis = np.array([e.misplaced["asis_r"] for e in drawn])
    assert np.ptp(asis[:, 0]) == 0.0
    np.testing.assert_allclose(asis[:, 1:].std(axis=0), 10.0, rtol=0.1)
    np.testing.assert_allclose(np.array([e.turn["thigh_r"] for e in drawn]).std(axis=0), [3.0, 6.0, 3.0], rtol=0.1)
    rigid_only = replace(ONE, errors=Errors(0, 0, 0, 0, 1.0, 0, 0))
    session = draw_errors(person, rigid_only.errors, np.random.default_rng(5))
    trial = simulate(person, "controlled", rigid_only, errors=session)
    plate = [trial.markers.index(f"thigh_{k}_r") for k in (1, 2, 3, 4)]
    seen = (trial.points - trial.options.lab.origin_mm()) @ trial.options.lab.from_participant()
    off = np.linalg.norm(seen - trial.marker_truth, axis=2)[:, plate]
    bottom = trial.bouts[0].repetitions[0].bottom
    assert off[bottom].min() > 5.0
    assert off[0].max() < 0.1 * off[bottom].max()
    for i, j in ((0, 1), (0, 3), (1, 2)):
        length = np.linalg.norm(seen[:, plate[i]] - seen[:, plate[j]], axis=1)
        assert np.ptp(length) < 1e-9
    assert np.linalg.norm(seen - trial.marker_truth, axis=2)[:, trial.markers.index("calcaneus_r")].max() < 1e-9


def test_misplacement_is_the_same_in_static_and_movement() -> None:
    options = replace(ONE, errors=Errors(0, 0, 0, 1.0, 0, 0, 0))
    session = simulate_session(build_person(), {"squat": [("right", "hip_in")]}, options)
    lab = options.lab
    offsets = []
    for trial in (session.static, session.trials[0]):
        k = trial.markers.index("lateral_epicondyle_r")
        seen = (trial.points[:, k] - lab.origin_mm()) @ lab.from_participant()
        axes = trial.motion.axes["thigh_r"]
        offsets.append(np.einsum("tij,ti->tj", axes, seen - trial.marker_truth[:, k]))
    np.testing.assert_allclose(offsets[0][0], offsets[1][[0, 200, -1]].mean(axis=0), atol=1e-9)
    assert np.ptp(offsets[1], axis=0).max() < 1e-9
    assert np.linalg.norm(offsets[0][0]) > 1.0
