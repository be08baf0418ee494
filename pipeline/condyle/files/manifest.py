"""manifest.json: what went in, with which settings and versions, and how long each stage took."""

import json
import math
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any

from condyle.files.atomic import write_text


def write_manifest(path: str | Path, content: Mapping[str, Any]) -> None:
    """Write a manifest as JSON, keys in the order given, two blanks of indent; numbers JSON cannot say become null."""
    text = json.dumps(_plain(content), indent=2, ensure_ascii=False, allow_nan=False)
    write_text(path, text + "\n")


def read_manifest(path: str | Path) -> dict[str, Any] | None:
    """The manifest at ``path``; None where there is none, or none that can be read."""
    try:
        content = json.loads(Path(path).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    return content if isinstance(content, dict) else None


def _plain(value: Any) -> Any:
    if hasattr(value, "model_dump"):
        return _plain(value.model_dump(mode="json"))
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple | set | frozenset):
        items = sorted(value, key=str) if isinstance(value, set | frozenset) else value
        return [_plain(item) for item in items]
    if hasattr(value, "tolist"):  # NumPy's scalars and arrays
        return _plain(value.tolist())
    if isinstance(value, float):
        return value + 0.0 if math.isfinite(value) else None
    if value is None or isinstance(value, bool | int | str):
        return value
    if isinstance(value, Path):
        return value.as_posix()
    if isinstance(value, date):
        return value.isoformat()
    raise TypeError(f"a manifest cannot hold a {type(value).__name__}: {value!r}")
