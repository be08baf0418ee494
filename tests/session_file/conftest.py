"""What the tests beside this file share."""

from pathlib import Path

import pytest

from tests.session_file.shared import FILES


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    for name in FILES:
        (tmp_path / name).touch()
    (tmp_path / "earlier").mkdir()
    return tmp_path
