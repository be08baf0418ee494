"""Limits that decide something: each with value, unit, source and words, in a file of configs/ and never in code."""

import os
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

from pydantic import Field, GetCoreSchemaHandler, GetJsonSchemaHandler, ValidationError, model_validator
from pydantic_core import CoreSchema, InitErrorDetails, PydanticCustomError, core_schema

from condyle.errors import ConfigurationErrors
from condyle.files.checked import Checked, validate
from condyle.files.shipped import configs_folder
from condyle.files.suggestion import hint
from condyle.files.yaml_text import read_yaml_text

CHANGED = "set in the pipeline"
_BY_UNIT = {  # what a limit can sensibly be where its entry does not say otherwise (ours)
    "%": (0.0, 100.0),
    "deg": (0.0, 180.0),
    "mm": (0.0, 2000.0),  # about a body's length
    "s": (0.0, 600.0),
    "Hz": (0.0, 10_000.0),
}
_OTHER_END = {"review": "reject", "reject": "review"}
_ANY_OTHER = (0.0, 10_000.0)  # counts, ratios, rates


class Limit(Checked):
    """One number that decides, and why it is that number."""

    value: float = Field(description="the limit")
    unit: str = Field(description="its unit; 1 for a count or a share")
    source: str = Field(min_length=1, description="a publication, 'ours', or 'common practice, no source'")
    words: str = Field(min_length=1, description="what is compared with it, and what follows")
    least: float | None = Field(None, description="the least that it may be; left out, by its unit (0)")
    most: float | None = Field(
        None, description="the most that it may be; left out, by its unit (100 %, 180 deg, 2000 mm)"
    )

    @property
    def bounds(self) -> tuple[float, float]:
        """The least and the most that the value may be."""
        least, most = _BY_UNIT.get(self.unit, _ANY_OTHER)
        return least if self.least is None else self.least, most if self.most is None else self.most

    @property
    def expected(self) -> str:
        """What the value may be, in words."""
        least, most = self.bounds
        return f"a number from {least:g} to {most:g}{'' if self.unit == '1' else f' {self.unit}'}"

    @model_validator(mode="after")
    def _within_its_bounds(self) -> "Limit":
        if not self.bounds[0] <= self.value <= self.bounds[1]:
            raise ValueError(f"value {self.value:g}: expected {self.expected}")
        return self


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
    """Marks a setting as changes to the shipped limits of that name: unknown names are refused with the nearest one,
    values beyond a limit's bounds with what was expected.

    ``limits: Annotated[dict[str, float], KnownLimits("findings")] = Field({}, description=...)``
    """

    name: str

    def _check(self, changes: dict[str, float]) -> dict[str, float]:
        known = load_limits(self.name)
        for key in changes:
            if key not in known:
                raise ValueError(f"limit `{key}` is not known{hint(key, known)}")
        beyond = [
            InitErrorDetails(
                type=PydanticCustomError("limit", "{expected}", {"expected": said}), loc=(key,), input=f"{value:g}"
            )
            for key, value in changes.items()
            if (said := _expected(key, value, known, changes))
        ]
        if beyond:
            raise ValidationError.from_exception_data(self.name, beyond)
        return changes

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_after_validator_function(self._check, handler(source))

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        properties = {
            key: {
                "type": "number",
                **dict(zip(("minimum", "maximum"), limit.bounds, strict=True)),
                "description": f"{limit.words} ({limit.unit}); shipped: {limit.value:g}",
            }
            for key, limit in load_limits(self.name).items()
        }
        return {"type": "object", "properties": properties, "additionalProperties": False}


def _expected(key: str, value: float, known: Mapping[str, Limit], changes: Mapping[str, float]) -> str:
    """What was expected of a changed limit; empty where its value will do. What rejects lies beyond what calls for a look."""
    least, most = known[key].bounds
    if not least <= value <= most:
        return known[key].expected
    stem, _, end = key.rpartition("_")
    other = f"{stem}_{_OTHER_END.get(end, '')}"
    if other in known:
        against = float(changes.get(other, known[other].value))
        if (value > against) if end == "review" else (value < against):
            return f"{'at most' if end == 'review' else 'at least'} `{other}`, which is {against:g}"
    return ""
