"""What many tests share: the public C3D files, where they are available."""

import os
from pathlib import Path

import pytest

pytest_plugins = ["tests.undrawn"]


def open_c3d(name: str) -> Path:
    """Path of a public C3D file below OPEN_C3D_DIR; skips the test, with the reason, where it is not there."""
    root = os.environ.get("OPEN_C3D_DIR")
    if not root:
        pytest.skip("OPEN_C3D_DIR is not set: it names the folder of the C3D standard's public sample files")
    path = Path(root, name).resolve()
    if not path.exists():
        pytest.skip(f"{name} is not in OPEN_C3D_DIR ({root})")
    return path


@pytest.fixture(scope="session")
def open_c3d_dir() -> Path:
    """The folder of public C3D files; skips where OPEN_C3D_DIR is unset."""
    return open_c3d(".")
