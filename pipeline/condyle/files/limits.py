"""Limits that decide something: each with value, unit, source and words, in a file of configs/ and never in code."""

import os
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

from pydantic import Field, GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import CoreSchema, core_schema

from condyle.errors import ConfigurationErrors
from condyle.files.checked import Checked, validate
from condyle.files.shipped import configs_folder
from condyle.files.suggestion import hint
from condyle.files.yaml_text import read_yaml_text

CHANGED = "set in the pipeline"


class Limit(Checked):
    """One number that decides, and why it is that number."""

    value: float = Field(description="the limit")
    unit: str = Field(description="its unit; 1 for a count or a share")
    source: str = Field(min_length=1, description="a publication, 'ours', or 'common practice, no source'")
    words: str = Field(min_length=1, description="what is compared with it, and what follows")


@lru_cache(maxsize=32)
def load_limits(name: str) -> Mapping[str, Limit]:
    """The shipped limits ``configs/NAME.yaml``; read once."""
    return read_limits(configs_folder() / f"{name}.yaml")


def read_limits(path: str | os.PathLike[str]) -> Mapping[str, Limit]:
    """The limits in a YAML file, key by key; raises ConfigurationErrors with one sentence a mistake."""
    text = read_yaml_text(path)
    limits: dict[str, Limit] = {}
    sentences: list[str] = []
    for key in text.tree:
        limit, wrong = validate(Limit, text, (key,))
        sentences += wrong
        if limit is not None:
            limits[key] = limit
    if sentences:
        raise ConfigurationErrors(sentences)
    return MappingProxyType(limits)


def limits_files() -> list[Path]:
    """The shipped files of limits: those in which every entry has a value."""
    found = []
    for path in sorted(configs_folder().glob("*.yaml")):
        entries = read_yaml_text(path).tree.values()
        if all(isinstance(entry, dict) and "value" in entry for entry in entries):
            found.append(path)
    return found


def overlaid(limits: Mapping[str, Limit], changes: Mapping[str, float]) -> Mapping[str, Limit]:
    """The limits with some values changed by the user, whose source then says so; KeyError on an unknown name."""
    changed = {
        key: limits[key].model_copy(update={"value": float(value), "source": CHANGED}) for key, value in changes.items()
    }
    return MappingProxyType({**limits, **changed})


@dataclass(frozen=True)
class KnownLimits:
    """Marks a setting as changes to the shipped limits of that name: unknown names are refused with the nearest one.

    ``limits: Annotated[dict[str, float], KnownLimits("findings")] = Field({}, description=...)``
    """

    name: str

    def _check(self, changes: dict[str, float]) -> dict[str, float]:
        known = load_limits(self.name)
        for key in changes:
            if key not in known:
                raise ValueError(f"limit `{key}` is not known{hint(key, known)}")
        return changes

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_after_validator_function(self._check, handler(source))

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        properties = {
            key: {"type": "number", "description": f"{limit.words} ({limit.unit}); shipped: {limit.value:g}"}
            for key, limit in load_limits(self.name).items()
        }
        return {"type": "object", "properties": properties, "additionalProperties": False}
