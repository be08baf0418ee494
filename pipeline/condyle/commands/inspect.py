"""``condyle inspect``: what is in a C3D file, and what is wrong with it."""

import argparse
from pathlib import Path


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's arguments."""
    parser.add_argument("file", type=Path, metavar="FILE.c3d", help="C3D file")
    parser.add_argument("--json", action="store_true", help="the same as JSON, for scripts")


def run(arguments: argparse.Namespace) -> int:
    """Print the inspection; 0 where the file can be read, 1 where it is refused."""
    import json
    import sys

    from condyle.files.inspection import inspect, safe

    found = inspect(arguments.file)
    print(json.dumps(found.as_dict(), indent=2, ensure_ascii=False) if arguments.json else found.as_text())
    if found.refused:
        print(safe(f"{found.reason}."), file=sys.stderr)
    return 1 if found.refused else 0
