"""``condyle draft``: write session.yaml and markers.yaml for a folder of C3D files."""

import argparse
from pathlib import Path


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's arguments."""
    parser.add_argument("folder", type=Path, metavar="FOLDER", help="folder of C3D files")
    parser.add_argument("--overwrite", action="store_true", help="replace session.yaml and markers.yaml that are there")


def run(arguments: argparse.Namespace) -> int:
    """Write the draft and say what has to be looked at."""
    from condyle.draft import NO_MOVEMENT, NO_STATIC, draft

    done = draft(arguments.folder, overwrite=arguments.overwrite)
    for path in done.written:
        print(f"written: {path}")
    mapped = f"{len(done.mapping.landmarks)} landmarks mapped, {len(done.files)} files told apart"
    count = len(done.unsure)
    first = "1 line is to be looked at first:" if count == 1 else f"{count} lines are to be looked at first:"
    print(f"{mapped}; {first if count else 'all with high confidence.'}")
    for line in done.unsure:
        print(f"  {line.says}: {line.confidence} ({line.why})")
    for line in done.blanks:
        print(f"  {line.says}")
    if not done.has_static:
        print(f"  static: {NO_STATIC}")
    if not done.has_movement:
        print(f"  trials: {NO_MOVEMENT}")
    for note in (*done.mapping.notes, *(f"not mapped: {n}" for n in done.mapping.unknown), *done.refused):
        print(note)
    if not done.has_movement:
        print(f"Then: condyle draft {arguments.folder} --overwrite")
        return 0
    print('Fill the blanks ("?") in session.yaml, then: condyle check FOLDER')
    return 0
