"""Which field of which settings class stands at a place of a YAML file."""

import types
from collections.abc import Iterator, Mapping
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from condyle.files.yaml_text import TreePath


def model_at(model: type[BaseModel], loc: TreePath) -> type[BaseModel] | None:
    """The settings class that stands at a path below ``model``; None where there is none."""
    here: Any = model
    for step in loc:
        here = _below(here, step)
    return next(_models(here), None)


def field_at(model: type[BaseModel], loc: TreePath) -> FieldInfo | None:
    """The field that stands at a path below ``model``, a list's for its items; None where there is none."""
    names = list(loc)
    while names and isinstance(names[-1], int):
        names.pop()
    if not names:
        return None
    owner = model_at(model, tuple(names[:-1]))
    return _field(owner, str(names[-1])) if owner else None


def keys_of(model: type[BaseModel]) -> list[str]:
    """The keys that a user may write: a field's alias, else its name."""
    return [field.alias or name for name, field in model.model_fields.items()]


def _field(model: type[BaseModel], key: str) -> FieldInfo | None:
    return next((field for name, field in model.model_fields.items() if (field.alias or name) == key), None)


def _below(annotation: Any, step: str | int) -> Any:
    for owner in _models(annotation):
        if isinstance(step, str) and (field := _field(owner, step)) is not None:
            return field.annotation
    for part in alternatives(annotation):
        origin, args = get_origin(part), [a for a in get_args(part) if a is not Ellipsis]
        if args and origin in (dict, Mapping) and isinstance(step, str):
            return args[-1]
        if args and origin in (list, tuple, set, frozenset) and isinstance(step, int):
            return args[min(step, len(args) - 1)]
        if isinstance(part, type) and issubclass(part, BaseModel):
            return part  # a step that a validator put in between
    return None


def _models(annotation: Any) -> Iterator[type[BaseModel]]:
    for part in alternatives(annotation):
        if isinstance(part, type) and issubclass(part, BaseModel):
            yield part


def alternatives(annotation: Any) -> Iterator[Any]:
    """The types that an annotation allows, without None."""
    origin = get_origin(annotation)
    if origin is Annotated:
        yield from alternatives(get_args(annotation)[0])
    elif origin in (Union, types.UnionType):
        for part in get_args(annotation):
            yield from alternatives(part)
    elif annotation is not None:
        yield annotation
