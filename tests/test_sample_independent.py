"""The forward model is the truth of the tests: it shares no function with what is tested, or signs would cancel."""

import ast
from pathlib import Path

import condyle

ROOT = Path(condyle.__file__).parent
ALLOWED = {"numpy", "scipy", "ezc3d", "condyle"}
LEAVES = {"condyle.errors", "condyle.files.atomic"}  # all that the model may use of the rest of the package
STANDARD = {"collections", "dataclasses", "datetime", "importlib", "io", "itertools", "json", "math", "os", "pathlib"}
STANDARD |= {"sys", "typing", "zipfile"}


def file_of(module: str) -> Path | None:
    path = ROOT.joinpath(*module.split(".")[1:])
    return next((p for p in (path.with_suffix(".py"), path / "__init__.py") if p.is_file()), None)


def imports_of(path: Path) -> set[str]:
    """Every module imported anywhere in the file, in functions too; names that are modules themselves included."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path.name}: relative import"
            found.add(str(node.module))
            found |= {f"{node.module}.{alias.name}" for alias in node.names if file_of(f"{node.module}.{alias.name}")}
        elif isinstance(node, ast.Call) and getattr(node.func, "id", getattr(node.func, "attr", "")) == "import_module":
            raise AssertionError(f"{path.name} imports by name at run time")
    return found


def reached() -> dict[str, str]:
    """Modules of this package that the model reaches, directly or through others, and from where."""
    waiting = [f"condyle.sample.{p.stem}" for p in (ROOT / "sample").glob("*.py") if p.stem != "__init__"]
    waiting.append("condyle.sample")
    seen = dict.fromkeys(waiting, "the model")
    while waiting:
        module = waiting.pop()
        path = file_of(module)
        assert path is not None, module
        for name in imports_of(path):
            if name.startswith("condyle") and name not in seen and file_of(name):
                seen[name] = module
                waiting.append(name)
    return seen


def test_the_model_reaches_neither_mechanics_nor_stages() -> None:
    outside = {
        name: by for name, by in reached().items() if not name.startswith("condyle.sample") and name != "condyle"
    }
    strange = {n: by for n, by in outside.items() if n not in LEAVES and n != "condyle.files"}
    assert not strange, strange
    assert set(outside) >= LEAVES  # the walk does go on below the model


def test_the_walk_would_notice_mechanics() -> None:
    assert "condyle.mechanics.arrays" in imports_of(ROOT / "mechanics" / "rigid_fit.py")


def test_the_model_imports_only_arrays_optimisation_and_c3d() -> None:
    for path in (ROOT / "sample").glob("*.py"):
        tops = {name.split(".")[0] for name in imports_of(path)}
        assert tops <= ALLOWED | STANDARD, (path.name, tops - ALLOWED - STANDARD)
