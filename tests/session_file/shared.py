"""A sound session.yaml with its files, and what is said when it is changed."""

from pathlib import Path

import pytest

from condyle.errors import ConfigurationErrors
from condyle.files.planned import Session
from condyle.files.session_plan import load_session

SOUND = """\
participant: {id: 010, sex: female, height_mm: 1720, mass_kg: 68}
session: 2026-11-03
tester: T2
affected_side: right
static: static.c3d
calibration: [{file: hip_r.c3d, for: hip_r}]
trials:
  - {file: squat_right.c3d, task: single_leg_squat, side: right}
  - {file: squat_left.c3d, side: auto, static: static_2.c3d,
     condition: {shoes: no, arms: crossed}}
  - {file: walk.c3d, task: other, name: walking}
accept: [{trial: walking, subject: R_THIGH_3, check: cluster fit, why: known}]
previous: earlier
"""
FILES = ("static.c3d", "static_2.c3d", "hip_r.c3d", "squat_right.c3d", "squat_left.c3d", "walk.c3d")


def load(folder: Path, text: str = SOUND) -> Session:
    (folder / "session.yaml").write_text(text, encoding="utf-8")
    return load_session(folder)


def told(folder: Path, text: str) -> list[str]:
    with pytest.raises(ConfigurationErrors) as caught:
        load(folder, text)
    assert caught.value.status == 2
    return caught.value.sentences


def names(session: Session) -> list[str]:
    return [t.name for t in session.trials]


def trials(*lines: str) -> str:
    return SOUND.partition("trials:")[0] + "trials:\n" + "".join(f"  - {line}\n" for line in lines)
