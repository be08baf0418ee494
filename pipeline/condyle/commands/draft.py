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
    clusters = [g for group in done.mapping.clusters.values() for g in group]
    unsure = [g for g in (*done.mapping.landmarks.values(), *clusters) if g.confidence != "high"]
    files = [f for f in done.files if f.confidence != "high"]
    count = len(unsure) + len(files)
    mapped = f"{len(done.mapping.landmarks)} landmarks mapped, {len(done.files)} files told apart"
    first = "1 line is to be looked at first:" if count == 1 else f"{count} lines are to be looked at first:"
    print(f"{mapped}; {first if count else 'all with high confidence.'}")
    for guess in unsure:
        print(f"  {guess.label} as {guess.name}: {guess.confidence} ({guess.why})")
    for file in files:
        print(f"  {file.path.name} as {file.content}, side {file.side}: {file.confidence}")
    for note in (*done.mapping.notes, *(f"not mapped: {n}" for n in done.mapping.unknown), *done.refused):
        print(note)
    print('Fill the blanks ("?") in session.yaml, then: condyle check FOLDER')
    return 0
