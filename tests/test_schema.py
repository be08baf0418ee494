"""The JSON Schemas are up to date, take what is shipped and shown, and refuse what the program refuses."""

import json
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import yaml

from condyle import schema
from condyle.errors import ConfigurationErrors
from condyle.files.checked import validate
from condyle.files.marker_set import marker_set_from
from condyle.files.pipeline_file import pipeline_from
from condyle.files.session_file import Measured, Participant, SessionFile, TrialEntry
from condyle.files.settings_docs import default_of, settings_table, takes
from condyle.files.shipped import shipped
from condyle.files.yaml_text import read_yaml_text
from condyle.stages import STAGES
from tests.test_checked_settings import Sample

ROOT = Path(__file__).parents[1]


class EditorLoader(yaml.SafeLoader):
    """YAML as editors read it: numbers and true/false are typed, dates and yes/no are text (YAML 1.2)."""


EditorLoader.yaml_implicit_resolvers = {
    letter: [
        (tag, pattern)
        for tag, pattern in resolvers
        if tag not in ("tag:yaml.org,2002:timestamp", "tag:yaml.org,2002:bool")
    ]
    for letter, resolvers in yaml.SafeLoader.yaml_implicit_resolvers.items()
}
EditorLoader.add_implicit_resolver("tag:yaml.org,2002:bool", re.compile("^(true|false)$"), list("tf"))


def typed(text: str) -> Any:
    return yaml.load(text, EditorLoader)  # noqa: S506 - a safe loader with fewer resolvers


def validator(name: str) -> jsonschema.Draft202012Validator:
    read = json.loads((ROOT / "configs" / "schema" / f"{name}.schema.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(read)
    return jsonschema.Draft202012Validator(read)


def test_schemas_and_page_are_up_to_date(capsys: pytest.CaptureFixture[str]) -> None:
    status = schema.main(["--check"])
    assert status == 0, f"run python -m condyle.schema: {capsys.readouterr().out}"


def test_what_is_out_of_date_is_said_and_then_written(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "docs").mkdir()
    page = tmp_path / "docs" / "configuration.md"
    page.write_text("before\n<!-- generated: lab -->\nold\n<!-- end -->\nafter\n")
    assert schema.main(["--root", str(tmp_path), "--check"]) == 1
    assert "docs/configuration.md is out of date" in capsys.readouterr().out
    assert "old" in page.read_text()
    assert schema.main(["--root", str(tmp_path)]) == 0
    assert page.read_text().startswith("before\n<!-- generated: lab -->\n\n| key |")
    assert page.read_text().endswith("<!-- end -->\nafter\n")
    assert schema.main(["--root", str(tmp_path), "--check"]) == 0
    assert schema.main(["--root", str(tmp_path / "nowhere")]) == 2


@pytest.mark.parametrize("name", sorted(shipped("marker_set")))
def test_shipped_marker_sets_validate(name: str) -> None:
    validator("marker_set").validate(typed(shipped("marker_set")[name].read_text(encoding="utf-8")))


@pytest.mark.parametrize("name", sorted(shipped("pipeline")))
def test_shipped_pipelines_validate(name: str) -> None:
    validator("pipeline").validate(typed(shipped("pipeline")[name].read_text(encoding="utf-8")))


def test_sessions_in_the_repository_and_in_the_docs_validate() -> None:
    texts = [p.read_text(encoding="utf-8") for p in sorted((ROOT / "sample_trials").rglob("session.yaml"))]
    texts += re.findall(r"```yaml\n(participant:.*?)```", (ROOT / "docs" / "configuration.md").read_text(), re.DOTALL)
    assert texts
    for text in texts:
        validator("session").validate(typed(text))


SESSION = """
participant: {id: 010, sex: female, height_mm: 1720, measured: {knee_width_r_mm: 105.5}}
session: 2026-11-03
static: static.c3d
calibration: [{file: a.c3d, for: hip_r}]
trials:
  - {file: a.c3d, side: right, condition: {shoes: none, box_mm: 300}, use_s: [2, 14.5], why: stumble}
  - b.c3d
accept: [{trial: b, subject: file, check: rate, why: known}]
"""


def test_a_session_as_an_editor_reads_it_validates() -> None:
    check = validator("session")
    check.validate(typed(SESSION))
    check.validate(typed(SESSION.partition("calibration")[0] + 'trials: "*.c3d"\n'))
    check.validate(typed("defaults: lab.yaml\nsession: 1\n"))


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("height_mm", "heigth_mm"),
        ("1720", "tall"),
        ("1720", "172"),
        ("side: right", "side: rihgt"),
        ("for: hip_r", "for: hip"),
        ("static: static.c3d", ""),
        ("use_s: [2, 14.5]", "use_s: [2]"),
        (", why: known", ""),
        ("session:", "sesion:"),
    ],
)
def test_a_wrong_session_does_not_validate(before: str, after: str) -> None:
    assert before in SESSION
    assert not validator("session").is_valid(typed(SESSION.replace(before, after)))


