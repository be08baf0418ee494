"""Every command that README.md and docs/ show runs as written: pages' ``sh`` blocks, one page after another."""

import glob
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from condyle.command import main

ROOT = Path(__file__).parents[1]
SET_UP = ("pip install", "python3 -m venv", "-m pytest")  # the two set-up commands: CI runs these by themselves
SLOW = ("python -m tests.",)  # studies: their small versions are tests of their own
PAGES = sorted([ROOT / "README.md", ROOT / "DEVELOPERS.md", *(ROOT / "docs").rglob("*.md")])


def commands_of(page: Path) -> list[str]:
    blocks = re.findall(r"^```sh\n(.*?)^```", page.read_text(encoding="utf-8"), flags=re.M | re.S)
    lines = [line.strip() for block in blocks for line in block.replace("\\\n", " ").splitlines()]
    return [line for line in lines if line and not line.startswith("#")]


WITH_COMMANDS = [page for page in PAGES if any(not any(w in c for w in (*SET_UP, *SLOW)) for c in commands_of(page))]


def test_readme_opens_with_exactly_two_set_up_commands() -> None:
    commands = commands_of(ROOT / "README.md")
    assert [any(w in c for w in SET_UP) for c in commands][:3] == [True, True, False]
    assert sum(any(w in c for w in SET_UP) for c in commands) == 2
    ci = (ROOT / ".ci" / "run").read_text()
    assert "readme_command 1" in ci
    assert "readme_command 2" in ci


def status_here(line: str) -> int:
    """Exit status of a condyle command run in this process: the import of libraries takes a second each time otherwise."""
    words = [sorted(glob.glob(word)) or [word] for word in shlex.split(line, comments=True)[1:]]
    return main([word for several in words for word in several])


@pytest.mark.parametrize("page", WITH_COMMANDS, ids=lambda p: p.relative_to(ROOT).as_posix())
def test_commands_of_the_page_run(
    page: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    shutil.copytree(ROOT / "sample_trials", tmp_path / "sample_trials", ignore=shutil.ignore_patterns("results"))
    shutil.copytree(ROOT / "configs", tmp_path / "configs")
    bin_folder = Path(sys.executable).parent
    env = {"PATH": f"{bin_folder}:/usr/bin:/bin", "HOME": str(tmp_path), "OMP_NUM_THREADS": "1"}
    for command in commands_of(page):
        if any(w in command for w in (*SET_UP, *SLOW)):
            continue
        line = command.replace(".venv/bin/", "")
        allowed = (0, 1) if "# exit 1" in command else (0,)
        if page.name != "README.md" and line.startswith("condyle ") and not set(line) & set("|&;$<>`"):
            status, said = status_here(line), capsys.readouterr().err
            assert status in allowed, f"{command}\n{said}"
            continue
        done = subprocess.run(["bash", "-c", line], cwd=tmp_path, env=env, capture_output=True, text=True, timeout=300)
        assert done.returncode in allowed, f"{command}\n{done.stderr}"
        assert "Traceback" not in done.stderr
