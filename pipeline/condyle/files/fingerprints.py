"""What exactly went in: fingerprints of files, of settings and of the program itself."""

import hashlib
import json
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path
from typing import Any

from condyle.errors import DataError

_PACKAGE = Path(__file__).resolve().parent.parent


def sha256_of_file(path: str | Path) -> str:
    """SHA-256 of a file's bytes, in hexadecimal."""
    try:
        with open(path, "rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest()
    except OSError as error:
        raise DataError(f"{path} could not be read: {(error.strerror or str(error)).lower()}.") from error


def sha256_if_there(path: Path) -> str | None:
    """SHA-256 of an ordinary file that can be read; None of anything else."""
    try:
        return sha256_of_file(path) if path.is_file() else None
    except DataError:
        return None


def sha256_of_settings(settings: Any) -> str:
    """SHA-256 of settings by content: the order of keys does not matter, every value does.

    Settings are a pydantic object or anything JSON can say; what JSON cannot say is an error, never skipped.
    """
    plain = settings.model_dump(mode="json") if hasattr(settings, "model_dump") else settings
    return hashlib.sha256(json.dumps(plain, sort_keys=True, separators=(",", ":")).encode()).hexdigest()


@lru_cache(maxsize=1)
def sha256_of_package() -> str:
    """The code's version: SHA-256 over the names and bytes of the package's sources, shipped configuration included."""
    total = hashlib.sha256()
    for name, path in sorted(_sources(_PACKAGE, "")):
        total.update(f"{name}\0{sha256_of_file(path)}\n".encode())
    return total.hexdigest()


def _sources(folder: Path, prefix: str) -> Iterator[tuple[str, Path]]:
    # the configuration is a link in a working copy and a folder in a wheel: followed, so that both give one version
    for path in folder.iterdir():
        if path.name.startswith((".", "__pycache__")) or path.suffix in {".pyc", ".pyo"}:
            continue
        if path.is_dir():
            yield from _sources(path, f"{prefix}{path.name}/")
        elif path.is_file():
            yield f"{prefix}{path.name}", path
