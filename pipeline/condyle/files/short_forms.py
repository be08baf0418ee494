"""Short forms in YAML: one item where a list may stand, a file's name where a mapping may."""

from dataclasses import dataclass
from typing import Any

from pydantic import GetJsonSchemaHandler
from pydantic_core import CoreSchema


def as_list(value: Any) -> Any:
    """A text alone stands for a list of it."""
    return [value] if isinstance(value, str) else value


def one_or_many(value: Any) -> Any:
    """A text or a mapping alone stands for a list of it."""
    return [value] if isinstance(value, str | dict) else value


def as_entry(value: Any) -> Any:
    """A text alone is the file of an entry without further keys."""
    return {"file": value} if isinstance(value, str) else value


@dataclass(frozen=True)
class OrText:
    """In the JSON Schema: this, or a single text that stands for it."""

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        return {"anyOf": [{"type": "string", "minLength": 1}, handler(schema)]}


@dataclass(frozen=True)
class OrOne:
    """In the JSON Schema: this list, or one of its items alone."""

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        several = handler(schema)
        return {"anyOf": [*several["items"]["anyOf"], several]}
