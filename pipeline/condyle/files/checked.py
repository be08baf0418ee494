"""The base of every settings class, and the plain sentence for whatever a user wrote wrong."""

import math
from collections.abc import Mapping
from typing import Any, Literal, TypeVar, get_args, get_origin

from pydantic import BaseModel, ConfigDict, ValidationError, ValidationInfo, field_validator
from pydantic.fields import FieldInfo
from pydantic_core import PydanticCustomError

from condyle.files.model_fields import alternatives, field_at, keys_of, model_at
from condyle.files.suggestion import hint, nearest
from condyle.files.yaml_text import TreePath, YamlText

NO_OUTER_BLANKS = r"^\S(.*\S)?$"  # a pattern for which errors have words
_WORDS_FOR_BOOL = {"yes": True, "true": True, "no": False, "false": False}
_UNITS = {  # the ends of keys, the longest first
    "_deg_per_s": "deg/s",
    "_mm_per_s": "mm/s",
    "_percent": "%",
    "_deg": "deg",
    "_hz": "Hz",
    "_mm": "mm",
    "_kg": "kg",
    "_mb": "MB",
    "_s": "s",
}

M = TypeVar("M", bound="Checked")


class Checked(BaseModel):
    """Settings that cannot be wrong: frozen, no unknown key, no NaN, every default checked too.

    A field carries its words in ``Field(description=...)``, its unit in the end of its name (``cutoff_hz``; a number
    without unit says ``json_schema_extra={"unit": "1"}``), and where it has one its source, likewise under ``source``.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, validate_default=True)

    @field_validator("*", mode="before")
    @classmethod
    def _from_text(cls, value: Any, info: ValidationInfo) -> Any:
        """Text becomes bool or a literal number only where the field declares one; the rest pydantic does."""
        if not isinstance(value, str) or info.field_name is None:
            return value
        return _typed(value, cls.model_fields[info.field_name].annotation)


def unit_of(name: str, field: FieldInfo | None = None) -> str:
    """The unit of a setting: the field's own, else the end of its key; '' where it has none."""
    if field is not None and isinstance(field.json_schema_extra, dict) and "unit" in field.json_schema_extra:
        return str(field.json_schema_extra["unit"])
    return next((unit for end, unit in _UNITS.items() if name.endswith(end)), "")


def source_of(field: FieldInfo) -> str:
    """Where a setting's default comes from; '' where nothing is said."""
    extra = field.json_schema_extra
    return str(extra.get("source", "")) if isinstance(extra, dict) else ""


def validate(model: type[M], text: YamlText, at: TreePath = (), tree: Any = None) -> tuple[M | None, list[str]]:
    """The settings that stand in ``text`` below ``at``, or None with a sentence for each mistake.

    ``tree`` replaces what stands there, for a file merged over its defaults; lines still come from ``text``.
    """
    node = text.at(at) if tree is None else tree
    try:
        return model.model_validate(node), []
    except ValidationError as error:
        grouped: dict[tuple[TreePath, str], list[str]] = {}
        for one in error.errors(include_url=False):
            if not _echo(one):
                loc, found, expected = _told(model, text, at, one, node)
                grouped.setdefault(((*at, *loc), found), []).append(expected)
        ordered = sorted(grouped.items(), key=lambda item: text.line(item[0][0]))
        return None, [text.sentence(path, found + " or ".join(dict.fromkeys(e))) for (path, found), e in ordered]


def _echo(error: Any) -> bool:
    """A list called too short only because its entries were wrong, which has been said already."""
    return bool(error["type"] == "too_short" and len(error["input"]) >= error["ctx"]["min_length"])


def _told(model: type[BaseModel], text: YamlText, at: TreePath, error: Any, tree: Any) -> tuple[TreePath, str, str]:
    """Where the mistake is, what was found, and what was expected; alternatives share the first two."""
    loc: TreePath = tuple(error["loc"])
    if error["type"] == "extra_forbidden":
        owner = model_at(model, loc[:-1])
        return (
            loc,
            f"key `{loc[-1]}`{_inside(at, loc)} is not known{hint(str(loc[-1]), keys_of(owner) if owner else [])}",
            "",
        )
    if error["type"] == "missing" and isinstance(loc[-1], int):  # a pair with one number, a triple with two
        error, loc = {**error, "type": "too_short_tuple"}, loc[:-1]
    if error["type"] == "missing":
        field = field_at(model, loc)
        words = f"; expected {field.description}" if field is not None and field.description else ""
        return loc[:-1], f"key `{loc[-1]}`{_inside(at, loc)} is missing{words}", ""
    loc = _in_tree(loc, tree)
    key = _name(at, loc)
    subject = f"key `{key}`{_inside(at, loc)}" if loc or at else "the file"
    if error["type"] in ("value_error", "assertion_error"):  # the words of our own validators stand for themselves
        return loc, f"{subject}: ", str(error["msg"]).partition(", ")[2]
    expected = _expected(error, unit_of(key.split("[")[0], field_at(model, loc)))
    found = "has no value" if error["input"] is None else f"is {_quoted(error['input'])}"
    return loc, f"{subject} {found}; expected ", expected


