"""A file is there whole, or not at all."""

import os
import re
import secrets
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from condyle.errors import DataError, UsageError

_STALE = re.compile(r"^\..+\.[0-9a-f]{12}\.part$")


@contextmanager
def atomic_path(path: str | Path) -> Iterator[Path]:
    """A temporary name in the folder of ``path``; on leaving without an error it becomes ``path``, else it goes away.

    The temporary file lies in the same folder because a rename is only atomic within one file system, and it is brought
    to the disk before the rename: otherwise a power cut could leave a name that stands for an empty file.
    """
    target = Path(path)
    temporary = target.with_name(f".{target.name}.{secrets.token_hex(6)}.part")
    try:
        yield temporary
        _to_disk(temporary)
        os.replace(temporary, target)
    except OSError as error:
        raise DataError(f"{target} could not be written: {_reason(error)}.") from error
    finally:
        temporary.unlink(missing_ok=True)


def write_bytes(path: str | Path, content: bytes) -> None:
    """Write ``content`` to ``path``, atomically."""
    with atomic_path(path) as temporary:
        temporary.write_bytes(content)


def write_text(path: str | Path, text: str) -> None:
    """Write ``text`` as UTF-8, its line ends as they are, to ``path``, atomically; half surrogates are escaped."""
    write_bytes(path, text.encode("utf-8", errors="backslashreplace"))


def is_stale(path: Path) -> bool:
    """Whether the name is one that ``atomic_path`` gives: the remains of a process that was killed while writing."""
    return _STALE.match(path.name) is not None


def remove_stale(folder: Path) -> None:
    """Remove what killed processes left half-written in ``folder``; only where nobody else is writing."""
    for path in folder.glob(".*.part"):
        if is_stale(path):
            path.unlink(missing_ok=True)


def writable_or_raise(folder: str | Path) -> Path:
    """Make ``folder`` where it is missing and try to write in it: an unwritable place is said before computing."""
    place = Path(folder)
    if place.exists() and not place.is_dir():
        raise UsageError(f"{place} is a file, not a folder to write results into; name a folder with --out.")
    probe = place / f".probe.{secrets.token_hex(6)}.part"
    try:
        place.mkdir(parents=True, exist_ok=True)
        probe.write_bytes(b"condyle")
        probe.unlink()
    except OSError as error:
        with suppress(OSError):  # a full disk takes the name but not the bytes
            probe.unlink()
        raise UsageError(
            f"results cannot be written into {place}: {_reason(error)}; name another with --out."
        ) from error
    return place


def _to_disk(path: Path) -> None:
    descriptor = os.open(path, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def _reason(error: OSError) -> str:
    return (error.strerror or str(error) or type(error).__name__).lower()
