"""An archive of real (synthetic) sessions: one job or two give the same bytes, and damaged files cost only themselves."""

import subprocess
from pathlib import Path

import pandas as pd

from condyle import compute, plan
from condyle.archive import archive
from condyle.archive.record import fingerprint
from condyle.files.c3d import C3DReader
from tests.archives import TABLES, tables
from tests.benchmarks.archive import unaccounted
from tests.small_sessions import PIPELINE, add_mutated, base_recordings, replicate, write_session_file


def test_real_sessions_and_damaged_files_with_one_job_and_two(tmp_path: Path) -> None:
    root = tmp_path / "root"
    bases = base_recordings(tmp_path / "bases", ("hip_in",))
    replicate(bases, root, 2)
    count = add_mutated(bases[0], root, 2, 7, seed=4)
    one = archive(root, tmp_path / "one", show=False)
    two = archive(root, tmp_path / "two", jobs=2, show=False)
    assert one.statuses == two.statuses
    assert one.statuses["failed"] == 0
    assert tables(tmp_path / "one") == tables(tmp_path / "two")
    files = {path.relative_to(tmp_path / "one") for path in (tmp_path / "one" / "sessions").rglob("*.nc")}
    assert len([path for path in files if path.parts[1].startswith("MR")]) == 4
    for name in files:
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes(), name

    silent, processed = unaccounted(root, tmp_path / "one")
    assert not silent
    assert 0 <= processed < count
    assert one.exit_status == 1

    found = {name: pd.read_parquet(tmp_path / "one" / f"{name}.parquet") for name in TABLES}
    good = found["repetitions"].query("participant == 'MR00001'")
    assert len(good) == 2
    assert set(good["side"]) == {"right"}
    measures = found["measures"].query("participant == 'MR00001' and measure == 'knee_flexion_max'")
    assert measures["value"].between(60, 90).all()
    contributions = found["contributions"].query("participant == 'MR00001' and measure == 'fppa'")
    assert contributions["value"].notna().all()


def test_one_reader_serves_sessions_one_after_another_and_is_left_open(tmp_path: Path) -> None:
    base_recordings(tmp_path / "bases", ("hip_in",))
    replicate([tmp_path / "bases" / "hip_in"], tmp_path / "root", 2)
    sessions = sorted(tmp_path.glob("root/MR*/*/session.yaml"))
    alone = [compute(plan(session)).sha256 for session in sessions]
    with C3DReader() as reader:
        first = reader._process.pid
        together = [compute(plan(session), reader=reader).sha256 for session in sessions]
        assert reader._process.pid == first is not None
    assert together == alone
    assert set(alone[0]) == {"static", "squat"}


def test_a_labs_own_reference_values_belong_to_what_a_session_is_made_from(tmp_path: Path) -> None:
    folder = tmp_path / "MR01" / "2026-11-03"
    folder.mkdir(parents=True)
    (tmp_path / "squat.yaml").write_text(PIPELINE)
    write_session_file(folder, "MR01", ["squat"])
    for name in ("static", "squat"):
        (folder / f"{name}.c3d").touch()
    seen = [fingerprint(folder / "session.yaml", str(tmp_path))]
    (tmp_path / "reference").mkdir()
    for text in ("one", "another"):
        (tmp_path / "reference" / "lab.yaml").write_text(text)
        seen.append(fingerprint(folder / "session.yaml", str(tmp_path)))
    assert len({made_from for _, _, made_from in seen}) == 3
    assert fingerprint(folder / "session.yaml", str(tmp_path)) == seen[-1]


def test_the_benchmark_says_its_names() -> None:
    import sys

    done = subprocess.run(
        [sys.executable, "-m", "tests.benchmarks"],
        capture_output=True,
        text=True,
        check=False,
        cwd=Path(__file__).parents[1],
    )
    assert done.returncode == 2
    assert "archive" in done.stderr