def _in_tree(loc: TreePath, tree: Any) -> TreePath:
    """The path without the names that pydantic gives to the alternatives of a union."""
    node = tree
    for depth, step in enumerate(loc):
        if isinstance(node, str) or node is None:
            return loc[:depth]
        try:
            node = node[step]
        except (KeyError, IndexError, TypeError):
            return loc[:depth] if "[" in str(step) else loc
    return loc


def _name(at: TreePath, loc: TreePath) -> str:
    """The last key of a path with the numbers after it: ``trials[2]``; counted from 1, as readers count."""
    path = [*at, *loc]
    tail = ""
    while path and isinstance(path[-1], int):
        tail = f"[{int(path.pop()) + 1}]{tail}"
    return f"{path[-1]}{tail}" if path else "file"


def _inside(at: TreePath, loc: TreePath) -> str:
    """`` in `participant` `` for a key that does not stand at the top."""
    path = [*at, *loc]
    while path and isinstance(path[-1], int):
        path.pop()
    above = tuple(path[:-1])
    return f" in `{_name((), above)}`" if above else ""


def _quoted(found: Any) -> str:
    if isinstance(found, Mapping):
        return "a mapping"
    if isinstance(found, list | tuple):
        return f"a list of {len(found)}"
    words = str(found)
    return f"`{words if len(words) <= 60 else words[:57] + '...'}`"


def _expected(error: Any, unit: str) -> str:
    """What would have been right, in words."""
    kind, ctx = str(error["type"]), error.get("ctx", {})
    of_unit = f" in {unit}" if unit and unit != "1" else ""
    if kind in ("literal_error", "enum"):
        return _one_of(str(ctx["expected"]), error["input"])
    bounds = {"greater_than": ("above", "gt"), "greater_than_equal": ("of at least", "ge")}
    bounds |= {"less_than": ("below", "lt"), "less_than_equal": ("of at most", "le")}
    if kind in bounds:
        words, key = bounds[kind]
        return f"a number {words} {_plain(ctx[key])}{of_unit}"
    if kind in ("too_short", "too_long"):
        few = ("at least", ctx.get("min_length")) if kind == "too_short" else ("at most", ctx.get("max_length"))
        return f"{few[0]} {few[1]} entr{'y' if few[1] == 1 else 'ies'}"
    if kind == "too_short_tuple":
        return "one entry more"
    simple = {
        "float": f"a number{of_unit}",
        "int": f"a whole number{of_unit}",
        "bool": "`yes` or `no`",
        "finite": f"a finite number{of_unit}",
        "string": "text",
        "list": "a list",
        "tuple": "a list",
        "set": "a list",
        "frozen": "a list",
        "dict": "a mapping (`key: value`)",
        "mapping": "a mapping (`key: value`)",
        "model": "a mapping (`key: value`)",
    }
    if kind == "string_pattern_mismatch":
        blanks = ctx.get("pattern") == NO_OUTER_BLANKS
        return "text without blanks before or behind it" if blanks else f"text of the form {ctx.get('pattern')}"
    return simple.get(kind.split("_")[0], str(error["msg"]).removeprefix("Input should be ").removeprefix("a valid "))


def _one_of(expected: str, found: Any) -> str:
    options = [part.strip("' ") for part in expected.replace(" or ", ", ").split(",")]
    near = nearest(str(found), options) if isinstance(found, str) else None
    words = f"one of {', '.join(options)}" if len(options) > 1 else f"`{options[0]}`"
    return words + (f"; nearest valid name: `{near}`" if near else "")


def _plain(number: Any) -> str:
    return f"{number:g}" if isinstance(number, float) and math.isfinite(number) else str(number)


def _typed(value: str, annotation: Any) -> Any:
    parts = list(alternatives(annotation))
    if str in parts:
        return value
    for part in parts:
        if part is bool:
            if value.casefold() in _WORDS_FOR_BOOL:
                return _WORDS_FOR_BOOL[value.casefold()]
            if len(parts) == 1:  # 'on', '1' and 't', which pydantic would take, are no answers
                raise PydanticCustomError("bool_parsing", "expected yes or no")
        if get_origin(part) is Literal:
            for option in get_args(part):
                if value == str(option) or (
                    isinstance(option, bool) and _WORDS_FOR_BOOL.get(value.casefold()) is option
                ):
                    return option
    return value