WRONG_MARKERS = [
    "landmarks: {asis: A}\ntracking: {pelvis: [A, B, C]}",
    "landmarks: {asis_r: A}\ntracking: {pelvs: [A, B, C]}",
    "landmarks: {asis_r: A}\ntracking: {pelvis: [A, B]}",
    "landmarks: {asis_r: A}\ntracking: {pelvis: {points: [A, B, C], kind: plat}}",
    "landmarks: {asis_r: A}\ntracking: {pelvis: {kind: plate}}",
    "landmarks: {asis_r: A}",
    "landmarks: {asis_r: A}\ntracking: {pelvis: [A, B, C]}\nstatik_only: []",
]
WRONG_PIPELINES = [
    "stages: [read, filtr]",
    "stages: []",
    "stages: [read, {filter: {cutof_hz: 6}}]",
    "stages: [read, {filter: {cutoff_hz: six}}]",
    "stages: [read, {filter: {cutoff_hz: 0}}]",
    "stages: [read, {filter: {}, check: {}}]",
    "stages: [{read: {zero_is_missing: maybe}}]",
    "lab: {vertical: Z}\nstages: [read]",
    "lab: {vertical: +Z}",
]


@pytest.mark.parametrize("text", WRONG_MARKERS)
def test_schema_and_program_refuse_the_same_marker_sets(text: str) -> None:
    assert not validator("marker_set").is_valid(typed(text))
    with pytest.raises(ConfigurationErrors):
        marker_set_from(typed(text))


@pytest.mark.parametrize("text", WRONG_PIPELINES)
def test_schema_and_program_refuse_the_same_pipelines(text: str) -> None:
    assert not validator("pipeline").is_valid(typed(text))
    with pytest.raises(ConfigurationErrors):
        pipeline_from(typed(text), STAGES)


@pytest.mark.parametrize(
    "text",
    [
        "stages: [read]",
        "stages: [{read: {zero_is_missing: no}}]",
        "stages: [{read: {zero_is_missing: false}}, {check: }]",
        "stages: [read, {filter: {cutoff_hz: residual, order: 2}}]",
        "lab: {anterior: static_pelvis_by_foot}\nstages: [read]",
    ],
)
def test_schema_and_program_take_the_same_pipelines(text: str) -> None:
    validator("pipeline").validate(typed(text))
    pipeline_from(typed(text), STAGES)


def test_the_tables_say_what_a_key_takes() -> None:
    fields = Sample.model_fields
    assert takes(fields["cutoff_hz"]) == "number > 0 or `residual`"
    assert takes(fields["draws"]) == "whole number >= 1, <= 9999"
    assert takes(fields["use_s"]) == "list of 2 numbers"
    assert [default_of(fields[n]) for n in ("cutoff_hz", "seen", "use_s", "id")] == ["6", "no", "none", "x"]
    assert "| `draws` | whole number >= 1, <= 9999 | 200 |  | draws (ours) |" in settings_table(Sample)


def test_the_example_session_has_every_key_and_is_sound() -> None:
    path = ROOT / "configs" / "session.example.yaml"
    validator("session").validate(typed(path.read_text(encoding="utf-8")))
    text = read_yaml_text(path)
    session, sentences = validate(SessionFile, text)
    assert sentences == []
    assert session is not None
    keys = {key for trial in text.tree["trials"] for key in trial}
    assert keys == set(TrialEntry.model_fields)
    assert set(text.tree) == set(SessionFile.model_fields)
    assert set(text.tree["participant"]) == set(Participant.model_fields)
    assert set(text.tree["participant"]["measured"]) == set(Measured.model_fields)


def test_schemas_do_not_depend_on_what_was_imported_before() -> None:
    code = "import sys, condyle.dictionary; from condyle import schema; sys.exit(schema.main(['--check']))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=600)
    assert done.returncode == 0, done.stdout + done.stderr
