"""Imports go downwards only; mechanics knows NumPy and SciPy; the sample shares nothing with mechanics and stages."""

import ast
import sys
from pathlib import Path

import pytest

import condyle

ROOT = Path(condyle.__file__).parent
STOREYS = (  # from the top; a module may import its own storey and those below it
    {"__main__", "command", "commands", "dictionary"},
    {"archive", "study", "repeatability", "draft", "export", "schema"},
    {
        "session",
        "session_checks",
        "session_depths",
        "session_overrides",
        "session_result",
        "running",
        "identity",
        "results",
        "quality_page",
        "result_tables",
        "curve_table",
        "overridden",
        "marker_plan",
        "landmark_tables",
    },
    {"report", "sample"},
    {"stages"},
    {"files"},
    {
        "body_names",
        "vocabulary",
        "trial_data",
        "unit_conversion",
        "measure_dictionary",
        "column_words",
        "compared_words",
        "account_words",
        "findings",
        "errors",
    },
    {"mechanics"},
)
STOREY = {name: depth for depth, names in enumerate(STOREYS) for name in names}


def imported(path: Path) -> set[str]:
    """Every module named in an import anywhere in a file, also inside functions, as a dotted name."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative imports hide the storey"
            found |= {f"{node.module}.{alias.name}" for alias in node.names}
        elif isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id == "condyle":
            found.add(f"condyle.{node.attr}")
    return found


MODULES = {
    ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__"): imported(path)
    for path in sorted(ROOT.rglob("*.py"))
}


def own(dotted: str) -> str | None:
    """The module of this package that a dotted name reaches, or None."""
    parts = dotted.split(".")
    if parts[0] != "condyle" or dotted in {"condyle", "condyle.__version__", "condyle.__file__"}:
        return None
    candidates = [".".join(parts[1:end]) for end in range(len(parts), 1, -1)]
    return next((name for name in candidates if name in MODULES), "__init__")


@pytest.mark.parametrize("module", MODULES)
def test_imports_downward(module):
    if module == "__init__":
        return  # the public API reaches wherever it wants, lazily
    storey = module.split(".")[0]
    assert storey in STOREY, f"{module} stands on no storey: give {storey} a place in STOREYS"
    for name in sorted(filter(None, map(own, MODULES[module]))):
        below = name.split(".")[0]
        assert below != "__init__" or STOREY[storey] == 0, f"{module} imports the public API, which stands above it"
        if below != "__init__":
            assert STOREY[below] >= STOREY[storey], f"{module} imports {name}, which stands above it"


@pytest.mark.parametrize("module", [m for m in MODULES if m.startswith("mechanics")])
def test_mechanics_imports_numpy_scipy_and_itself(module):
    for name in MODULES[module]:
        top = name.split(".")[0]
        assert top in {"numpy", "scipy"} or top in sys.stdlib_module_names or (own(name) or "").startswith("mechanics")
        assert top not in {"logging", "pathlib", "os", "io"}, (
            f"{module} imports {name}: mechanics has no files and no log"
        )


def test_sample_shares_no_function_with_mechanics_or_stages():
    """Its truth would prove nothing if it came from the code that is tested against it."""
    reached, waiting = set(), [module for module in MODULES if module.startswith("sample")]
    assert waiting
    while waiting:
        module = waiting.pop()
        if module not in reached:
            reached.add(module)
            waiting += [name for name in map(own, MODULES[module]) if name and name != "__init__"]
    shared = sorted(name for name in reached if name.split(".")[0] in {"mechanics", "stages"})
    assert not shared, f"the sample reaches {', '.join(shared)}"
