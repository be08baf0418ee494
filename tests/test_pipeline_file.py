"""Pipeline files: stages in order with what they need, and every mistake with its line and nearest name."""

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st
from pydantic import Field

from condyle.errors import ConfigurationErrors
from condyle.files.checked import Checked
from condyle.files.pipeline_file import Pipeline, default_pipeline, load_pipeline, pipeline_from
from condyle.files.shipped import shipped
from condyle.stages import STAGES


class Smooth(Checked):
    cutoff_hz: float | Literal["residual"] = Field(6.0, gt=0, description="cutoff")
    order: Literal[2, 4] = Field(4, description="order")


class Nothing(Checked):
    pass


@dataclass(frozen=True)
class Step:
    name: str
    settings: type[Checked]
    needs: frozenset[str]
    gives: frozenset[str]


def step(name: str, needs: str, gives: str, settings: type[Checked] = Nothing) -> Step:
    return Step(name, settings, frozenset(needs.split()), frozenset(gives.split()))


STEPS = (
    step("check", "point", ""),
    step("smooth", "point", "point", Smooth),
    step("calibrate", "point", "static_pose tracking"),
    step("pose", "point static_pose", "pose"),
    step("angles", "pose", "angle"),
)
SOUND = """\
lab: {vertical: +Y, anterior: -X}
stages:
  - read: {zero_is_missing: no}
  - check
  - smooth: {cutoff_hz: 8}
  - calibrate
  - pose:
  - angles
  - report
"""


def load(tmp_path: Path, text: str) -> Pipeline:
    (tmp_path / "p.yaml").write_text(text, encoding="utf-8")
    return load_pipeline(tmp_path / "p.yaml", STEPS)


def told(tmp_path: Path, text: str) -> list[str]:
    with pytest.raises(ConfigurationErrors) as caught:
        load(tmp_path, text)
    return caught.value.sentences


def test_stages_and_settings(tmp_path: Path) -> None:
    pipeline = load(tmp_path, SOUND)
    assert pipeline.stage_names == ("check", "smooth", "calibrate", "pose", "angles")
    assert pipeline.settings_of("smooth") == Smooth(cutoff_hz=8.0)
    assert pipeline.read.zero_is_missing is False
    assert pipeline.report is not None
    assert (pipeline.lab.vertical, pipeline.lab.anterior) == ("+Y", "-X")
    with pytest.raises(KeyError):
        pipeline.settings_of("contributions")


def test_a_stage_left_out_is_not_run(tmp_path: Path) -> None:
    pipeline = load(tmp_path, "stages: [read, check, {smooth: {order: 2}}]")
    assert pipeline.stage_names == ("check", "smooth")
    assert pipeline.report is None
    assert pipeline.lab.anterior == "pelvis_at_start"


def test_resolved_writes_every_default_out_and_is_a_pipeline_again(tmp_path: Path) -> None:
    pipeline = load(tmp_path, SOUND)
    resolved = pipeline.resolved()
    assert {"smooth": {"cutoff_hz": 8.0, "order": 4}} in resolved["stages"]
    assert resolved["lab"] == {"vertical": "+Y", "anterior": "-X"}
    again = load(tmp_path, yaml.safe_dump(resolved, sort_keys=False))
    assert again == pipeline
    assert pipeline_from(resolved, STEPS) == pipeline, "typed values are taken as well as text"


