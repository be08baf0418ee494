"""A report to be shared: no dates, paths, file names or fingerprints, wherever they stand in its words."""

import re
from dataclasses import fields, is_dataclass, replace
from typing import Any

_FILES = r"c3d|yaml|yml|csv|nc|json|html|pdf"
_ORIGINS = (
    (re.compile(r"(?<![\w.])(?:[A-Za-z]:[/\\]|\.{0,2}[/\\]|~[/\\])[^\s;,'\"()]+"), "[file]"),
    (re.compile(rf"[^\s;,'\"()/\\]+\.(?:{_FILES})\b", re.IGNORECASE), "[file]"),
    (re.compile(r"(?<!\d)(?:19|20)\d{2}([-_.]?)(?:0[1-9]|1[0-2])\1(?:0[1-9]|[12]\d|3[01])(?!\d)"), "[date]"),
    (re.compile(r"(?<!\d)\d{1,2}[./-]\d{1,2}[./-](?:19|20)?\d{2}(?!\d)"), "[date]"),
    (re.compile(r"\b[0-9a-f]{32,64}\b"), "[fingerprint]"),
)


def scrubbed(text: str) -> str:
    """The text without dates, paths, file names and fingerprints."""
    for pattern, instead in _ORIGINS:
        text = pattern.sub(instead, text)
    return text


def shared(value: Any) -> Any:
    """The same content with every string in it scrubbed; what is no text, list, mapping or record stays as it is."""
    if isinstance(value, str):
        return scrubbed(value)
    if isinstance(value, tuple) and hasattr(value, "_fields"):
        return type(value)(*(shared(v) for v in value))
    if isinstance(value, list | tuple):
        return type(value)(shared(v) for v in value)
    if isinstance(value, dict):
        return {k: shared(v) for k, v in value.items()}
    if is_dataclass(value) and not isinstance(value, type) and type(value).__name__ in ("Picture", "Group"):
        kept = {
            f.name: shared(getattr(value, f.name)) for f in fields(value) if f.name not in ("legs", "name", "panels")
        }
        if hasattr(value, "legs"):
            kept["legs"] = [(leg, shared(answer)) for leg, answer in value.legs]
        return replace(value, **kept)
    return value
