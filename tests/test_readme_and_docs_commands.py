"""Every command that README.md and docs/ show runs as written: pages' ``sh`` blocks, one page after another."""

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

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


@pytest.mark.parametrize("page", WITH_COMMANDS, ids=lambda p: p.relative_to(ROOT).as_posix())
def test_commands_of_the_page_run(page: Path, tmp_path: Path) -> None:
    shutil.copytree(ROOT / "sample_trials", tmp_path / "sample_trials", ignore=shutil.ignore_patterns("results"))
    shutil.copytree(ROOT / "configs", tmp_path / "configs")
    bin_folder = Path(sys.executable).parent
    env = {"PATH": f"{bin_folder}:/usr/bin:/bin", "HOME": str(tmp_path), "OMP_NUM_THREADS": "1"}
    for command in commands_of(page):
        if any(w in command for w in (*SET_UP, *SLOW)):
            continue
        line = command.replace(".venv/bin/", "")
        done = subprocess.run(["bash", "-c", line], cwd=tmp_path, env=env, capture_output=True, text=True, timeout=300)
        assert done.returncode in (0, 1) if "# exit 1" in command else done.returncode == 0, f"{command}\n{done.stderr}"
        assert "Traceback" not in done.stderr
