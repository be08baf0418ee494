"""Do the numeric tests notice a flipped sign? ``python -m tests.mutation [MODULE ...]`` breaks mechanics on purpose.

One operator, sign or comparison at a time is changed in a module's syntax tree, in memory only, and the tests of that
module run against it in a process of their own. A mutant that no test notices survives and is printed. Exit status 1 if
one survives that is not listed as harmless in ``HARMLESS``.

    python -m tests.mutation                      every module of the mechanics (minutes)
    python -m tests.mutation rotations gaps       these
    python -m tests.mutation --small              the handful that the test suite runs
"""

import argparse
import ast
import gc
import importlib
import importlib.util
import os
import re
import signal
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import ezc3d  # noqa: F401  what the tests import is imported once, before the processes part
import numpy  # noqa: F401
import pytest
import pytransform3d.rotations  # noqa: F401
import scipy.interpolate
import scipy.optimize
import scipy.signal
import scipy.spatial.transform
import scipy.stats  # noqa: F401

TESTS = Path(__file__).parent
MECHANICS = TESTS.parent / "pipeline" / "condyle" / "mechanics"
GENERAL = {"test_docstring_grammar", "test_batch_equals_loop", "test_imports_downward", "test_mutation"}
LONGEST_S = 30
UNNEEDED = ("cacheprovider", "unraisableexception", "threadexception", "doctest", "junitxml", "faulthandler")

OPERATORS = {ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult}
COMPARISONS = {ast.Lt: ast.GtE, ast.LtE: ast.Gt, ast.Gt: ast.LtE, ast.GtE: ast.Lt, ast.Eq: ast.NotEq}
FUNCTIONS = {"sin": "cos", "cos": "sin"}

SMALL = (  # module, function, what is changed: one that must be noticed in each
    ("rotations", "zxy_matrix", "drop -"),
    ("rotations", "yxz_matrix", "+ to -"),
    ("joint_angles", "cardan_zxy", "drop -"),
    ("joint_angles", "cardan_yxz", "drop -"),
    ("joint_centres", "hip_harrington_2007", "drop -"),
    ("segment_frames", "shank_frame", "- to +"),
    ("butterworth", "design_frequency", "/ to *"),
    ("crosstalk", "crosstalk_angle", "drop -"),
    ("rigid_fit", "rigid_fit", "- to +"),
)
ONE = "a factor of +-1 divides as it multiplies"
ROUNDING = "how near to rounding a limit lies"
ROUNDS = "more rounds than needed, to the same rotation"
HARMLESS = {  # module, change, part of the line -> why nothing can notice
    ("rotations", "* to /", "known = s[..., 1] + sign"): ONE,
    ("joint_angles", "* to /", "_signs("): ONE,
    ("joint_angles", "* to /", "_known(side)"): ONE,
    ("functional", "* to /", "free = free *"): ONE,
    ("heading", "* to /", "direction = up_from_file"): ONE,
    ("symmetry", "* to /", "* _MIRROR"): ONE,
    ("joint_centres", "* to /", "known ="): ROUNDING,
    ("segment_frames", "* to /", "parallel ="): ROUNDING,
    ("rigid_fit", "- to +", "scaled ="): ROUNDS,
    ("rigid_fit", "> to <=", "scaled ="): ROUNDS,
    ("rigid_fit", "+ to -", "near ="): ROUNDS,
    ("rigid_fit", "> to <=", "if n > _TABLED"): "sorted or found in a table, the patterns are the same",
    ("replacement", "< to >=", "if abs(scale - last)"): "more rounds than needed, to the same spread",
    ("replacement", "- to +", "if abs(scale - last)"): "more rounds than needed, to the same spread",
    ("residual_analysis", "+ to -", "points"): "one grid point of half a range",
}


