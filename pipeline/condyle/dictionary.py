"""``python -m condyle.dictionary``: write the output dictionary and the landmark tables of the docs from the code."""

import argparse
import sys
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from condyle import account_words as meanings
from condyle import column_words as words
from condyle.body_names import ANGLE_WORDS, JOINT_ANGLES
from condyle.compared_words import REPEATABILITY
from condyle.curve_table import DIRECTIONS, PATHS
from condyle.errors import CondyleError, UsageError
from condyle.files.atomic import write_text
from condyle.files.marker_set import MarkerSet, load_marker_set
from condyle.files.settings_docs import filled_in
from condyle.files.shipped import shipped
from condyle.landmark_tables import landmark_tables
from condyle.marker_plan import plan_markers
from condyle.measure_dictionary import ANGLE_SUFFIXES, MEASURES, POINT_SUFFIXES, POINT_WORDS, POINTS, Measure
from condyle.stages.accounts import ACCOUNT_UNITS, ACCOUNTS, COURSES, SOURCES_ABOVE, SOURCES_BELOW
from condyle.vocabulary import COORDINATES, VARIABLES, Entry

PAGE = Path("docs") / "output_dictionary.md"
LANDMARK_PAGE = Path("docs") / "landmarks_to_measures.md"
MARKER_SETS = ("clusters_full_body", "landmarks_lower_body")


def page(text: str) -> str:
    """The output dictionary with its tables filled in."""
    tables = {name: _columns(about, columns) for name, (about, columns) in words.TABLES.items()}
    tables |= {f"check {name}": _columns(about, columns) for name, (about, columns) in REPEATABILITY.items()}
    return filled_in(
        text,
        {
            **tables,
            "sessions": _columns("A row per session folder of an archive.", words.SESSIONS),
            "paths": _paths(),
            "accounts": _accounts(),
            "sources": _rows(("source", "what it is"), ((f"`{k}`", v) for k, v in meanings.SOURCES.items())),
            "causes": _rows(("`cause`", "means"), ((f"`{k}`", v) for k, v in meanings.CAUSES.items())),
            "from below": _rows(("`from_below`", "means"), ((f"`{k}`", v) for k, v in meanings.CAUSES_BELOW.items())),
            "angles": _rows(("angle", "what it is"), ((f"`{k}`", ANGLE_WORDS[k]) for k in JOINT_ANGLES)),
            "all measures": measures_text(),
            "variables": _entries(VARIABLES),
            "coordinates": _entries(COORDINATES),
            "manifest": _rows(("key", "what it is"), ((f"`{k}`", v) for k, v in meanings.MANIFEST.items())),
        },
    )


def measures_text() -> str:
    """Every measure: those of an angle or a point under its own heading, the others under theirs."""
    groups: dict[str, list[Measure]] = {}
    grouped = {f"{a}_{s}": f"Measures of `{a}`" for a in JOINT_ANGLES for s in ANGLE_SUFFIXES}
    grouped |= {f"{p}_{s}": f"Path of `{p}` ({POINT_WORDS[p]})" for p in POINTS for s in POINT_SUFFIXES}
    for name, measure in MEASURES.items():
        groups.setdefault(grouped.get(name, "Leg, foot, balance, views"), []).append(measure)
    parts = []
    for heading, measures in groups.items():
        rows = ((f"`{m.name}`", m.unit, m.positive, m.definition, m.source) for m in measures)
        parts.append(f"#### {heading}\n\n{_rows(('measure', 'unit', 'positive is', 'definition', 'source'), rows)}")
    return "\n".join(parts)


def landmark_page(text: str, tables: Mapping[str, str]) -> str:
    """The landmark page with a table per shipped marker set filled in."""
    return filled_in(text, tables)


def shipped_set(name: str) -> MarkerSet:
    """A shipped marker set by its name."""
    return load_marker_set(shipped("marker_set")[name])


