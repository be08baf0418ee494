"""An archive ends with one set of tables, whatever happens to its sessions and workers on the way."""

import json
import os
import random
import re
import signal
import subprocess
import time
from concurrent.futures import Future
from pathlib import Path
from unittest import mock

import pandas as pd
import pyarrow.parquet as pq
import pytest

from condyle.archive import collect
from condyle.archive.workers import _as_they_come
from tests.archives import (
    children,
    command,
    environment,
    make_archive,
    make_session,
    rows_of,
    run,
    runs,
    started,
    statuses,
    tables,
)


@pytest.fixture
def places(tmp_path: Path) -> tuple[Path, Path]:
    return tmp_path / "root", tmp_path / "out"


def test_two_jobs_give_the_bytes_of_one(places: tuple[Path, Path], tmp_path: Path) -> None:
    root, out = places
    make_archive(root, 8)
    assert run(root, out).returncode == 0
    assert run(root, tmp_path / "two", "--jobs", "2").returncode == 0
    assert tables(out) == tables(tmp_path / "two")
    session = Path("sessions/MR02/2027-11-03")
    for name in ("measures.csv", "quality.csv", "report.html"):
        assert (out / session / name).read_bytes() == (tmp_path / "two" / session / name).read_bytes()


def test_tables_hold_a_row_group_a_session_in_order_of_folder(places: tuple[Path, Path]) -> None:
    root, out = places
    make_session(root / "b", "MR02", "s", {"one": "x"})
    make_session(root / "a" / "z", "MR03", "s", {"one": "x", "two": "y"})
    make_session(root / "a", "MR01", "s", {"one": "reject"})
    assert run(root, out, "--csv", "--jobs", "2").returncode == 1
    assert list(statuses(out)) == ["a", "a/z", "b"]
    measures = pq.ParquetFile(out / "measures.parquet")
    assert [measures.metadata.row_group(i).num_rows for i in range(measures.num_row_groups)] == [4, 2]
    whole = pd.read_parquet(out / "measures.parquet")
    assert whole["participant"].tolist() == ["MR03"] * 4 + ["MR02"] * 2
    assert whole["value"].dtype == float
    parts = [pd.read_csv(out / "sessions" / name / "measures.csv") for name in ("a/z", "b")]
    assert whole["value"].tolist() == pd.concat(parts)["value"].tolist()
    as_csv = pd.read_csv(out / "measures.csv")
    assert as_csv["value"].tolist() == whole["value"].tolist()
    assert list(as_csv.columns) == list(whole.columns)
    assert pd.read_parquet(out / "quality.parquet")["verdict"].tolist() == ["reject", "review", "review", "review"]


