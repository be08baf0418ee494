"""What the tests beside this file share."""

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from condyle.files.c3d import C3DReader, Recording
from tests.c3d_bytes import C3DFile
from tests.c3d_hazards.shared import LABELS, POINTS


@pytest.fixture(scope="module")
def reader() -> Iterator[C3DReader]:
    with C3DReader() as one:
        yield one


@pytest.fixture
def read(reader: C3DReader, tmp_path: Path) -> Callable[..., Recording]:
    """Write a file and read it."""

    def written(file: C3DFile | None = None, /, **options: Any) -> Recording:
        own = {
            k: options.pop(k)
            for k in list(options)
            if k in ("accept_truncated", "accept_all_invalid", "zero_is_missing", "forces", "analogue")
        }
        made = file if file is not None else C3DFile(**({"points": POINTS, "labels": LABELS} | options))
        return reader.read(made.write(tmp_path / "trial.c3d"), **own)

    return written
