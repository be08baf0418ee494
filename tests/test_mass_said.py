"""What the centre of mass rests on is said once a trial: stand-ins, a sex that is not known, or what is missing for it."""

from functools import lru_cache

import numpy as np
import pytest
import xarray as xr

from condyle.body_names import JOINTS
from condyle.findings import Finding
from condyle.sample.person import build_person
from condyle.sample.simulate import simulate, simulate_static
from condyle.stages.measured_points import mass_centre
from condyle.stages.measures import MeasuresSettings, measures_trial

from .observations.shared import OPTIONS
from .simulated import calibrated, run, trial_of


@lru_cache(maxsize=1)
def recorded() -> xr.Dataset:
    standing = trial_of(simulate_static(build_person(), OPTIONS, None), task="static")
    return trial_of(simulate(build_person(), "hip_in", OPTIONS, "right")).assign(calibrated(standing))


def rows(lost: tuple[str, ...] = (), **identity: str) -> tuple[xr.Dataset, list[Finding]]:
    """The trial without these markers, standing and moving, and its rows on the centre of mass."""
    trial = recorded().copy(deep=True).assign_attrs(identity)
    for name, variable in (("marker", "point"), ("body_point", "calibrated_point")):
        trial[variable].values[:, np.isin(trial[name].values, lost)] = np.nan
    done, findings = run(trial, "movement")
    return done, [f for f in findings if f.subject == "centre of mass"]


def test_stand_ins_are_one_row_that_passes() -> None:
    done, found = rows(participant_sex="female")
    assert [(f.check, f.value, f.limit, f.verdict) for f in found] == [("measures given", None, None, "pass")]
    for words in mass_centre(done).stand_ins:
        assert words in found[0].advice
    assert "no head markers" in found[0].advice
    assert "de Leva 1996" in found[0].advice
    assert "sex" not in found[0].advice


@pytest.mark.parametrize("identity", [{}, {"participant_sex": ""}])
def test_sex_that_is_not_given_is_said(identity: dict[str, str]) -> None:
    _, found = rows(**identity)
    assert len(found) == 1
    assert "sex unknown: mean of men and women" in found[0].advice


@pytest.mark.parametrize(
    ("lost", "words"),
    [
        (("c7",), "jugular notch as the upper end of the trunk"),
        (("c7", "jugular_notch"), "acromia in place of the shoulder centres"),
        (("xiphoid",), "arms with the trunk's own centre"),
        (
            ("calcaneus_l", "metatarsal_1_l", "metatarsal_2_l", "metatarsal_5_l"),
            "ankle centre in place of the left foot",
        ),
    ],
)
def test_stand_in_of_a_missing_marker_is_named(lost: tuple[str, ...], words: str) -> None:
    done, found = rows(lost, participant_sex="female")
    assert np.isfinite(mass_centre(done).position).any()
    assert len(found) == 1
    assert words in found[0].advice
    assert words not in rows(participant_sex="female")[1][0].advice


def test_no_trunk_marker_no_centre_of_mass_and_one_row_says_why() -> None:
    done, found = rows(("c7", "jugular_notch", "acromion_l"))
    assert np.isnan(mass_centre(done).position).all()
    assert [f.verdict for f in found] == ["review"]
    assert "no centre of mass in this trial" in found[0].advice
    assert "not seen: C7, the jugular notch or both acromia." in found[0].advice


def test_leg_that_was_never_seen_is_named() -> None:
    done, _ = run(recorded(), "movement", until="repetitions")
    done = done.copy(deep=True)
    done["joint_centre"].values[:, [JOINTS.index("knee_l"), JOINTS.index("ankle_l")]] = np.nan
    found = [f for f in measures_trial(done, MeasuresSettings())[1] if f.subject == "centre of mass"]
    assert [f.verdict for f in found] == ["review"]
    assert "not seen: the left knee centre, the left ankle centre." in found[0].advice
