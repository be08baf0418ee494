"""A Dask cluster gives the bytes of one process, also when a worker is killed; a lost scheduler loses nothing."""

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from condyle.archive import archive
from condyle.errors import UsageError
from tests.archives import environment, make_archive, make_session, run, statuses, tables

pytest.importorskip("distributed", reason="the extra `cluster` is not installed")


def on_cluster(mode: str, root: Path, out: Path) -> dict[str, Any]:
    done = subprocess.run(
        [sys.executable, "-m", "tests.cluster_archive", mode, str(root), str(out)],
        capture_output=True,
        text=True,
        env=environment(),
        timeout=600,
        check=True,
        cwd=Path(__file__).parent.parent,
    )
    answer: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return answer


def test_a_killed_dask_worker_changes_nothing_in_the_tables(tmp_path: Path) -> None:
    root = tmp_path / "root"
    make_archive(root, 10, "slow 0.2")
    make_session(root / "MR09" / "bad", "MR09", "bad", {"squat": "crash"})
    assert run(root, tmp_path / "alone").returncode == 1
    answer = on_cluster("kill", root, tmp_path / "cluster")
    assert answer["killed"]
    assert answer["status"] == 1
    assert "11 sessions: 10 done, 1 failed" in answer["summary"]
    assert tables(tmp_path / "cluster") == tables(tmp_path / "alone")
    assert statuses(tmp_path / "cluster")["MR09/bad"][1].startswith("its worker process was ended by signal SIGSEGV")


def test_a_scheduler_that_goes_away_is_a_sentence_and_loses_nothing(tmp_path: Path) -> None:
    root, out = tmp_path / "root", tmp_path / "out"
    make_archive(root, 10, "slow 0.2")
    answer = on_cluster("scheduler", root, out)
    assert answer["killed"]
    assert answer["status"] == 1
    said = "went away; what was finished is kept, the same command without --overwrite goes on from there."
    assert said in answer["summary"]
    kept = sum('"done"' in path.read_text() for path in out.rglob("record.json"))
    assert kept >= 3
    again = run(root, out)
    assert "10 done" in again.stdout
    assert "(0 unchanged)" not in again.stdout


def test_no_scheduler_is_a_sentence_before_anything_is_computed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from condyle.archive import cluster

    make_archive(tmp_path / "root", 2)
    monkeypatch.setattr(cluster, "_CONNECT_S", 0.5)
    with pytest.raises(UsageError, match=r"no Dask scheduler answers at tcp://127\.0\.0\.1:9"):
        archive(tmp_path / "root", tmp_path / "out", cluster="tcp://127.0.0.1:9", show=False)