def test_an_archive_of_very_many_sessions_shares_row_groups(
    places: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    root, out = places
    make_archive(root, 5)
    run(root, out)
    alone = pd.read_parquet(out / "measures.parquet")
    monkeypatch.setattr(collect, "MOST_ROW_GROUPS", 2)
    run(root, out)
    metadata = pq.ParquetFile(out / "measures.parquet").metadata
    assert [metadata.row_group(i).num_rows for i in range(metadata.num_row_groups)] == [6, 4]
    pd.testing.assert_frame_equal(pd.read_parquet(out / "measures.parquet"), alone)


def test_unchanged_sessions_are_skipped_and_a_change_redoes_just_its_own(places: tuple[Path, Path]) -> None:
    root, out = places
    make_archive(root, 4)
    first = run(root, out)
    os.utime(root / "MR01" / "2026-11-03" / "squat_0.c3d")  # a new date is no change
    second = run(root, out)
    assert "(0 unchanged)" in first.stdout
    assert "(4 unchanged)" in second.stdout
    (root / "MR02" / "2026-11-03" / "squat_2.c3d").write_text("another recording")
    settings = root / "MR02" / "2027-11-03" / "session.yaml"
    settings.write_text(settings.read_text() + "tester: T2\n")
    third = run(root, out)
    assert "(2 unchanged)" in third.stdout
    assert "MR02/2026-11-03 done (0" in third.stdout
    assert "MR02/2027-11-03 done (0" in third.stdout
    assert "(0 unchanged)" in run(root, out, "--overwrite").stdout
    with mock.patch.dict(os.environ, {"STAND_IN_VERSION": "2"}):  # as after an update of the program
        assert "(0 unchanged)" in run(root, out).stdout


def test_a_moved_archive_is_not_done_again(places: tuple[Path, Path], tmp_path: Path) -> None:
    root, out = places
    make_archive(root, 2)
    run(root, out)
    root.rename(tmp_path / "elsewhere")
    assert "(2 unchanged)" in run(tmp_path / "elsewhere", out).stdout


def test_a_damaged_result_is_not_trusted(places: tuple[Path, Path]) -> None:
    root, out = places
    make_archive(root, 3)
    run(root, out)
    before = tables(out)
    table = out / "sessions" / "MR01" / "2026-11-03" / "measures.csv"
    table.write_bytes(table.read_bytes()[:-30])
    (out / "sessions" / "MR01" / "2027-11-03" / "record.json").write_text('{"folder": "MR0')
    again = run(root, out)
    assert "(1 unchanged)" in again.stdout
    assert tables(out) == before


def test_misbehaving_sessions_cost_only_themselves(places: tuple[Path, Path]) -> None:
    root, out = places
    for word in ("crash", "bug", "print", "memory", "reject", "once token"):
        make_session(root / word.split()[0], f"MR-{word.split()[0]}", "s", {"squat": word})
    make_session(root / "good", "MR-good", "s", {"squat": "x"})
    (root / "broken").mkdir()
    (root / "broken" / "session.yaml").write_text(
        "participant: {id: MR9}\nsession: s\nstatic: static.c3d\ntrails: []\n"
    )
    result = run(root, out, "--jobs", "2", "--memory-gb", "8")
    assert result.returncode == 1
    assert result.stderr == ""
    found = statuses(out)
    assert {folder: status for folder, (status, _) in found.items()} == {
        **dict.fromkeys(("bug", "broken", "crash", "memory"), "failed"),
        **dict.fromkeys(("good", "once", "print"), "done"),
        "reject": "rejected",
    }
    assert found["crash"][1] == "its worker process was ended by signal SIGSEGV, in each of 2 attempts."
    assert found["memory"][1].startswith("it needs more memory than one session may take")
    assert "ZeroDivisionError: division by zero" in found["bug"][1]
    assert found["broken"][1].startswith("broken/session.yaml, line 1: key `trials` is missing")
    assert "; broken/session.yaml, line 4: key `trails` is not known" in found["broken"][1]
    assert found["reject"][1] == "squat: file, readable: reject/squat.c3d is damaged"
    assert rows_of(out, "measures") == 6
    quality = pd.read_parquet(out / "quality.parquet")
    assert quality["participant"].tolist() == ["MR-good", "MR-once", "MR-print", "MR-reject"]


def test_a_session_without_end_is_stopped_in_time(places: tuple[Path, Path]) -> None:
    root, out = places
    make_session(root / "a", "MR01", "s", {"squat": "hang"})
    assert run(root, out, "--time-limit-s", "0.5").returncode == 1
    assert statuses(out)["a"] == ("failed", "it took longer than 0.5 s and was stopped, in each of 2 attempts.")


def test_failed_sessions_are_tried_again_only_when_asked(places: tuple[Path, Path]) -> None:
    root, out = places
    make_session(root / "a", "MR01", "s", {"squat": "bug"})
    make_session(root / "b", "MR02", "s", {"squat": "crash"})
    assert "failed (unchanged)" not in run(root, out).stdout
    assert run(root, out).stdout.count("failed (unchanged)") == 2
    assert run(root, out, "--retry-failed").stdout.count("(unchanged)") == 0
    (root / "a" / "squat.c3d").write_text("repaired")
    assert statuses(out)["a"][0] == "failed"
    run(root, out)
    assert {folder: status for folder, (status, _) in statuses(out).items()} == {"a": "done", "b": "failed"}


def kill_and_resume(root: Path, out: Path, moments: list[float]) -> int:
    """Start the archive and kill it after so many seconds, once for each moment; then finish it."""
    killed = 0
    for moment in moments:
        with subprocess.Popen(
            command(root, out, "--jobs", "2"), env=environment(), stdout=subprocess.DEVNULL, start_new_session=True
        ) as process:
            try:
                process.wait(moment)
            except subprocess.TimeoutExpired:
                process.send_signal(signal.SIGKILL)
                killed += 1
    assert run(root, out, "--jobs", "2").returncode == 0
    return killed


def test_killed_at_random_moments_it_ends_with_the_same_tables(places: tuple[Path, Path], tmp_path: Path) -> None:
    root, out = places
    make_archive(root, 10, "slow 0.15")  # longer than the three runs that are killed take together
    run(root, tmp_path / "undisturbed")
    draw = random.Random(1)
    assert kill_and_resume(root, out, [draw.uniform(0.4, 0.9) for _ in range(3)]) >= 2
    assert tables(out) == tables(tmp_path / "undisturbed")
    assert not [path for path in out.rglob("*.part")]


def test_ctrl_c_ends_with_130_and_says_how_to_go_on(places: tuple[Path, Path]) -> None:
    root, out = places
    make_archive(root, 10, "hang")
    first, *others = sorted(root.rglob("squat_*.c3d"))
    first.write_text("x")
    with started(root, out) as process:
        process.stdout.readline()
        process.send_signal(signal.SIGINT)
        _, said = process.communicate(timeout=300)
    assert process.returncode == 130
    assert re.fullmatch(r"Interrupted: 1 of 10 sessions are finished and kept; give the same command again .*\n", said)
    assert not (out / "measures.parquet").exists()
    for other in others:
        other.write_text("y")
    assert "10 sessions: 10 done (1 unchanged)" in run(root, out).stdout


def test_ctrl_c_with_overwrite_names_the_command_that_does_only_the_rest(places: tuple[Path, Path]) -> None:
    root, out = places
    make_archive(root, 6, "x")
    run(root, out)
    _, *others = sorted(root.rglob("squat_*.c3d"))
    for other in others:
        other.write_text("hang")
    with started(root, out, "--overwrite") as process:
        process.stdout.readline()
        process.send_signal(signal.SIGINT)
        _, said = process.communicate(timeout=300)
    assert process.returncode == 130
    assert "1 of 6 sessions are finished and kept; give the same command without --overwrite to go on" in said
    for other in others:
        other.write_text("x")  # as they were when the first run did them
    assert "6 sessions: 6 done (1 unchanged)" in run(root, out).stdout, "the rest was to be done again"


needs_proc = pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="processes are looked up in /proc (Linux)")


