"""``python -m condyle.schema``: write JSON Schemas and the tables of docs/configuration.md from the definitions."""

import argparse
import json
import sys
from collections.abc import Sequence
from pathlib import Path

from condyle.errors import CondyleError, UsageError
from condyle.files.atomic import write_text
from condyle.files.checked import Checked
from condyle.files.limits import Limit, limits_files, read_limits
from condyle.files.marker_set import MarkerSet, Tracking
from condyle.files.pipeline_file import Lab, ReadSettings, ReportSettings
from condyle.files.schema import marker_set_schema, pipeline_schema, session_schema
from condyle.files.session_file import (
    Accept,
    Calibration,
    LeaveOut,
    Measured,
    Participant,
    SessionFile,
    Standing,
    TrialEntry,
)
from condyle.files.settings_docs import filled_in, limits_table, settings_table
from condyle.stages import STAGES

PAGE = Path("docs") / "configuration.md"
FOLDER = Path("configs") / "schema"
TABLES: dict[str, type[Checked]] = {
    "session": SessionFile,
    "participant": Participant,
    "measured": Measured,
    "standing": Standing,
    "trial": TrialEntry,
    "leave_out": LeaveOut,
    "calibration": Calibration,
    "accept": Accept,
    "marker_set": MarkerSet,
    "tracking": Tracking,
    "lab": Lab,
    "read": ReadSettings,
    "report": ReportSettings,
    "limit": Limit,
}


def schemas() -> dict[str, str]:
    """File name and text of each JSON Schema."""
    made = {"session": session_schema(), "marker_set": marker_set_schema(), "pipeline": pipeline_schema(STAGES)}
    return {
        f"{name}.schema.json": json.dumps(schema, indent=2, ensure_ascii=False) + "\n" for name, schema in made.items()
    }


def page(text: str) -> str:
    """The docs page with its tables filled in."""
    stages = [f"### `{s.name}`\n\n{_sentence(s.words)}\n\n{settings_table(s.settings)}" for s in STAGES]
    limits = [f"### `configs/{p.name}`\n\n{limits_table(read_limits(p))}" for p in limits_files()]
    tables = {name: settings_table(model) for name, model in TABLES.items()}
    return filled_in(text, {**tables, "stages": "\n".join(stages), "limits": "\n".join(limits)})


def _sentence(words: str) -> str:
    return f"{words[0].upper()}{words[1:]}{'' if words.endswith('?') else '.'}"


def main(argv: Sequence[str] | None = None) -> int:
    """Write both, or with ``--check`` only say which would change; returns the exit status."""
    source_tree = Path(__file__).resolve().parents[2]
    parser = argparse.ArgumentParser(prog="python -m condyle.schema", description=__doc__)
    parser.add_argument(
        "--root", type=Path, default=source_tree, help="project folder (default: where the source stands)"
    )
    parser.add_argument("--check", action="store_true", help="write nothing; exit with 1 when something is out of date")
    arguments = parser.parse_args(argv)
    try:
        stale = [(path, text) for path, text in _wanted(arguments.root) if not _same(path, text)]
        if not arguments.check:
            for path, text in stale:
                path.parent.mkdir(parents=True, exist_ok=True)
                write_text(path, text)
    except CondyleError as error:
        sys.stderr.write(f"{error}\n")
        return error.status
    for path, _ in stale:
        sys.stdout.write(f"{path.relative_to(arguments.root)} {'is out of date' if arguments.check else 'written'}\n")
    return 1 if arguments.check and stale else 0


def _wanted(root: Path) -> list[tuple[Path, str]]:
    if not (root / PAGE).is_file():
        raise UsageError(f"{root / PAGE}: no such file; --root names the project's folder")
    wanted = [(root / FOLDER / name, text) for name, text in schemas().items()]
    return [*wanted, (root / PAGE, page((root / PAGE).read_text(encoding="utf-8")))]


def _same(path: Path, text: str) -> bool:
    return path.is_file() and path.read_text(encoding="utf-8") == text


if __name__ == "__main__":
    sys.exit(main())
