"""The three files of a session together: the mistakes of all of them in one go."""

from pathlib import Path

import pytest

from condyle.errors import ConfigurationErrors
from condyle.files.configuration import load_configuration
from condyle.stages import STAGES

SESSION = """\
participant: {id: MR01}
session: 2026-11-03
marker_set: markers.yaml
pipeline: pipeline.yaml
static: static.c3d
trials: squat.c3d
"""
MARKERS = "landmarks: {asis_r: A, asis_l: B, sacrum: C}\ntracking: {pelvis: [A, B, C]}\n"
PIPELINE = "stages:\n  - read\n  - check\n  - fill: {longest_s: 0.1}\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "static.c3d").touch()
    for name, text in (("session", SESSION), ("markers", MARKERS), ("pipeline", PIPELINE)):
        (tmp_path / f"{name}.yaml").write_text(text)
    return tmp_path


def told(folder: Path) -> list[str]:
    with pytest.raises(ConfigurationErrors) as caught:
        load_configuration(folder, STAGES)
    assert caught.value.status == 2
    return caught.value.sentences


def test_three_sound_files(folder: Path) -> None:
    configuration = load_configuration(folder, STAGES)
    assert configuration.session.trials[0].exists is False, "a missing trial is a row later, no mistake now"
    assert configuration.markers.tracking_points("pelvis") == ("asis_r", "asis_l", "sacrum")
    assert configuration.pipeline.settings_of("fill").longest_s == 0.1


def test_mistakes_in_all_three_files_are_told_together(folder: Path) -> None:
    (folder / "session.yaml").write_text(SESSION.replace("trials:", "trails:"))
    (folder / "markers.yaml").write_text(MARKERS.replace("sacrum", "sacrm"))
    (folder / "pipeline.yaml").write_text(PIPELINE.replace("longest_s", "longst_s"))
    sentences = told(folder)
    assert [(s.split("/")[-1].split(":")[0]) for s in sentences] == [
        *("session.yaml, line 1", "session.yaml, line 6", "markers.yaml, line 1", "pipeline.yaml, line 4")
    ]
    assert all("nearest valid name" in s for s in sentences[1:])


@pytest.mark.parametrize(
    ("key", "words"), [("marker_set", "marker set"), ("pipeline", "pipeline"), ("static", "static trial")]
)
def test_what_must_be_there_and_is_not(key: str, words: str, folder: Path) -> None:
    name = dict(line.split(": ") for line in SESSION.splitlines()[2:])[key]
    (folder / name).unlink()
    (sentence,) = told(folder)
    assert (
        f"session.yaml, line {3 + ['marker_set', 'pipeline', 'static'].index(key)}: {words} `{name}` is not there"
        in sentence
    )


def test_a_c3d_file_given_as_configuration(folder: Path) -> None:
    (folder / "markers.yaml").write_bytes(b"\x02\x50" + bytes(range(256)) * 4)
    (sentence,) = told(folder)
    assert "markers.yaml: this is a C3D file" in sentence
