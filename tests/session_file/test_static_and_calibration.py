"""Standing and calibration trials in session.yaml: several joints, names, and mistakes."""

import re
from pathlib import Path

import pytest

from condyle.errors import ConfigurationErrors
from tests.session_file.shared import SOUND, load, told, trials

CALIBRATION = "calibration: [{file: hip_r.c3d, for: hip_r}]"


def test_one_functional_recording_may_serve_several_joints(folder: Path) -> None:
    both = "calibration: [{file: hip_r.c3d, for: hip_l}, {file: hip_r.c3d, for: knee_axis_l}]"
    session = load(folder, SOUND.replace(CALIBRATION, both))
    assert session.calibrations == {"hip_l": folder / "hip_r.c3d", "knee_axis_l": folder / "hip_r.c3d"}


def test_two_files_that_would_be_one_trial_are_a_mistake_with_its_line(folder: Path) -> None:
    (folder / "other").mkdir()
    (folder / "other" / "static.c3d").touch()
    twice = "calibration:\n  - {file: hip_r.c3d, for: hip_r}\n  - {file: other/static.c3d, for: hip_l}"
    (sentence,) = told(folder, SOUND.replace(CALIBRATION, twice))
    assert "session.yaml, line 8: " in sentence
    assert "would be one trial, `static`; give one of them another `name:`" in sentence


@pytest.mark.parametrize(
    ("entry", "kind"),
    [
        ("static.c3d", "static"),
        ("{file: walk.c3d, name: Static}", "static"),
        ("{file: walk.c3d, name: hip_r}", "calibration"),
        ("hip_r.c3d", "calibration"),
    ],
)
def test_a_movement_trial_called_as_a_static_or_calibration_trial_is_a_mistake_with_its_line(
    folder: Path, entry: str, kind: str
) -> None:
    (sentence,) = told(folder, trials(entry))
    assert "session.yaml, line 8: trial `" in sentence
    assert f"is called as the {kind} trial" in sentence
    assert "give it another `name:`, or take it out of the trials" in sentence


def test_static_and_calibration_files_may_have_names(folder: Path) -> None:
    text = SOUND.replace("static: static.c3d\n", "static: {file: static.c3d, name: standing}\n")
    text = text.replace("static: static_2.c3d", "static: {file: static_2.c3d, name: later}")
    text = text.replace("{file: hip_r.c3d, for", "{file: hip_r.c3d, name: circles, for")
    text = text.replace("{trial: walking, subject: R_THIGH_3,", "{trial: standing, subject: R_THIGH_3,")
    session = load(folder, text)
    assert [session.name_of(p) for p in (*session.statics, *session.calibrations.values())][:3] == [
        *("standing", "later", "circles")
    ]
    listed = load(folder, SOUND.replace("static: static.c3d\n", "static: [static.c3d, {file: walk.c3d, name: w}]\n"))
    assert [listed.name_of(p) for p in listed.statics] == ["static", "w", "static_2"]


@pytest.mark.parametrize(
    ("static", "own", "says"),
    [
        ("{file: static.c3d, name: squat_right}", "static_2.c3d", "is called as the static trial"),
        ("{file: static.c3d, name: a b}", "static_2.c3d", "`a b` is no trial name"),
        (
            "{file: static.c3d, nam: a}",
            "static_2.c3d",
            "key `nam` in `static[1]` is not known; nearest valid name: `name`",
        ),
        ("{name: a}", "static_2.c3d", "key `file` in `static[1]` is missing"),
        ("{file: static.c3d, name: one}", "{file: static_2.c3d, name: One}", "would be one trial, `One`"),
        ("{file: static.c3d, name: one}", "{file: static.c3d, name: two}", "is called `two` here and `one` elsewhere"),
    ],
)
def test_names_of_static_files_that_cannot_be(folder: Path, static: str, own: str, says: str) -> None:
    text = SOUND.replace("static: static.c3d\n", f"static: {static}\n").replace(
        "static: static_2.c3d", f"static: {own}"
    )
    with pytest.raises(ConfigurationErrors, match=re.escape(says)) as error:
        load(folder, text)
    assert "line " in str(error.value)