@needs_proc
def test_workers_end_with_the_process_that_started_them(places: tuple[Path, Path]) -> None:
    root, out = places
    make_session(root / "a", "MR01", "s", {"squat": "hang"})
    with subprocess.Popen(command(root, out), env=environment(), stdout=subprocess.DEVNULL) as process:
        while not (out / "sessions" / "a" / "record.json").exists():
            time.sleep(0.02)
        workers = children(process.pid)
        process.send_signal(signal.SIGKILL)
    assert len(workers) == 1
    deadline = time.monotonic() + 120
    while runs(workers[0]) and time.monotonic() < deadline:
        time.sleep(0.02)
    assert not runs(workers[0])


def test_a_full_disk_stops_the_run_with_a_sentence_and_fails_nobody(places: tuple[Path, Path]) -> None:
    root, out = places
    make_session(root / "a", "MR01", "s", {"squat": "x"})
    make_session(root / "b", "MR02", "s", {"squat": "full"})
    make_session(root / "c", "MR03", "s", {"squat": "x"})
    result = run(root, out)
    assert result.returncode == 1
    assert "no space left on device. 1 of 3 sessions are finished and kept; give the same command" in result.stderr
    assert "Traceback" not in result.stderr
    (root / "b" / "squat.c3d").write_text("x")
    assert "3 done" in run(root, out).stdout


