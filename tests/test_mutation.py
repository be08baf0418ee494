"""The numeric tests go red when a sign in the mechanics is flipped: a handful here, all of them by `tests.mutation`."""

import ast
import subprocess
import sys
from pathlib import Path

from tests.mutation import SMALL, changes, mutants, parsed


def test_a_handful_of_flipped_signs_is_noticed():
    here = Path(__file__).parents[1]
    run = subprocess.run(
        [sys.executable, "-m", "tests.mutation", "--small"], cwd=here, capture_output=True, text=True, timeout=600
    )
    assert run.returncode == 0, run.stdout + run.stderr
    assert f"{len(SMALL)} mutants, 0 survived" in run.stdout


def test_a_mutant_differs_from_its_module_in_one_place():
    for mutant in mutants("joint_centres")[:5]:
        changed, original = (ast.unparse(tree).splitlines() for tree in (mutant.tree, parsed("joint_centres")))
        assert len(changed) == len(original)
        assert sum(a != b for a, b in zip(changed, original, strict=True)) == 1


def test_what_counts_dimensions_is_left_alone():

    said = [m.source for m in mutants("rotations")]
    assert not any(line.startswith("seen = ") for line in said)
    assert [change for change, _ in changes(ast.parse("a - b", mode="eval").body)] == ["- to +"]
