"""Files named in a configuration: globs, and the file that was probably meant."""

import glob
from pathlib import Path

from condyle.files.suggestion import nearest
from condyle.files.yaml_text import shown

RESULTS = "results"  # what an earlier run wrote is no input
_MARKS = frozenset("*?[")


def is_glob(name: str, folder: Path) -> bool:
    """A star, question mark or bracket makes a glob, unless a file is really called so."""
    return bool(_MARKS & set(name)) and not (folder / name).exists()


def matching(pattern: str, folder: Path) -> list[str]:
    """The names that a glob matches, sorted; letters in either case, so that ``*.c3d`` finds SQUAT.C3D."""
    names = glob.glob(_any_case(pattern), root_dir=folder, recursive=True)
    return sorted(name for name in names if RESULTS not in Path(name).parts[:-1])


def beside(file: Path) -> str:
    """The file of the same kind in the same folder that was probably meant, as the end of a sentence."""
    if not file.parent.is_dir():
        return f", nor is its folder {shown(file.parent)}"
    kind = file.suffix.casefold()
    stems = {p.stem: p.name for p in sorted(file.parent.iterdir()) if p.suffix.casefold() == kind}
    near = nearest(file.stem, stems)
    return f"; nearest name there: `{stems[near]}`" if near else ""


def _any_case(pattern: str) -> str:
    out: list[str] = []
    bracket = False
    for c in pattern:
        bracket = c == "[" or (bracket and c != "]")
        out.append(f"[{c.lower()}{c.upper()}]" if c.isascii() and c.isalpha() and not bracket else c)
    return "".join(out)