def main(argv: Sequence[str] | None = None) -> int:
    """Write both pages, or with ``--check`` only say which would change; returns the exit status."""
    source_tree = Path(__file__).resolve().parents[2]
    parser = argparse.ArgumentParser(prog="python -m condyle.dictionary", description=__doc__)
    parser.add_argument(
        "--root", type=Path, default=source_tree, help="project folder (default: where the source stands)"
    )
    parser.add_argument("--check", action="store_true", help="write nothing; exit with 1 when something is out of date")
    parser.add_argument("--quick", action="store_true", help="only the output dictionary, not the landmark tables")
    arguments = parser.parse_args(argv)
    try:
        stale = [path for path, made in _wanted(arguments.root, arguments.quick) if _stale(path, made, arguments.check)]
    except CondyleError as error:
        sys.stderr.write(f"{error}\n")
        return error.status
    for path in stale:
        sys.stdout.write(f"{path.relative_to(arguments.root)} {'is out of date' if arguments.check else 'written'}\n")
    return 1 if arguments.check and stale else 0


def _wanted(root: Path, quick: bool) -> list[tuple[Path, str]]:
    for path in (PAGE, LANDMARK_PAGE):
        if not (root / path).is_file():
            raise UsageError(f"{root / path}: no such file; --root names the project's folder")
    out = [(root / PAGE, page((root / PAGE).read_text(encoding="utf-8")))]
    if not quick:
        tables = {}
        for name in MARKER_SETS:
            markers = shipped_set(name)
            tables[name] = landmark_tables(markers, plan_markers(markers))
        out.append((root / LANDMARK_PAGE, landmark_page((root / LANDMARK_PAGE).read_text(encoding="utf-8"), tables)))
    return out


def _stale(path: Path, made: str, check: bool) -> bool:
    if path.read_text(encoding="utf-8") == made:
        return False
    if not check:
        write_text(path, made)
    return True


def _rows(heading: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    lines = [f"| {' | '.join(heading)} |", f"|{'---|' * len(heading)}"]
    lines += [f"| {' | '.join(cell.replace('|', chr(92) + '|') for cell in row)} |" for row in rows]
    return "\n".join(lines) + "\n"


def _columns(about: str, columns: Mapping[str, words.Column]) -> str:
    rows = ((f"`{name}`", column.unit, column.words) for name, column in columns.items())
    return f"{about}\n\n{_rows(('column', 'unit', 'what it is'), rows)}"


def _paths() -> str:
    said = {"hip": "hip centre, carried by the pelvis", **POINT_WORDS}
    rows = ((f"`{p}`", ", ".join(f"`{p}_{d}_mm`" for d in DIRECTIONS), said[p]) for p in PATHS)
    return _rows(("point", "columns of `curves.csv`", "what it is"), rows)


def _accounts() -> str:
    rows = []
    for name, unit in zip(ACCOUNTS, ACCOUNT_UNITS, strict=True):
        sources = SOURCES_BELOW if name.endswith("_from_below") else SOURCES_ABOVE
        course = f"`{name}_by_SOURCE`" if name in COURSES else ""
        rows.append((f"`{name}`", unit, _account_words(name), ", ".join(f"`{s}`" for s in sources), course))
    return _rows(("account", "unit", "what is explained", "sources", "columns of `curves.csv`"), rows)


_MEASURE_WORDS = {
    "fppa": "frontal-plane projection angle, participant's frontal plane",
    "knee_relative_to_hip": "how far the knee centre lies medial of the hip centre",
    "thigh_axial_rotation": "thigh axial rotation in the participant frame",
    "shank_tilt": "tilt of the shank in the frontal plane, knee medial of the ankle",
}


def _account_words(name: str) -> str:
    bare = name.removesuffix("_from_standing").removesuffix("_at_60_knee_flexion").removesuffix("_from_below")
    where = "at 60 degrees of knee flexion on the way down" if name.endswith("_at_60_knee_flexion") else "at the bottom"
    less = "the factors held as in the standing trial" if name.endswith("_from_standing") else "less the start"
    return f"{_MEASURE_WORDS[bare]}: {where}, {less}"


def _entries(entries: Mapping[str, Entry]) -> str:
    rows = ((f"`{name}`", f"({', '.join(e.dims)})", e.unit, e.words) for name, e in entries.items())
    return _rows(("name", "dimensions", "unit", "what it is"), rows)


if __name__ == "__main__":
    sys.exit(main())