@dataclass(frozen=True)
class Mutant:
    """A module with one change in it."""

    module: str
    function: str
    line: int
    source: str
    change: str
    place: int

    @property
    def tree(self) -> ast.Module:
        """The module's syntax tree with the change made."""
        tree = parsed(self.module)
        _, parent, field, index = next(p for k, p in enumerate(places(tree)) if k == self.place)
        value = getattr(parent, field)
        old = value if index is None else value[index]
        new = ast.copy_location(next(new for said, new in changes(old) if said == self.change), old)
        if index is None:
            setattr(parent, field, new)
        else:
            value[index] = new
        return ast.fix_missing_locations(tree)

    @property
    def harmless(self) -> str:
        """Why nothing can notice it; empty where something should."""
        mine = [
            (part, why)
            for (module, change, part), why in HARMLESS.items()
            if (module, change) == (self.module, self.change)
        ]
        return next((why for part, why in mine if part in self.source), "")


def changes(node: ast.AST) -> Iterator[tuple[str, ast.AST]]:
    """What a node may be changed into."""
    if isinstance(node, ast.BinOp) and type(node.op) in OPERATORS:
        new = OPERATORS[type(node.op)]()
        yield f"{sign(node.op)} to {sign(new)}", ast.BinOp(node.left, new, node.right)
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
        yield "drop -", node.operand
    elif isinstance(node, ast.Compare) and len(node.ops) == 1 and type(node.ops[0]) in COMPARISONS:
        new = COMPARISONS[type(node.ops[0])]()
        yield f"{sign(node.ops[0])} to {sign(new)}", ast.Compare(node.left, [new], node.comparators)
    elif isinstance(node, ast.Attribute) and node.attr in FUNCTIONS:
        yield f"{node.attr} to {FUNCTIONS[node.attr]}", ast.Attribute(node.value, FUNCTIONS[node.attr], node.ctx)


def sign(operator: ast.AST) -> str:
    named = {
        ast.Add: "+",
        ast.Sub: "-",
        ast.Mult: "*",
        ast.Div: "/",
        ast.Lt: "<",
        ast.LtE: "<=",
        ast.Gt: ">",
        ast.GtE: ">=",
    }
    return named.get(type(operator), type(operator).__name__)


def places(tree: ast.AST, function: str = "") -> Iterator[tuple[str, ast.AST, str, int | None]]:
    """Every child that may hold arithmetic: its function, parent, field and index; shapes, axes and messages do not."""
    for field, value in ast.iter_fields(tree):
        if isinstance(tree, (ast.Raise, ast.AnnAssign)) and field in {"exc", "annotation"}:
            continue
        if isinstance(tree, ast.keyword) and tree.arg in {"axis", "keepdims", "dtype"}:
            continue
        if field in {"returns", "slice", "decorator_list"} or isinstance(tree, ast.arg):
            continue
        for index, child in enumerate(value) if isinstance(value, list) else [(None, value)]:
            if isinstance(child, ast.AST) and not is_axis(tree, index, child):
                inside = child.name if isinstance(child, ast.FunctionDef) and not function else function
                yield inside, tree, field, index
                yield from places(child, inside)


def is_axis(parent: ast.AST, index: int | None, child: ast.AST) -> bool:
    """A negative whole number in a call or tuple counts dimensions: reshape(-1), moveaxis(x, -1, 0), (-2, -1)."""
    negative = isinstance(child, ast.UnaryOp) and isinstance(child.operand, ast.Constant)
    return negative and isinstance(child.operand.value, int) and isinstance(parent, (ast.Call, ast.Tuple))


def mutants(module: str) -> list[Mutant]:
    """All mutants of a module."""
    lines, found = (MECHANICS / f"{module}.py").read_text(encoding="utf-8").splitlines(), []
    for place, (function, parent, field, index) in enumerate(places(parsed(module))):
        value = getattr(parent, field)
        node = value if index is None else value[index]
        for change, _ in changes(node):
            found.append(Mutant(module, function, node.lineno, lines[node.lineno - 1].strip(), change, place))
    return found


def parsed(module: str) -> ast.Module:
    return ast.parse((MECHANICS / f"{module}.py").read_text(encoding="utf-8"))