def test_a_second_session_of_the_same_name_stays_out_and_is_said(places: tuple[Path, Path]) -> None:
    root, out = places
    for folder in ("a", "b"):
        make_session(root / folder, "MR01", "2026-11-03", {"squat": folder})
    make_session(root / "c", "MR01", "2027-11-03", {"squat": "x"})
    planned = run(root, out, "--dry-run")
    assert planned.returncode == 1
    assert "a: new\nb: doubled: the same participant and session as a; give one" in planned.stdout
    assert planned.stdout.endswith("3 sessions: 2 new, 1 doubled\n")
    for how in (r"\d+\.\d s", "unchanged"):
        result = run(root, out)
        assert result.returncode == 1
        assert re.search(rf"\[2/3\] b failed \({how}\): the same participant and session as a; give", result.stdout)
        found = statuses(out)
        assert [status for status, _ in found.values()] == ["done", "failed", "done"]
        assert found["b"][1].startswith("the same participant and session as a;")
        assert rows_of(out, "measures") == 4
    kinds = [json.loads(line).get("kind") for line in (out / "log.jsonl").read_text().splitlines()]
    assert kinds.count("doubled") == 2


def test_a_session_that_came_before_its_namesake_is_corrected_on_the_terminal(places: tuple[Path, Path]) -> None:
    root, out = places
    make_session(root / "a", "MR01", "2026-11-03", {"squat": f"until {out / 'log.jsonl'}"})
    make_session(root / "b", "MR01", "2026-11-03", {"squat": "x"})
    result = run(root, out, "--jobs", "2")
    said = [re.sub(r"\d+\.\d s", "S", line) for line in result.stdout.splitlines()]
    assert said[:2] == ["[1/2] b done (S)", "[2/2] a done (S)"]
    assert said[2].startswith("[2/2] b failed (after all, not done): the same participant and session as a; give one")
    assert said[3].startswith("2 sessions: 1 done, 1 failed (0 unchanged)")
    assert {folder: status for folder, (status, _) in statuses(out).items()} == {"a": "done", "b": "failed"}


def test_what_ended_at_the_same_time_comes_in_order_of_folder() -> None:
    def ended(job: int) -> "Future[int]":
        future: Future[int] = Future()
        future.set_result(job)
        return future

    assert list(_as_they_come(iter(range(30)), ended, 8)) == list(range(30))  # type: ignore[arg-type, comparison-overlap]


def test_the_folder_is_not_shared_with_a_second_run_or_foreign_files(places: tuple[Path, Path]) -> None:
    root, out = places
    make_session(root / "a", "MR01", "s", {"squat": "x"})
    make_session(root / "b", "MR02", "s", {"squat": "hang"})
    out.mkdir()
    (out / "thesis.txt").write_text("mine")
    refused = run(root, out)
    assert refused.returncode == 2
    assert "holds files that are no archive's results" in refused.stderr
    (out / "thesis.txt").unlink()
    with started(root, out) as first:
        first.stdout.readline()
        second = run(root, out)
        assert second.returncode == 2
        assert "another archive run is working in" in second.stderr
        first.send_signal(signal.SIGINT)
        first.communicate(timeout=300)
    assert first.returncode == 130


def test_the_log_names_nobody_and_no_place(places: tuple[Path, Path]) -> None:
    root, out = places
    make_session(root / "Sennrüti", "MR77", "visit-3", {"squat_left": "crash", "squat_right": "x"})
    make_session(root / "Alpstein", "MR78", "visit-4", {"squat_left": "reject"})
    run(root, out)
    text = (out / "log.jsonl").read_text()
    events = [json.loads(line) for line in text.splitlines()]
    assert [event["event"] for event in events] == ["start", "session", "session", "end"]
    assert {(event["row"], event["status"], event["kind"]) for event in events[1:3]} == {
        (1, "rejected", ""),
        (2, "failed", "crash"),
    }
    for secret in ("Senn", "MR7", "visit", "squat", str(root), "/"):
        assert secret not in text


@needs_proc
def test_workers_compute_with_one_thread_each(places: tuple[Path, Path]) -> None:
    from condyle.archive.worker import ENVIRONMENT

    assert {ENVIRONMENT[name] for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS")} == {"1"}
    root, out = places
    make_session(root / "a", "MR01", "s", {"squat": "hang"})
    with subprocess.Popen(command(root, out), env=environment(), stdout=subprocess.DEVNULL) as process:
        while not (out / "sessions" / "a" / "record.json").exists():
            time.sleep(0.02)
        inside = Path(f"/proc/{children(process.pid)[0]}/environ").read_bytes().split(b"\0")
        process.send_signal(signal.SIGKILL)
    assert b"OPENBLAS_NUM_THREADS=1" in inside
    assert b"OMP_NUM_THREADS=1" in inside
