"""Limits stand in files with unit and source; a pipeline may change them by name only."""

from pathlib import Path
from typing import Annotated

import pytest
from pydantic import Field

from condyle.errors import ConfigurationErrors
from condyle.files import limits as module
from condyle.files.checked import Checked, validate
from condyle.files.limits import CHANGED, KnownLimits, Limit, load_limits, overlaid, read_limits
from condyle.files.yaml_text import parse_yaml_text

SOUND = """\
heading_apart: {value: 8, unit: deg, source: ours, words: beyond it the heading is uncertain}
lead: {value: 0.2, unit: 1, source: 'common practice, no source', words: share of the change}
"""


class Changes(Checked):
    limits: Annotated[dict[str, float], KnownLimits("mine")] = Field({}, description="changed limits")


@pytest.fixture
def mine(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    (tmp_path / "mine.yaml").write_text(SOUND)
    monkeypatch.setattr(module, "configs_folder", lambda: tmp_path)
    load_limits.cache_clear()
    yield tmp_path
    load_limits.cache_clear()


def test_a_limit_has_value_unit_source_and_words(mine: Path) -> None:
    limits = load_limits("mine")
    assert limits["heading_apart"] == Limit(
        value=8.0, unit="deg", source="ours", words="beyond it the heading is uncertain"
    )
    assert list(limits) == ["heading_apart", "lead"]
    with pytest.raises(TypeError):
        limits["lead"] = limits["heading_apart"]  # type: ignore[index]


def test_a_limit_without_source_or_with_a_wrong_key_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "l.yaml"
    path.write_text(SOUND.replace("source: ours, ", "").replace("value: 0.2", "valu: 0.2"))
    with pytest.raises(ConfigurationErrors) as caught:
        read_limits(path)
    assert caught.value.sentences == [
        f"{path}, line 1: key `source` in `heading_apart` is missing; expected a publication, 'ours', or "
        "'common practice, no source'",
        f"{path}, line 2: key `value` in `lead` is missing; expected the limit",
        f"{path}, line 2: key `valu` in `lead` is not known; nearest valid name: `value`",
    ]


def test_a_changed_limit_says_so_and_the_shipped_one_stays(mine: Path) -> None:
    shipped = load_limits("mine")
    changed = overlaid(shipped, {"lead": 0.3})
    assert (changed["lead"].value, changed["lead"].source, changed["lead"].unit) == (0.3, CHANGED, "1")
    assert changed["heading_apart"] is shipped["heading_apart"]
    assert shipped["lead"].value == 0.2


def test_an_unknown_limit_in_a_pipeline_gets_line_and_nearest_name(mine: Path) -> None:
    text = parse_yaml_text("limits:\n  led: 0.3\n", "p.yaml")
    assert validate(Changes, text)[1] == [
        "p.yaml, line 1: key `limits`: limit `led` is not known; nearest valid name: `lead`"
    ]
    assert validate(Changes, parse_yaml_text("limits: {lead: 0.3}", "p.yaml"))[0] == Changes(limits={"lead": 0.3})
    assert set(Changes.model_json_schema()["properties"]["limits"]["properties"]) == {"heading_apart", "lead"}