def tests_of(module: str) -> list[str]:
    """The test file named after the module, else all that import it."""
    own = TESTS / f"test_{module}.py"
    if own.exists():
        return [str(own)]
    said = re.compile(rf"condyle\.mechanics\.{module}\b|from condyle\.mechanics import [^\n]*\b{module}\b")
    files = [p for p in sorted(TESTS.rglob("test_*.py")) if p.stem not in GENERAL]
    return [str(p) for p in files if said.search(p.read_text(encoding="utf-8"))]


def survives(tree: ast.Module, module: str, files: list[str]) -> bool:
    """Whether the tests pass with the changed module, in a process that ends with them."""
    child = os.fork()
    if child == 0:
        silent = os.open(os.devnull, os.O_WRONLY)
        os.dup2(silent, 1)
        os.dup2(silent, 2)
        status = 1
        try:
            install(tree, f"condyle.mechanics.{module}")
            status = int(pytest.main([*files, "-x", "-q", "--tb=no", *(f"-pno:{p}" for p in UNNEEDED)]))
        finally:
            os._exit(0 if status == 0 else 1)
    deadline = time.monotonic() + LONGEST_S
    while time.monotonic() < deadline:
        ended, status = os.waitpid(child, os.WNOHANG)
        if ended:
            return os.waitstatus_to_exitcode(status) == 0
        time.sleep(0.005)
    os.kill(child, signal.SIGKILL)  # a loop that no longer ends is noticed too
    os.waitpid(child, 0)
    return False


def install(tree: ast.Module, name: str) -> None:
    """Put the changed module where an import will find it."""
    spec = importlib.util.find_spec(name)
    assert spec is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    exec(compile(tree, str(spec.origin), "exec"), module.__dict__)
    setattr(importlib.import_module("condyle.mechanics"), name.rsplit(".", 1)[1], module)


def small() -> list[Mutant]:
    """The first mutant of each entry of SMALL."""
    return [
        next(m for m in mutants(module) if (m.function, m.change) == (function, change))
        for module, function, change in SMALL
    ]


def run(chosen: list[Mutant]) -> list[Mutant]:
    """Try each mutant; says which survived."""
    os.environ["PYTEST_DISABLE_PLUGIN_AUTOLOAD"] = "1"
    gc.freeze()
    survivors: list[Mutant] = []
    for module in dict.fromkeys(m.module for m in chosen):
        files, mine = tests_of(module), [m for m in chosen if m.module == module]
        if not files:
            print(f"{module}: no test imports it", flush=True)
            survivors += mine
            continue
        if not survives(parsed(module), module, files):
            raise SystemExit(f"{module}: its tests fail without any change; mend that first")
        alive = [m for m in mine if survives(m.tree, module, files)]
        print(f"{module}: {len(mine) - len(alive)} of {len(mine)} mutants noticed", flush=True)
        for m in alive:
            why = f"  harmless: {m.harmless}" if m.harmless else ""
            print(f"    {module}.py:{m.line}: {m.source}  [{m.change}]{why}", flush=True)
        survivors += [m for m in alive if not m.harmless]
    return survivors


def main() -> int:
    """Break, test, report."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__.splitlines()[0])
    parser.add_argument("module", nargs="*", help="modules of the mechanics; default: all")
    parser.add_argument("--small", action="store_true", help="only the handful that the test suite runs")
    wanted = parser.parse_args()
    every = sorted(p.stem for p in MECHANICS.glob("*.py") if p.stem != "__init__")
    if unknown := sorted(set(wanted.module) - set(every)):
        parser.error(f"no such module: {', '.join(unknown)}; there are {', '.join(every)}")
    chosen = small() if wanted.small else [m for module in wanted.module or every for m in mutants(module)]
    survivors = run(chosen)
    print(f"{len(chosen)} mutants, {len(survivors)} survived")
    return 1 if survivors else 0


if __name__ == "__main__":
    sys.exit(main())
