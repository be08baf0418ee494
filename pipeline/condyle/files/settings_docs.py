"""Tables of every key with its default, unit and source, made from the classes that check them."""

import types
from collections.abc import Mapping
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo
from pydantic_core import PydanticUndefined

from condyle.files.checked import source_of, unit_of
from condyle.files.limits import Limit

_PLAIN = {str: "text", float: "number", int: "whole number", bool: "yes or no"}
_SIGNS = {"gt": ">", "ge": ">=", "lt": "<", "le": "<="}


def settings_table(model: type[BaseModel]) -> str:
    """A Markdown table of a settings class: key, what it takes, default, unit, what it is."""
    if not model.model_fields:
        return "No settings.\n"
    rows = ["| key | takes | default | unit | what it is |", "|---|---|---|---|---|"]
    for name, field in model.model_fields.items():
        source = source_of(field)
        words = (field.description or "") + (
            f" ({source})" if source and f"({source})" not in str(field.description) else ""
        )
        cells = (f"`{field.alias or name}`", takes(field), default_of(field), unit_of(name, field), words)
        rows.append("| " + " | ".join(_cell(cell) for cell in cells) + " |")
    return "\n".join(rows) + "\n"


def limits_table(limits: Mapping[str, Limit]) -> str:
    """A Markdown table of limits: name, value, unit, what it may be changed to, what it decides, source."""
    rows = ["| limit | value | unit | may be | what is compared with it | source |", "|---|---|---|---|---|---|"]
    for name, one in limits.items():
        least, most = one.bounds
        cells = (f"`{name}`", f"{one.value:g}", one.unit, f"{least:g} to {most:g}", _cell(one.words), _cell(one.source))
        rows.append(f"| {' | '.join(cells)} |")
    return "\n".join(rows) + "\n"


def takes(field: FieldInfo) -> str:
    """What a key takes, in words, with its bounds."""
    bounds = _bounds(field.metadata)
    words = _words(field.annotation)
    return f"{words} {bounds}" if bounds else words


def default_of(field: FieldInfo) -> str:
    """The default as it would be written in YAML; 'required' where there is none."""
    if field.default is PydanticUndefined:
        return "required" if field.default_factory is None else _yaml(field.get_default(call_default_factory=True))
    return _yaml(field.default)


def filled_in(page: str, parts: Mapping[str, str]) -> str:
    """The page with each block ``<!-- generated: NAME -->`` to ``<!-- end -->`` filled; KeyError on another name."""
    out, rest = [], page
    while "<!-- generated: " in rest:
        before, _, after = rest.partition("<!-- generated: ")
        name, _, after = after.partition(" -->")
        _, _, rest = after.partition("<!-- end -->")
        out.append(f"{before}<!-- generated: {name} -->\n\n{parts[name].strip()}\n\n<!-- end -->")
    return "".join([*out, rest])


def _cell(text: str) -> str:
    return " ".join(text.replace("|", "\\|").split())


def _bounds(metadata: list[Any]) -> str:
    found = [(sign, getattr(m, name, None)) for name, sign in _SIGNS.items() for m in metadata]
    return ", ".join(f"{sign} {value:g}" for sign, value in found if value is not None)


def _words(annotation: Any) -> str:
    origin, args = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        bounds = _bounds(list(args[1:]) + [m for a in args[1:] if isinstance(a, FieldInfo) for m in a.metadata])
        return f"{_words(args[0])} {bounds}" if bounds else _words(args[0])
    if origin in (Union, types.UnionType):
        return " or ".join(_words(a) for a in args if a is not type(None))
    if origin is Literal:
        return " or ".join(f"`{a}`" for a in args)
    if origin in (list, tuple, set, frozenset):
        if Ellipsis in args or origin is not tuple:
            return f"list of {_words(args[0])}"
        return f"list of {len(args)} {_words(args[0]).replace('number', 'numbers', 1)}"
    if origin is dict:
        return f"mapping to {_words(args[1])}"
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return "mapping"
    return _PLAIN.get(annotation, "anything")


def _yaml(value: Any) -> str:
    if value is None or value in ((), [], {}):
        return "none"
    if isinstance(value, BaseModel):
        return "its own defaults"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list | tuple):
        return f"[{', '.join(_yaml(v) for v in value)}]"
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{k}: {_yaml(v)}" for k, v in value.items()) + "}"
    return f"{value:g}" if isinstance(value, float) else str(value)
