"""No setting without words, none without a unit, and none that its stage's page does not mention."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from pydantic.fields import FieldInfo

from condyle import schema
from condyle.files.checked import Checked, unit_of
from condyle.files.pipeline_file import Lab, ReadSettings, ReportSettings
from condyle.stages import STAGES

DOCS = Path(__file__).parents[1] / "docs"
SETTINGS: dict[str, type[Checked]] = {
    "read": ReadSettings,
    **{s.name: s.settings for s in STAGES},
    "report": ReportSettings,
}


def fields() -> Iterator[tuple[str, str, FieldInfo]]:
    for name, model in SETTINGS.items():
        for key, field in model.model_fields.items():
            yield name, key, field


def page_of(stage: str) -> Path:
    return DOCS / "stages" / f"{stage}.md"


@pytest.mark.parametrize("stage", SETTINGS)
def test_every_stage_has_a_page_that_names_every_setting(stage: str) -> None:
    assert page_of(stage).is_file(), f"docs/stages/{stage}.md is missing"
    text = page_of(stage).read_text(encoding="utf-8")
    missing = [key for key in SETTINGS[stage].model_fields if f"`{key}`" not in text]
    assert not missing, f"docs/stages/{stage}.md does not mention {missing}"


def test_no_page_describes_a_stage_that_is_not_there() -> None:
    pages = {p.stem for p in (DOCS / "stages").glob("*.md")} - {"README", "index"}
    assert pages <= set(SETTINGS), f"pages without a stage: {sorted(pages - set(SETTINGS))}"


def test_every_setting_has_words() -> None:
    wordless = [f"{stage}.{key}" for stage, key, field in fields() if len((field.description or "").split()) < 2]
    assert not wordless


def test_every_number_has_its_unit_in_its_key_or_says_that_it_has_none() -> None:
    def is_real_number(field: FieldInfo) -> bool:
        return re.search(r"\bfloat\b", str(field.annotation)) is not None and "dict" not in str(field.annotation)

    unitless = [f"{stage}.{key}" for stage, key, field in fields() if is_real_number(field) and not unit_of(key, field)]
    assert not unitless, f"end these keys in their unit, or give json_schema_extra={{'unit': '1'}}: {unitless}"


def test_the_configuration_page_has_a_row_for_every_key_of_every_file() -> None:
    text = (DOCS / "configuration.md").read_text(encoding="utf-8")
    models = [Lab, *SETTINGS.values(), *schema.TABLES.values()]
    keys = {field.alias or name for model in models for name, field in model.model_fields.items()}
    assert not [key for key in sorted(keys) if f"| `{key}` |" not in text]
