"""JSON Schemas of the three files a user writes, made from the same classes that check them, for editors."""

from collections.abc import Sequence
from typing import Any, Literal

from pydantic import BaseModel
from pydantic.json_schema import models_json_schema

from condyle.files.checked import Checked
from condyle.files.layered import KEY as DEFAULTS
from condyle.files.marker_set import MarkerSet
from condyle.files.pipeline_file import READ, REPORT, Lab, ReadSettings, ReportSettings, StageLike
from condyle.files.session_file import SessionFile

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def session_schema() -> dict[str, Any]:
    """The schema of session.yaml; what a session needs may also stand in the file that ``defaults:`` names."""
    schema = _schema_of(SessionFile, "condyle session")
    words = "another file like this one; what stands here is laid over it"
    schema["properties"][DEFAULTS] = {"type": "string", "minLength": 1, "description": words}
    schema["anyOf"] = [{"required": schema.pop("required")}, {"required": [DEFAULTS]}]
    return schema


def marker_set_schema() -> dict[str, Any]:
    """The schema of a marker set."""
    return _schema_of(MarkerSet, "condyle marker set")


def pipeline_schema(stages: Sequence[StageLike]) -> dict[str, Any]:
    """The schema of a pipeline file with these stages."""
    settings: dict[str, type[Checked]] = {
        READ: ReadSettings,
        **{s.name: s.settings for s in stages},
        REPORT: ReportSettings,
    }
    classes: list[type[Checked]] = list(dict.fromkeys([Lab, *settings.values()]))
    modes: list[tuple[type[BaseModel], Literal["validation"]]] = [(c, "validation") for c in classes]
    references, shared = models_json_schema(modes, by_alias=True)
    of = {c: references[(c, "validation")] for c in classes}
    named = {name: {"anyOf": [of[c], {"type": "null"}]} for name, c in settings.items()}
    one_stage = {
        "type": "object",
        "properties": named,
        "additionalProperties": False,
        "minProperties": 1,
        "maxProperties": 1,
    }
    schema = {
        "$schema": DIALECT,
        "title": "condyle pipeline",
        "description": "The laboratory's axes, the stages in order, and their settings.",
        "type": "object",
        "properties": {
            "lab": of[Lab] | {"description": "the axes of the laboratory"},
            "stages": {
                "type": "array",
                "minItems": 1,
                "items": {"anyOf": [{"enum": list(settings)}, one_stage]},
                "description": f"the stages that are run, in this order: {', '.join(settings)}",
            },
        },
        "required": ["stages"],
        "additionalProperties": False,
        "$defs": shared["$defs"],
    }
    return dict(_for_editors(schema))


def _schema_of(model: type[Checked], title: str) -> dict[str, Any]:
    schema = _for_editors(model.model_json_schema(by_alias=True))
    return {"$schema": DIALECT, **schema, "title": title}


def _for_editors(node: Any, names: bool = False) -> Any:
    """The schema without the titles that only repeat a key, and with ``yes`` and ``no`` beside true and false.

    ``names`` says that the keys of ``node`` are the user's, among which a ``title`` would stay.
    """
    if isinstance(node, list):
        return [_for_editors(item) for item in node]
    if not isinstance(node, dict):
        return node
    out = {k: _for_editors(v, k in ("properties", "$defs")) for k, v in node.items() if names or k != "title"}
    if not names and out.get("type") == "boolean":
        out = {"enum": [True, False, "yes", "no"], **{k: v for k, v in out.items() if k != "type"}}
    return out