LINES = {
    "unknown stage": ("- smooth:", "- smoth:", 5, "stage `smoth` is not known; nearest valid name: `smooth`"),
    "unknown setting": (
        "cutoff_hz",
        "cutof_hz",
        5,
        "key `cutof_hz` in `smooth` is not known; nearest valid name: `cutoff_hz`",
    ),
    "wrong type": (
        "cutoff_hz: 8",
        "cutoff_hz: six",
        5,
        "key `cutoff_hz` in `smooth` is `six`; expected a number in Hz or `res",
    ),
    "not offered": ("{cutoff_hz: 8}", "{order: 3}", 5, "key `order` in `smooth` is `3`; expected one of 2, 4"),
    "settings that are none": ("{cutoff_hz: 8}", "8", 5, "key `smooth` in `stages[3]` is `8`; expected a mapping"),
    "setting of a stage without any": ("- check", "- check: {a: 1}", 4, "key `a` in `check` is not known"),
    "unknown reading option": (
        "zero_is",
        "zeros_is",
        3,
        "key `zeros_is_missing` in `read` is not known; nearest valid name: `zero",
    ),
    "doubled": ("- pose:", "- check", 7, "stage `check` stands twice; keep one of them"),
    "two in one entry": ("- pose:", "- {pose: , check: }", 7, "one entry holds 2 stages (`pose`, `check`)"),
    "an empty entry": ("- pose:", "-", 7, "an entry without a stage; expected a name"),
    "lacking": ("  - pose:\n", "", 7, "stage `angles` needs `pose`, which `pose` gives; add `pose` before it"),
    "lacking calibrate": (
        "  - calibrate\n",
        "",
        6,
        "stage `pose` needs `static_pose`, which `calibrate` gives; add `calibrate`",
    ),
    "not read": (
        "  - read: {zero_is_missing: no}\n",
        "",
        3,
        "stage `check` is without what it needs: `read` must stand first",
    ),
    "unknown section": ("lab:", "labo:", 1, "key `labo` is not known; nearest valid name: `lab`"),
    "axis": (
        "vertical: +Y",
        "vertical: Y",
        1,
        "key `vertical` in `lab` is `Y`; expected one of +X, -X, +Y, -Y, +Z, -Z; nearest valid name: `+Y`",
    ),
    "anterior": (
        "anterior: -X",
        "anterior: pelvis",
        1,
        "key `anterior` in `lab` is `pelvis`; expected one of pelvis_at_start, static_pelvis_by",
    ),
    "anterior along the vertical": ("anterior: -X", "anterior: -Y", 1, "anterior `-Y` lies along the vertical `+Y`"),
}


@pytest.mark.parametrize("name", LINES)
def test_each_mistake_has_its_sentence_with_line(name: str, tmp_path: Path) -> None:
    before, after, line, expected = LINES[name]
    assert SOUND.count(before) == 1
    (sentence,) = told(tmp_path, SOUND.replace(before, after))
    assert sentence.startswith(f"{tmp_path / 'p.yaml'}, line {line}: ")
    assert expected in sentence


def test_out_of_order(tmp_path: Path) -> None:
    (sentence,) = told(tmp_path, "stages: [read, calibrate, smooth]")
    assert "stage `smooth` stands after `calibrate`; expected the order `read`, `check`, `smooth`" in sentence
    assert "stands after `report`" in told(tmp_path, "stages: [read, report, check]")[0]
    assert "stage `read` stands after `check`" in told(tmp_path, "stages: [check, read]")[0]


def test_no_stages(tmp_path: Path) -> None:
    assert "key `stages` is missing" in told(tmp_path, "lab: {vertical: +Z}")[0]
    assert "key `stages` is a list of 0; expected at least 1 entry" in told(tmp_path, "stages: []")[0]
    assert "key `stages` is `read`; expected a list" in told(tmp_path, "stages: read")[0]


def test_mistakes_of_many_stages_come_together(tmp_path: Path) -> None:
    text = SOUND.replace("cutoff_hz", "cutof_hz").replace("- calibrate", "- calibrat").replace("zero_is", "zer_is")
    assert len(told(tmp_path, text)) == 3


@given(st.lists(st.sampled_from([s.name for s in STEPS]), unique=True))
def test_only_orders_that_work_are_taken(names: list[str]) -> None:
    order = [s.name for s in STEPS]
    in_order = names == sorted(names, key=order.index)
    complete = ("angles" not in names or "pose" in names) and ("pose" not in names or "calibrate" in names)
    try:
        pipeline = pipeline_from({"stages": ["read", *names]}, STEPS)
    except ConfigurationErrors:
        assert not (in_order and complete)
    else:
        assert in_order
        assert complete
        assert list(pipeline.stage_names) == names


@pytest.mark.parametrize("name", sorted(shipped("pipeline")))
def test_shipped_pipelines_load_with_the_programs_own_stages(name: str) -> None:
    pipeline = load_pipeline(shipped("pipeline")[name], STAGES)
    order = [s.name for s in STAGES]
    assert list(pipeline.stage_names) == sorted(pipeline.stage_names, key=order.index)


def test_the_squat_pipeline_runs_every_stage_and_walking_ends_with_angles() -> None:
    squat = load_pipeline(shipped("pipeline")["single_leg_squat"], STAGES)
    assert {"check", "fill", "filter", "calibrate", "pose", "angles", "repetitions", "measures"} <= set(
        squat.stage_names
    )
    assert squat.settings_of("filter").cutoff_hz == 6
    assert load_pipeline(shipped("pipeline")["walking"], STAGES).stage_names[-1] == "angles"


def test_the_default_pipeline_is_every_stage_with_its_defaults() -> None:
    pipeline = default_pipeline(STAGES)
    assert pipeline.stage_names == tuple(s.name for s in STAGES)
    assert pipeline_from(pipeline.resolved(), STAGES) == pipeline
