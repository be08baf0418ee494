"""``condyle draft``: write session.yaml and markers.yaml for a folder of C3D files."""

import argparse
from pathlib import Path


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """The command's arguments."""
    parser.add_argument("folder", type=Path, metavar="FOLDER", help="folder of C3D files")
    parser.add_argument("--overwrite", action="store_true", help="replace session.yaml and markers.yaml that are there")


def run(arguments: argparse.Namespace) -> int:
    """Write the draft and say what has to be looked at."""
    from condyle.draft import draft

    done = draft(arguments.folder, overwrite=arguments.overwrite)
    for path in done.written:
        print(f"written: {path}")
    unsure = [g for g in done.mapping.landmarks.values() if g.confidence != "high"]
    print(f"{len(done.mapping.landmarks)} landmarks mapped, {len(unsure)} of them to be looked at:")
    for guess in unsure:
        print(f"  {guess.label} as {guess.name}: {guess.confidence} ({guess.why})")
    for note in (*done.mapping.notes, *(f"not mapped: {n}" for n in done.mapping.unknown), *done.refused):
        print(note)
    print('Fill the blanks ("?") in session.yaml, then: condyle check FOLDER')
    return 0
