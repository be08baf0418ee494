"""A small share of the damage study and of the memory study; the whole ones are `python -m tests.damage` and `many_reads`."""

import sys
from pathlib import Path

import pytest

from tests.c3d_bytes import C3DFile, walking_body
from tests.damage import run
from tests.many_reads import FLAT_MB, growth_mb


@pytest.mark.parametrize("seed", [1, 2])
def test_damaged_files_are_never_silently_wrong(tmp_path: Path, seed: int) -> None:
    report = run(48, seed=seed, folder=tmp_path)
    assert report.failed == []
    assert report.wrong == []
    assert sum(report.outcomes.values()) == 48
    assert report.slowest_s < 10
    assert {outcome for _, outcome in report.outcomes} >= {"refused", "flagged"}


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="reads the kernel's count of resident pages")
def test_memory_is_flat_over_a_hundred_reads(tmp_path: Path) -> None:
    points, labels = walking_body(frames=200)
    own, child, _ = growth_mb(C3DFile(points, labels=labels).write(tmp_path / "walk.c3d"), 100)
    assert own < FLAT_MB
    assert child < FLAT_MB
